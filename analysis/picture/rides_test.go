package picture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/wording"
)

// cyclist is a rider of whom some is known; 0 W for a capability that isn't.
func cyclist(name string, massKg, criticalW, wPrimeJ float64) ride.Rider {
	unknown := math.NaN()
	r := ride.Rider{
		Name: name, MassKg: massKg, HeightM: unknown, CdAM2: unknown, CriticalPowerW: unknown, WPrimeJ: unknown,
		MaxPowerW: unknown, RecoveryRate: unknown, GrossEfficiency: unknown,
	}
	if criticalW > 0 {
		r.CriticalPowerW, r.WPrimeJ = criticalW, wPrimeJ
	}
	return r
}

// allRound is a set-up of which nothing is given.
func allRound() ride.Setup {
	unknown := math.NaN()
	return ride.Setup{
		Name: "all-round", MassKg: unknown, CdAM2: unknown, CdAChangeM2: unknown, Crr: unknown, DrivetrainEfficiency: unknown,
		WheelInertiaKgM2: unknown, WheelRadiusM: unknown, WheelDragAreaM2: unknown, BearingN: unknown, BearingNsPerM: unknown,
	}
}

// calm are conditions of which nothing is given.
func calm(indoor bool) ride.Conditions {
	unknown := math.NaN()
	return ride.Conditions{
		TemperatureC: unknown, PressureHPa: unknown, HumidityPct: unknown, AirDensityKgM3: unknown, WindMps: unknown, WindFromDeg: unknown,
		RoughnessM: unknown, HeadwindMps: unknown, Shelter: unknown, LoadKg: unknown, StartSpeedMps: unknown, CoastAboveMps: unknown,
		LateralMps2: unknown, BrakingMps2: unknown, Indoor: indoor,
	}
}

// ridden rides a rider over a stretch of a course at a power.
func ridden(tb testing.TB, c *course.Course, r ride.Rider, powerW, fromM, toM float64, indoor bool) Ride {
	tb.Helper()
	road, err := ride.NewRoad(c.Cut(fromM, toM), calm(indoor), nil)
	if err != nil {
		tb.Fatal(err)
	}
	made, err := ride.Simulate(tb.Context(), road, r, allRound(), ride.Effort{Kind: ride.ByPower, PowerW: powerW}, nil)
	if err != nil {
		tb.Fatal(err)
	}
	out := blankRide(r)
	out.Trace, out.TimeS, out.MeanPowerW = made.Trace, made.TimeS, made.MeanPowerW
	if b := made.Balance; b != nil {
		out.LowJ, out.LowAtM = b.MinJ, b.MinAtM+fromM
	}
	return out
}

// blankRide is a rider's ride of which nothing is known.
func blankRide(r ride.Rider) Ride {
	unknown := math.NaN()
	return Ride{
		Rider: r.Name, Setup: "all-round", TimeS: unknown, MeanPowerW: unknown, LowJ: unknown, LowAtM: unknown, HaltAtM: unknown,
		RunsDryAtM: unknown, CriticalPowerW: r.CriticalPowerW, ConstantPowerW: unknown, ConstantTimeS: unknown, PlanTimeS: unknown,
	}
}

// wholeCourse is the stretch from start to finish.
func wholeCourse(c *course.Course, all ...Ride) Rides { return Rides{ToM: c.LengthM(), All: all} }

// four are riders who differ.
func four() []ride.Rider {
	return []ride.Rider{cyclist("Nour", 61, 245, 15_000), cyclist("Bram", 82, 310, 21_000), cyclist("Isa", 70, 280, 18_000), cyclist("Tilo", 74, 0, 0)}
}

// fourRides are theirs over a whole course, each at a power of their own.
func fourRides(tb testing.TB, c *course.Course) Rides {
	tb.Helper()
	all := Rides{ToM: c.LengthM()}
	for i, r := range four() {
		all.All = append(all.All, ridden(tb, c, r, 225+20*float64(i), 0, c.LengthM(), false))
	}
	return all
}

// lineOf returns the points of a ride's line in a plot.
func lineOf(d *Drawing, inks colour.Palette, ride int, plot box) (line []point) {
	for _, e := range d.elements {
		if e.stroke == nil || e.stroke.ink != inks.Lines[ride] || e.stroke.width != linePx || len(e.stroke.lines) != 1 {
			continue
		}
		if l := e.stroke.lines[0]; l[0].x == plot.x0 && l[0].y >= plot.y0 && l[0].y <= plot.y1 {
			return l
		}
	}
	return nil
}

// panelsOf returns the panels of a picture as they are drawn.
func panelsOf(t *testing.T, in Input) (*Drawing, *ground, []*panel) {
	t.Helper()
	s, err := newSheet(in)
	if err != nil {
		t.Fatal(err)
	}
	g := s.rideGround()
	told, panels := s.newLegend(s.rideEntries()), s.panels(g)
	labels := len(s.climbLabels(g)) + len(s.markLabels(g))
	if err := s.settleHeight(g, told, labels, panels); err != nil {
		t.Fatal(err)
	}
	s.layRides(g, s.headerHeight(1), told, labels, panels)
	return drawn(t, in), g, panels
}

// Each line is where the ride's own numbers put it.
func TestLinesAreTheRides(t *testing.T) {
	c, dissected := season(t, "skarnholt-hill-climb")
	rides := fourRides(t, c)
	d, g, panels := panelsOf(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 1200, Rides: rides})
	for i, r := range rides.All {
		for k, values := range [][]float64{r.Trace.SpeedMps, r.Trace.PowerW, r.Trace.WBalanceJ} {
			if values == nil {
				continue
			}
			per := [...]float64{3.6, 1, 1e-3}[k]
			line := lineOf(d, colour.Light.Palette(), i, panels[k].plot)
			if len(line) < 2 || line[len(line)-1].x != g.plot.x1 {
				t.Fatalf("ride %d has no line from start to finish in panel %d: %v", i, k, line)
			}
			at := 0
			for j, m := range r.Trace.DistanceM {
				x := g.x(m)
				for at < len(line)-2 && line[at+1].x < x {
					at++
				}
				a, b := line[at], line[at+1]
				y := a.y + (b.y-a.y)*min(max((x-a.x)/max(b.x-a.x, 1e-9), 0), 1)
				// Within a column of a step of power, or of the start from rest, it is between both.
				steady := m > 100 && j > 1 && j+2 < len(values) && slices.Max(values[j-2:j+3])-slices.Min(values[j-2:j+3]) < 0.02*values[j]
				if want := panels[k].y(values[j] * per); math.Abs(y-want) > 1 && steady {
					t.Fatalf("ride %d, panel %d: at %.0f m the line is at %.1f, want %.1f", i, k, m, y, want)
				}
			}
		}
	}
}

func TestTextsNeverMeetOnPicturesOfRides(t *testing.T) {
	type ground struct {
		c     *course.Course
		t     *terrain.Terrain
		rides Rides
	}
	var grounds []ground
	for _, name := range []string{"morvask-laps-and-climb", "quellmere-criterium", "skarnholt-hill-climb"} {
		c, dissected := season(t, name)
		grounds = append(grounds, ground{c, dissected, fourRides(t, c)})
	}
	early, dissected := hills(t, 4000, 3, crowd(4000, 40)) // with a place 30 m from the start
	grounds = append(grounds, ground{early, dissected, fourRides(t, early)})
	laps := grounds[0]
	laps.rides = Rides{FromM: 10_500, ToM: 25_600} // 50 m of the first lap, half of another
	for _, r := range four() {
		laps.rides.All = append(laps.rides.All, ridden(t, laps.c, r, 300, laps.rides.FromM, laps.rides.ToM, false))
	}
	grounds = append(grounds, laps)
	rapid.Check(t, func(t *rapid.T) {
		on := rapid.SampledFrom(grounds).Draw(t, "course")
		rides := on.rides
		rides.All = slices.Clone(rides.All[:rapid.IntRange(1, MostRides).Draw(t, "rides")])
		rides.All[0].Rider = rapid.OneOf(rapid.SampledFrom([]string{"Nour", strings.Repeat("Nour of the valley ", 9)}), rapid.StringN(0, 120, -1)).Draw(t, "name")
		if rapid.Bool().Draw(t, "planned") {
			rides.Planned = true
			rides.All[0].ConstantPowerW, rides.All[0].ConstantTimeS, rides.All[0].RunsDryAtM = 251.4, 4000, 1234
		}
		d, err := Draw(Input{
			Course: on.c, Terrain: on.t, Focus: OfRides, Rides: rides,
			WidthPx: rapid.IntRange(LeastWidthPx, MostWidthPx).Draw(t, "width"), HeightPx: rapid.SampledFrom([]int{0, 0, 600, 800, MostHeightPx}).Draw(t, "height"),
			Theme: rapid.SampledFrom(themes()).Draw(t, "theme"), Units: wording.Units{Imperial: rapid.Bool().Draw(t, "imperial")},
		})
		if why, ok := errors.AsType[*Error](err); ok && why.Code == CodeTooLow {
			t.Skip("too low")
		}
		if err != nil {
			t.Fatal(err)
		}
		checkTexts(t, d)
		checkSVG(t, d.SVG())
	})
}

// The legend and the description tell the numbers that package wording makes of the rides.
func TestRidesAreToldInWords(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	nour := ridden(t, c, four()[0], 262, 0, c.LengthM(), false)
	nour.Setup, nour.RunsDryAtM = "light", 9876
	nour.Band = &ride.Band{CoveragePct: 97.5, LowS: 5000, HighS: 6000}
	tilo := ridden(t, c, four()[3], 262, 0, c.LengthM(), false)
	tilo.Own = true
	none := blankRide(four()[2])
	none.Why = "Rider 3 can't\n be planned."
	d := drawn(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 1600, Rides: wholeCourse(c, nour, tilo, none)})
	checkTexts(t, d)
	told := "Nour, light: " + wording.Clock(nour.TimeS) + ", " + wording.Watts(nour.MeanPowerW) + " on average, critical power 245 W; W′ runs dry at 9.9 km"
	texts := checkSVG(t, d.SVG())
	for _, want := range []string{told, "Tilo, all-round, own effort: " + wording.Clock(tilo.TimeS) + ", " + wording.Watts(tilo.MeanPowerW) + " on average", "Isa, all-round: no ride"} {
		if !slices.Contains(texts, want) {
			t.Errorf("%q is not among %q", want, texts)
		}
	}
	lowest := " Balance of W′ lowest at " + wording.Units{}.Length(nour.LowAtM) + " with " + wording.Kilojoules(nour.LowJ) + "."
	for _, want := range []string{told + "." + lowest + " With 97.5 % certainty between 1:23:20 and 1:40:00.", "no ride; Rider 3 can't be planned."} {
		if !strings.Contains(d.Description, want) {
			t.Errorf("%q is not in %q", want, d.Description)
		}
	}
}

// What isn't known leaves nothing behind.
func TestRideWithoutElevationAndCapability(t *testing.T) {
	c, err := course.FromProfile(context.Background(), []float64{0, 5000, 9000}, nil, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	made := ridden(t, c, four()[3], 200, 0, c.LengthM(), true)
	rides := wholeCourse(c, made)
	rides.Indoor = true
	d := drawn(t, Input{Course: c, Terrain: dissect(c), Focus: OfRides, WidthPx: 600, Rides: rides})
	checkTexts(t, d)
	all := strings.Join(checkSVG(t, d.SVG()), "\n") + d.Description
	for _, no := range []string{"W′", "critical", "gradient", "heights", "NaN", "closed roads", "descents"} {
		if strings.Contains(all, no) {
			t.Errorf("%q is in %q", no, all)
		}
	}
}

// A rider who comes to a halt has a line up to there.
func TestRideUpToAHalt(t *testing.T) {
	c, dissected := season(t, "skarnholt-hill-climb")
	made := ridden(t, c, four()[0], 250, 0, c.LengthM(), false)
	n := len(made.Trace.DistanceM) / 2
	cut := blankRide(four()[0])
	cut.HaltAtM = made.Trace.DistanceM[n-1]
	cut.Trace = ride.Trace{DistanceM: made.Trace.DistanceM[:n], TimeS: made.Trace.TimeS[:n], SpeedMps: made.Trace.SpeedMps[:n], PowerW: made.Trace.PowerW[:n]}
	d, g, panels := panelsOf(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 900, Rides: wholeCourse(c, made, cut)})
	line := lineOf(d, colour.Light.Palette(), 1, panels[0].plot)
	if len(line) < 2 || math.Abs(line[len(line)-1].x-g.x(cut.HaltAtM)) > 0.1 {
		t.Errorf("the line ends at %v, the ride at %.1f", line[max(len(line)-1, 0):], g.x(cut.HaltAtM))
	}
	texts := checkSVG(t, d.SVG())
	if !slices.Contains(texts, "Nour: comes to a halt at "+wording.Units{}.Length(cut.HaltAtM)) || count(texts, wording.Clock(made.TimeS)) != 1 {
		t.Errorf("%q", texts)
	}
}

func count(texts []string, want string) (n int) {
	for _, s := range texts {
		if s == want {
			n++
		}
	}
	return n
}

// writtenAt reports whether words stand at a place across.
func writtenAt(d *Drawing, words string, x float64) bool {
	return slices.ContainsFunc(d.elements, func(e element) bool {
		return e.letters != nil && e.letters.words == words && math.Abs(e.letters.at.x-x) < 0.1
	})
}

// The lowest balance of W′ is where its sign is.
func TestLowestBalanceIsPointedOut(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	made := ridden(t, c, four()[0], 262, 0, c.LengthM(), false)
	d, g, panels := panelsOf(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 900, Rides: wholeCourse(c, made)})
	want := point{g.x(made.LowAtM), panels[2].y(made.LowJ / 1000)}
	for _, e := range d.elements {
		if e.area != nil && e.area.ink == colour.Light.Palette().Lines[0] {
			top := e.area.rings[0][0]
			if at := (point{top.x, top.y + lowPx}); fromChord(at, want, want) > 0.2 {
				t.Errorf("the sign is at %v, want %v", at, want)
			}
			return
		}
	}
	t.Error("there is no sign")
}

// Times stand where they are ridden, and the finish and the laps go before the rest.
func TestPassageTimes(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	made := ridden(t, c, four()[0], 250, 0, c.LengthM(), false)
	for _, width := range []int{LeastWidthPx, MostWidthPx} {
		in := Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: width, Rides: wholeCourse(c, made)}
		d, g, _ := panelsOf(t, in)
		for _, part := range c.Parts {
			if part.Kind != course.Lap {
				continue
			}
			if clock := wording.Clock(timeAt(made.Trace, part.EndM)); !writtenAt(d, clock, g.x(part.EndM)) {
				t.Errorf("%d px: the end of lap %d has no %s at %.1f", width, part.Lap, clock, g.x(part.EndM))
			}
		}
		if texts := checkSVG(t, d.SVG()); !slices.Contains(texts, "finish") || width == MostWidthPx && (!slices.Contains(texts, "foot") || !slices.Contains(texts, "top")) {
			t.Errorf("%d px: %q", width, texts)
		}
	}
}

// Where not all laps have room, those that are told follow each other evenly.
func TestLapTimesAreTold(t *testing.T) {
	c, dissected := season(t, "quellmere-criterium")
	rides := fourRides(t, c)
	for _, width := range []int{LeastWidthPx, 700, 1000, MostWidthPx} {
		d := drawn(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: width, Rides: rides})
		var told []int
		for _, e := range d.elements {
			if lap := 0; e.letters != nil && e.letters.ink == colour.Light.Palette().Muted {
				if n, _ := fmt.Sscanf(e.letters.words, "lap %d", &lap); n == 1 {
					told = append(told, lap)
				}
			}
		}
		if len(told) < 4 {
			t.Fatalf("%d px: only laps %v are told", width, told)
		}
		for i, lap := range told {
			if lap != told[0]*(i+1) {
				t.Errorf("%d px: laps %v are told", width, told)
				break
			}
		}
	}
}

// On a stretch the picture shows it alone, at positions along the whole course.
func TestStretchOfACourse(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	const from, to = 12_000, 31_000
	made := ridden(t, c, four()[0], 250, from, to, false)
	rides := Rides{FromM: from, ToM: to, All: []Ride{made}}
	d, g, panels := panelsOf(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 900, Rides: rides})
	checkTexts(t, d)
	p, told := plotOf(t, d.SVG())
	if !told || p.fromM != from || p.toM != to || p.y0 != g.plot.y0 || p.y1 != panels[len(panels)-1].plot.y1 {
		t.Errorf("the plot is %+v", p)
	}
	for _, e := range d.elements {
		if e.area == nil {
			continue
		}
		for _, ring := range e.area.rings {
			for _, at := range ring {
				if at.y > p.y0 && at.y < p.y1 && (at.x < p.x0-2*signPx || at.x > p.x1+2*signPx) && at.x > 1 && at.x < float64(d.WidthPx)-1 {
					t.Fatalf("an area reaches %v beside the plot %+v", at, p)
				}
			}
		}
	}
	lap := c.Parts[slices.IndexFunc(c.Parts, func(p course.Part) bool { return p.Lap == 3 })]
	if at := g.x(lap.EndM); !writtenAt(d, wording.Clock(timeAt(made.Trace, lap.EndM-from)), at) {
		t.Errorf("the end of lap 3 has no time at %.1f", at)
	}
	texts := checkSVG(t, d.SVG())
	for _, want := range []string{"19.0 km, from 12.0 km to 31.0 km · " + wording.Units{}.Height(c.AscentM(from, to)) + " of ascent", "lap 3", "end", "31.0"} {
		if !slices.Contains(texts, want) {
			t.Errorf("%q is not among %q", want, texts)
		}
	}
	if slices.Contains(texts, "finish") || slices.Contains(texts, "lap 5") {
		t.Errorf("what is beyond the stretch is among %q", texts)
	}
}

func TestDrawRefusesRides(t *testing.T) {
	c, dissected := season(t, "skarnholt-hill-climb")
	one := ridden(t, c, four()[0], 250, 0, c.LengthM(), false)
	for _, x := range []struct {
		rides  Rides
		height int
		code   string
	}{
		{wholeCourse(c), 0, CodeTooManyRides},
		{wholeCourse(c, one, one, one, one, one), 0, CodeTooManyRides},
		{wholeCourse(c, one), LeastHeightPx, CodeTooLow},
		{wholeCourse(c, one), LeastHeightPx - 1, CodeSize},
	} {
		_, err := Draw(Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 700, HeightPx: x.height, Rides: x.rides})
		if why, ok := errors.AsType[*Error](err); !ok || why.Code != x.code {
			t.Errorf("%d rides at %d px: %v, want %s", len(x.rides.All), x.height, err, x.code)
		}
	}
}

// A lap of which the stretch has no more than a sliver bears no name over its edges.
func TestSliversOfLapsBearNoName(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	lap := c.Parts[1]
	rides := Rides{FromM: lap.EndM - 50, ToM: lap.EndM + 15_000, All: []Ride{blankRide(four()[0])}}
	d, g, _ := panelsOf(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: 900, Rides: rides})
	if writtenAt(d, "lap 1", (g.x(rides.FromM)+g.x(lap.EndM))/2) || !writtenAt(d, "lap 2", (g.x(c.Parts[2].StartM)+g.x(c.Parts[2].EndM))/2) {
		t.Errorf("%q", checkSVG(t, d.SVG()))
	}
}

// The height that a refusal names is enough.
func TestLeastHeightOfRides(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	rides := fourRides(t, c)
	for _, width := range []int{LeastWidthPx, 901, MostWidthPx} {
		in := Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: width, HeightPx: LeastHeightPx, Rides: rides}
		_, err := Draw(in)
		if err == nil {
			t.Fatalf("%d px is enough", in.HeightPx)
		}
		var px int
		if _, scan := fmt.Sscanf(err.Error(), "At a width of "+strconv.Itoa(width)+" px this picture needs a height of %d", &px); scan != nil {
			t.Fatal(err, scan)
		}
		in.HeightPx = px
		checkTexts(t, drawn(t, in))
	}
}

// A picture of a long race stays small.
func TestSizeOfALongRide(t *testing.T) {
	c, dissected := longRace(t)
	rides := fourRides(t, c)
	rides.All = rides.All[:2]
	if n := len(drawn(t, Input{Course: c, Terrain: dissected, Focus: OfRides, WidthPx: MostWidthPx, Rides: rides}).SVG()); n > 200_000 {
		t.Errorf("%d bytes, want 200,000 at most", n)
	}
}
