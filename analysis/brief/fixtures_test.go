package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/food"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// ramp is a stretch of even gradient.
type ramp struct{ lengthM, pct float64 }

// stretch is a part of a course to build.
type stretch struct {
	kind  course.PartKind
	times int
	ramps []ramp
}

// build makes a course of parts by hand, at 10 m, with its ascent the plain sum of
// rises. Positions are not needed here.
func build(name string, shape course.Shape, stretches ...stretch) *course.Course {
	c := &course.Course{Name: name, Shape: shape, S: []float64{0}, Z: []float64{120}, Laps: course.Laps{Source: course.LapsNone}}
	c.AscentTo, c.DescentTo = []float64{0}, []float64{0}
	for _, st := range stretches {
		for n := range st.times {
			part := course.Part{Kind: st.kind, StartM: c.LengthM()}
			if st.kind == course.Lap {
				part.Lap = n + 1
			}
			lay(c, st.ramps)
			part.EndM = c.LengthM()
			part.AscentM, part.DescentM = c.AscentM(part.StartM, part.EndM), c.DescentM(part.StartM, part.EndM)
			c.Parts = append(c.Parts, part)
			if part.Lap == 1 {
				c.Laps = course.Laps{
					Count: st.times, Source: course.LapsDetected, LengthM: part.EndM - part.StartM,
					AscentM: part.AscentM, StartM: part.StartM, Agreement: 1,
				}
			}
		}
	}
	c.Quality = course.Quality{PointsRead: len(c.S), SpacingM: 10, MedianStepM: 10}
	return c
}

// lay appends ramps to a course.
func lay(c *course.Course, ramps []ramp) {
	for _, r := range ramps {
		for range int(math.Round(r.lengthM / 10)) {
			last := len(c.S) - 1
			rise := 10 * r.pct / 100
			c.S = append(c.S, c.S[last]+10)
			c.Z = append(c.Z, c.Z[last]+rise)
			c.AscentTo = append(c.AscentTo, c.AscentTo[last]+max(rise, 0))
			c.DescentTo = append(c.DescentTo, c.DescentTo[last]+max(-rise, 0))
		}
	}
}

// over measures a stretch.
func over(c *course.Course, start, end float64) terrain.Stretch {
	s := terrain.Stretch{StartM: start, EndM: end, MaxGradientPct: math.Inf(-1)}
	s.MeanGradientPct = 100 * (c.ElevationAt(end) - c.ElevationAt(start)) / (end - start)
	for i := c.PieceAt(start); c.S[i] < end; i++ {
		s.MaxGradientPct = max(s.MaxGradientPct, 100*c.Gradient(i))
	}
	return s
}

// climb makes a climb whose sections end at the given distances from its foot.
func climb(c *course.Course, n int, name string, starts []float64, ends ...float64) terrain.Climb {
	length := ends[len(ends)-1]
	k := terrain.Climb{ID: fmt.Sprintf("climb-%d", n), Name: name, Stretch: over(c, starts[0], starts[0]+length)}
	k.BottomM, k.TopM = c.ElevationAt(k.StartM), c.ElevationAt(k.EndM)
	k.GainM = k.TopM - k.BottomM
	k.Difficulty = terrain.Difficulty{H2Index: k.GainM * k.GainM / (10 * length), WorkAgainstGravityJPerKg: 9.80665 * k.GainM}
	from := 0.0
	for _, end := range ends {
		k.Sections = append(k.Sections, over(c, k.StartM+from, k.StartM+end))
		from = end
	}
	for _, s := range starts {
		k.Passes = append(k.Passes, terrain.Pass{Lap: c.LapAt(s), StartM: s, EndM: s + length, ToFinishM: c.LengthM() - s})
		k.EndsAtFinish = c.LengthM()-(s+length) < 50
	}
	return k
}

// mark makes a mark with its passes.
func mark(c *course.Course, n int, name string, kind track.MarkKind, at ...float64) terrain.Mark {
	m := terrain.Mark{ID: fmt.Sprintf("mark-%d", n), Name: name, Kind: kind}
	for _, a := range at {
		p := terrain.MarkPass{Lap: c.LapAt(a), AtM: a, ToFinishM: c.LengthM() - a}
		for _, d := range []float64{1000, 500, 200} {
			if a >= d && c.HasElevation() {
				s := over(c, a-d, a)
				p.Approach = append(p.Approach, terrain.Approach{DistanceM: d, MeanGradientPct: s.MeanGradientPct, MaxGradientPct: s.MaxGradientPct})
			}
		}
		m.Passes = append(m.Passes, p)
	}
	return m
}

// dissected wraps hand-made lists into a terrain.
func dissected(c *course.Course, climbs []terrain.Climb, marks []terrain.Mark) *terrain.Terrain {
	t := &terrain.Terrain{Climbs: climbs, Marks: marks, MaxWindowM: 25}
	t.Climbing.ShareBeforeLastClimb = math.NaN()
	t.Climbing.Rolling.RisesPerKm = math.NaN()
	last := 0.0
	for _, k := range climbs {
		last = max(last, k.Passes[len(k.Passes)-1].StartM)
	}
	total := c.AscentM(0, c.LengthM())
	if len(climbs) > 0 {
		t.Climbing.ShareBeforeLastClimb = c.AscentM(0, last) / total
	}
	for _, p := range c.Parts {
		if total > 0 {
			t.Climbing.ByPart = append(t.Climbing.ByPart, terrain.PartClimbing{Part: p, AscentM: p.AscentM, Share: p.AscentM / total})
		}
	}
	return t
}

// every returns n positions, one lap apart.
func every(first, lap float64, n int) []float64 {
	at := make([]float64, n)
	for i := range at {
		at[i] = first + float64(i)*lap
	}
	return at
}

// fixtures are courses of each kind that a season has.
func fixtures() map[string]Input {
	return map[string]Input{
		"criterium":     criterium(),
		"hilltop":       hilltop(),
		"rolling":       rolling(),
		"time_trial":    timeTrial(),
		"mountains":     mountains(Metric),
		"mountains_imp": mountains(Imperial),
		"hill_climb":    hillClimb(),
		"run_in":        runIn(),
		"indoor_laps":   indoorLaps(),
		"flat_laps":     flatLaps(),
		"uphill_laps":   uphillLaps(),
		"ramp_finish":   rampFinish(),
		"no_elevation":  noElevation(),
		"two_points":    twoPoints(),
		"many_marks":    manyMarks(),
		"two_circuits":  twoCircuits(),
		"hostile":       hostile(),
	}
}

func criterium() Input {
	c := build("Ostermoor Market Rounds", course.Lapped,
		stretch{course.Lap, 25, []ramp{{400, 0.8}, {300, 0}, {400, -0.8}, {100, 0}}})
	t := dissected(c, nil, []terrain.Mark{
		mark(c, 1, "Corn Exchange", track.Sprint, every(600, 1200, 25)...),
		mark(c, 2, "Line", track.Gate, every(1200, 1200, 25)...),
	})
	for i := range t.Marks[0].Passes {
		for j := range t.Marks[0].Passes[i].Approach {
			t.Marks[0].Passes[i].Approach[j].Bends = 1
			t.Marks[0].Passes[i].Approach[j].SharpestRadiusM = 13
		}
	}
	t.Climbing.Rolling = terrain.Rolling{RisesPerKm: 0.8, MeanRiseM: 3.2, LargestRiseM: 3.2}
	for _, at := range every(0, 1200, 25) {
		t.Bends = append(t.Bends, terrain.Bend{AtM: at + 300, RadiusM: 13, TurnDeg: 92}, terrain.Bend{AtM: at + 520, RadiusM: 26, TurnDeg: 88},
			terrain.Bend{AtM: at + 840, RadiusM: 18, TurnDeg: 174}, terrain.Bend{AtM: at + 1050, RadiusM: 41, TurnDeg: -64})
	}
	return Input{Course: c, Terrain: t, Rides: []Ride{{
		Rider: "Ivo", MassKg: 70, TimeS: 2561.4, MeanSpeedMps: 30000 / 2561.4, MeanPowerW: 262.4,
		RunsDryAtM: math.NaN(), StopsAtM: math.NaN(), PartTimesS: every(102.5, 0, 25),
	}}}
}

// hilltop holds three quarters of its ascent before the climb to the line.
func hilltop() Input {
	lap := []ramp{{2000, 0}, {800, 6}, {200, 9}, {2000, -3}, {1500, 4}, {3000, -2}, {2600, 0}}
	c := build("Arvane Hills Round", course.Lapped,
		stretch{course.LeadIn, 1, []ramp{{3000, 0.5}, {1300, 0}}},
		stretch{course.Lap, 4, lap},
		stretch{course.RunOut, 1, []ramp{{1500, 0}, {400, 8}, {150, 3}, {400, 9}, {30, 14}, {170, 9}, {800, 6}}})
	t := dissected(c, []terrain.Climb{
		climb(c, 1, "Quarry Bank", every(6300, 12100, 4), 800, 1000),
		climb(c, 2, "", every(9300, 12100, 4), 1500),
		climb(c, 3, "Beacon Top", []float64{54200}, 400, 550, 1150, 1950),
	}, []terrain.Mark{
		mark(c, 1, "Alder Lane", track.Sprint, every(5300, 12100, 4)...),
		mark(c, 2, "Quarry Bank", track.Summit, every(7300, 12100, 4)...),
		mark(c, 3, "Mill feed", track.Feed, 15400, 27500),
	})
	t.Climbs[2].Steepest = []terrain.Window{{WindowM: 25, GradientPct: 14, StartM: 55190}, {WindowM: 50, GradientPct: 12, StartM: 55180}, {WindowM: 100, GradientPct: 10.5, StartM: 55150}, {WindowM: 200, GradientPct: 9.8, StartM: 55100}, {WindowM: 500, GradientPct: 9.3, StartM: 54750}}
	t.Climbing.Rolling = terrain.Rolling{RisesPerKm: 0.1, MeanRiseM: 15, LargestRiseM: 15, LongestSteady: over(c, 13800, 18300)}
	t.GradientBands = []terrain.Band{{FromPct: 3, ToPct: 6, LengthM: 6000}, {FromPct: 6, ToPct: 10, LengthM: 5850}, {FromPct: 10, ToPct: 15, LengthM: 30}, {FromPct: 15, ToPct: math.Inf(1), LengthM: 0}}
	t.Descents = []terrain.Descent{{
		ID: "descent-1", Stretch: over(c, 7300, 9300), DropM: 60,
		Passes: []terrain.Pass{{Lap: 1}, {Lap: 2}, {Lap: 3}, {Lap: 4}}, SharpestBends: []terrain.Bend{{AtM: 8120, RadiusM: 23.4, TurnDeg: 121}},
	}}
	r := Ride{
		Rider: "Marta Venn", Setup: "light", MassKg: 62, TimeS: 5530.2, MeanSpeedMps: c.LengthM() / 5530.2, MeanPowerW: 231.7, RunsDryAtM: math.NaN(),
		ClimbTimesS: [][]float64{{190, 191, 192, 193}, {240, 240, 241, 242}, {455.5}}, MarkClocksS: [][]float64{{512, 1700, 2890, 4075}, {760, 1950, 3140, 4330}, {1400, 2600}},
		PartTimesS: []float64{420, 1190, 1190, 1190, 1190, 640}, StopsAtM: math.NaN(),
	}
	s := r
	s.Rider, s.Setup, s.TimeS, s.RunsDryAtM = "Joss Pell", "aero", 5321, 54890
	s.MeanSpeedMps, s.MeanPowerW = c.LengthM()/s.TimeS, 301
	r.Food, s.Food = needs(r), needs(s)
	r.Band = doubtful(5391.7, 5694.6, "power_pct")
	return Input{Course: c, Terrain: t, Rides: []Ride{r, s}}
}

// doubtful is a band whose largest share has a source.
func doubtful(lowS, highS float64, source string) *ride.Band {
	return &ride.Band{CoveragePct: 90, LowS: lowS, HighS: highS, Shares: []ride.Share{{Source: "mass_kg", Share: 0.3}, {Source: source, Share: 0.7}}}
}

// needs are what a ride takes at the mean power in weather that isn't known.
func needs(r Ride) *food.Needs {
	n := food.Of(food.Ride{WorkJ: r.MeanPowerW * r.TimeS, TimeS: r.TimeS, GrossEfficiency: 0.22, TemperatureC: math.NaN()})
	return &n
}

func rolling() Input {
	var ramps []ramp
	for range 12 {
		ramps = append(ramps, ramp{700, 1.6}, ramp{600, -1.2}, ramp{400, 1}, ramp{800, -1})
	}
	c := build("", course.Circuit, stretch{course.Whole, 1, ramps})
	t := dissected(c, nil, []terrain.Mark{mark(c, 1, "", track.Sprint, 8200), mark(c, 2, "Old Ferry Sprint", track.Sprint, 21600)})
	t.Climbing.Rolling = terrain.Rolling{RisesPerKm: 0.8, MeanRiseM: 7.6, LargestRiseM: 11.2, LongestSteady: over(c, 0, 700)}
	return Input{Course: c, Terrain: t}
}

func timeTrial() Input {
	c := build("Fen Road Out and Back", course.OutAndBack, stretch{course.Whole, 1, []ramp{{8000, 0.1}, {8000, -0.1}}})
	t := dissected(c, nil, []terrain.Mark{mark(c, 1, "Turn", track.Gate, 8000)})
	t.Climbing.Rolling = terrain.Rolling{}
	t.Climbing.Rolling.LongestSteady = over(c, 0, 16000)
	var rides []Ride
	for i, s := range []float64{1401, 1448, 1399.6, 1452} {
		rides = append(rides, Ride{
			Rider: []string{"Ada", ""}[i/2], Setup: []string{"time-trial", "all-round"}[i%2], MassKg: 81, TimeS: s,
			MeanSpeedMps: c.LengthM() / s, MeanPowerW: 255, RunsDryAtM: math.NaN(), StopsAtM: math.NaN(),
		})
	}
	t.Bends = []terrain.Bend{{AtM: 8000, RadiusM: 9, TurnDeg: 180}, {AtM: 11100, RadiusM: 24, TurnDeg: -70}}
	return Input{Course: headed(c, 8000, 40), Terrain: t, Rides: rides}
}

// headed sets the headings of a course that turns round at a place.
func headed(c *course.Course, turn, deg float64) *course.Course {
	for _, s := range c.S[1:] {
		if s > turn {
			c.Heading = append(c.Heading, deg+180)
		} else {
			c.Heading = append(c.Heading, deg)
		}
	}
	return c
}

func mountains(u Units) Input {
	c := build("Highgarth Stage", course.PointToPoint, stretch{course.Whole, 1, []ramp{
		{12000, 0.2}, {5200, 6.5}, {1000, 9}, {7400, -5}, {9000, 0}, {600, 11}, {2400, 5}, {6000, -3.5}, {14000, 0.4}, {9500, 6.9}, {6500, -6.5}, {4000, 0},
	}})
	t := dissected(c, []terrain.Climb{
		climb(c, 1, "Long Cleave", []float64{12000}, 5200, 6200),
		climb(c, 2, "Stair Wood", []float64{34600}, 600, 3000),
		climb(c, 3, "", []float64{34600}, 600),
		climb(c, 4, "Highgarth Pass", []float64{57600}, 9500),
	}, []terrain.Mark{
		mark(c, 1, "Long Cleave", track.Summit, 18200), mark(c, 2, "Saltry Green", track.Sprint, 30000),
		mark(c, 3, "Highgarth Pass", track.Summit, 67100), mark(c, 4, "Chapel", track.Other, 0),
	})
	t.Climbs[2].ParentID = "climb-2"
	t.Climbs[2].Name = t.Climbs[1].Name
	t.GradientBands = []terrain.Band{{FromPct: 3, ToPct: 6, LengthM: 2400}, {FromPct: 6, ToPct: 10, LengthM: 15700}, {FromPct: 10, ToPct: 15, LengthM: 600}, {FromPct: 15, ToPct: math.Inf(1), LengthM: 0}}
	t.Climbing.Rolling = terrain.Rolling{RisesPerKm: 0.02, MeanRiseM: 4, LargestRiseM: 5, LongestSteady: over(c, 43600, 57600)}
	t.Descents = []terrain.Descent{
		{ID: "descent-1", Stretch: over(c, 18200, 25600), DropM: 370, Passes: []terrain.Pass{{}}, SharpestBends: []terrain.Bend{{AtM: 20110, RadiusM: 14, TurnDeg: 170}}},
		{ID: "descent-2", Stretch: over(c, 37600, 43600), DropM: 210, Passes: []terrain.Pass{{}}},
		{ID: "descent-3", Stretch: over(c, 67100, 73600), DropM: 422.5, Passes: []terrain.Pass{{}}, SharpestBends: []terrain.Bend{{AtM: 70020, RadiusM: 11, TurnDeg: -175}}},
	}
	t.Bends = []terrain.Bend{{AtM: 20110, RadiusM: 14, TurnDeg: 170}, {AtM: 70020, RadiusM: 11, TurnDeg: -175}, {AtM: 71000, RadiusM: 28, TurnDeg: 90}}
	c.Quality.Warnings = []course.Warning{{Code: "elevation-noisy", AtM: math.NaN()}, {Code: "gap", AtM: 26100}, {Code: "gap", AtM: 44000}}
	c.Quality.AscentUnsmoothedM = 1951
	c.Quality.ElevationNoiseM, c.Quality.PointsRead, c.Quality.PointsDropped = 1.24, 4210, 312
	weak := Ride{Rider: "Orla", MassKg: 58, CannotClimb: true, StopsAtM: 34700, TimeS: math.NaN(), MeanPowerW: math.NaN(), MeanSpeedMps: math.NaN(), RunsDryAtM: math.NaN()}
	strong := Ride{
		Rider: "Tam", MassKg: 68, TimeS: 9312, MeanSpeedMps: c.LengthM() / 9312, MeanPowerW: 272, RunsDryAtM: math.NaN(), StopsAtM: math.NaN(),
		ClimbTimesS: [][]float64{{1120}, {560}, {150}, {1890}},
	}
	strong.Food = needs(strong)
	strong.Band = doubtful(8981, math.NaN(), "wind_mps")
	return Input{Course: c, Terrain: t, Units: u, Rides: []Ride{strong, weak}}
}

func hillClimb() Input {
	c := build("Thornby Steep", course.PointToPoint, stretch{course.Whole, 1, []ramp{{300, 7}, {250, 16}, {200, 4}, {450, 11}}})
	t := dissected(c, []terrain.Climb{climb(c, 1, "", []float64{0}, 300, 550, 750, 1200)}, nil)
	t.Climbs[0].Steepest = []terrain.Window{{WindowM: 25, GradientPct: 16, StartM: 300}, {WindowM: 200, GradientPct: 16, StartM: 310}}
	t.Bends = []terrain.Bend{{AtM: 420, RadiusM: 12, TurnDeg: 168}, {AtM: 510, RadiusM: 14, TurnDeg: -171}, {AtM: 900, RadiusM: 20, TurnDeg: 95}}
	return Input{Course: c, Terrain: t}
}

// runIn is level before its one climb.
func runIn() Input {
	c := build("Old Quarry Hill Climb", course.PointToPoint, stretch{course.Whole, 1, []ramp{{600, 0.3}, {900, 6}, {1500, 9}}})
	t := dissected(c, []terrain.Climb{climb(c, 1, "Old Quarry", []float64{600}, 900, 2400)}, []terrain.Mark{mark(c, 1, "Old Quarry", track.Summit, 3000)})
	return Input{Course: c, Terrain: t}
}

// indoorLaps are laps with a climb, ridden in a hall.
func indoorLaps() Input {
	in := hilltop()
	in.Indoor = true
	in.Terrain.Bends = []terrain.Bend{{AtM: 56000, RadiusM: 12, TurnDeg: 90}}
	return in
}

// flatLaps are laps too long for a criterium.
func flatLaps() Input {
	c := build("Lowmere Kermesse", course.Lapped, stretch{course.Lap, 9, []ramp{{4000, 0.3}, {4000, -0.3}}})
	t := dissected(c, nil, []terrain.Mark{mark(c, 1, "Church Sprint", track.Sprint, every(8000, 8000, 9)...), mark(c, 2, "Feed", track.Feed, 20000, 44000)})
	t.Bends = []terrain.Bend{{AtM: 71700, RadiusM: 33, TurnDeg: 88}}
	return Input{Course: c, Terrain: t}
}

// uphillLaps ends every lap on the climb.
func uphillLaps() Input {
	c := build("Kiln Bank Circuit", course.Lapped, stretch{course.Lap, 8, []ramp{{2000, -2.7}, {1000, 0}, {900, 6}}})
	t := dissected(c, []terrain.Climb{climb(c, 1, "Kiln Bank", every(3000, 3900, 8), 900)}, []terrain.Mark{mark(c, 1, "Kiln Bank", track.Summit, every(3900, 3900, 8)...)})
	return Input{Course: c, Terrain: t}
}

// rampFinish ends on a climb that doesn't decide.
func rampFinish() Input {
	c := build("Over the Edge", course.PointToPoint, stretch{course.Whole, 1, []ramp{{5000, 0}, {6000, 7}, {6000, -6}, {4000, 0}, {400, 6}}})
	t := dissected(c, []terrain.Climb{climb(c, 1, "The Edge", []float64{5000}, 6000), climb(c, 2, "", []float64{21000}, 400)}, nil)
	return Input{Course: c, Terrain: t}
}

// bare drops the elevations of a course.
func bare(c *course.Course) *course.Course {
	c.Z, c.AscentTo, c.DescentTo = nil, nil, nil
	for i := range c.Parts {
		c.Parts[i].AscentM, c.Parts[i].DescentM = 0, 0
	}
	c.Laps.AscentM = 0
	c.Quality.Warnings = append(c.Quality.Warnings, course.Warning{Code: "elevation-missing", AtM: math.NaN()})
	return c
}

func noElevation() Input {
	c := bare(build("Harbour Loops", course.Lapped, stretch{course.LeadIn, 1, []ramp{{30, 0}}}, stretch{course.Lap, 3, []ramp{{6400, 0}}}))
	c.Laps.Agreement = 0.84
	return Input{Course: c, Terrain: dissected(c, nil, []terrain.Mark{mark(c, 1, "Quay", track.Sprint, every(2030, 6400, 3)...)})}
}

func twoPoints() Input {
	c := bare(build("", course.PointToPoint, stretch{course.Whole, 1, []ramp{{10, 0}}}))
	return Input{Course: c, Terrain: dissected(c, nil, nil)}
}

func manyMarks() Input {
	c := build("Rounds of Lower Arvane", course.Lapped, stretch{course.Lap, 12, []ramp{{5000, 1}, {400, 6}, {5600, -1.3}}})
	var marks []terrain.Mark
	kinds := []track.MarkKind{track.Sprint, track.Summit, track.Gate, track.Feed, track.Other}
	for i := range 40 {
		marks = append(marks, mark(c, i+1, fmt.Sprintf("Post %c%c", 'A'+i/8, 'a'+i%8), kinds[i%5], every(200+250*float64(i), 11000, 12)...))
	}
	return Input{Course: c, Terrain: dissected(c, []terrain.Climb{climb(c, 1, "Bell Hill", every(5000, 11000, 12), 400)}, marks)}
}

// twoCircuits rides a small circuit before its laps, joins its climb midway and ends
// below the top.
func twoCircuits() Input {
	lap := []ramp{{3000, 0}, {1200, 6}, {2400, -3}, {1500, 1.6}, {500, -4.8}}
	c := build("Twin Towns Grand Prix", course.Lapped,
		stretch{course.LeadIn, 1, []ramp{{600, 6}, {1400, -2}, {1000, 0}, {1400, -0.5}, {1000, 0}, {1400, 0}}},
		stretch{course.Lap, 3, lap},
		stretch{course.RunOut, 1, []ramp{{3000, 0}, {700, 6}}})
	c.OtherCircuits = []course.OtherCircuit{{Count: 2, StartM: 2000, EndM: 6800, LengthM: 2400, AscentM: 0, Agreement: 1}}
	t := dissected(c, []terrain.Climb{
		climb(c, 1, "Tower Hill", []float64{0}, 600),
		climb(c, 2, "Tower Hill", every(9800, 8600, 3), 1200),
	}, nil)
	t.Climbs[0].PartOfID = "climb-2"
	t.Climbs[1].Passes = append(t.Climbs[1].Passes, terrain.Pass{StartM: 35600, EndM: c.LengthM(), ToFinishM: c.LengthM() - 35600, Partial: true})
	t.Climbs[1].EndsAtFinish = true
	for _, at := range every(13400, 8600, 3) {
		t.Climbing.FalseFlats = append(t.Climbing.FalseFlats, terrain.FalseFlat{Stretch: over(c, at, at+1500), GainM: 24})
	}
	t.Climbing.FalseFlats = t.Climbing.FalseFlats[:1]
	return Input{Course: c, Terrain: t}
}

func hostile() Input {
	in := hilltop()
	in.Course.Name = "# [Free](http://evil.example) <script>alert('x')</script> @everyone `rm`\n\n- item &amp; ***bold*** ~~gone~~ | a | b"
	in.Terrain.Marks[0].Name = "<@&123>\r\n## Heading"
	in.Terrain.Climbs[0].Name = "Name\u202Ewith\u200Btricks ![img](x.y)"
	in.Rides[0].Rider = "*_@here_* www.evil.example"
	return in
}
