package engine

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

// hill is a course over a table of 6 km with a climb from 2 to 3 km.
func hill() CourseSource {
	var d, z []float64
	for x := 0.0; x <= 6000; x += 50 {
		d, z = append(d, x), append(z, 60*min(max((x-2000)/1000, 0), 1))
	}
	opt := CourseOptions{Options: course.Defaults()}
	opt.Smoothing = course.None
	return CourseSource{Profile: &Profile{DistanceM: d, ElevationM: z}, Options: opt}
}

// contender is a rider of 280 W.
func contender(name string) Contender {
	r := unstatedRider()
	r.Name, r.MassKg, r.CriticalPowerW, r.WPrimeJ = name, 70, 280, 18_000
	return Contender{Rider: r}
}

// asked is a request of some riders over the hill.
func asked(names ...string) ScenarioRequest {
	r := ScenarioRequest{
		Course: hill(), StartM: math.NaN(), EndM: math.NaN(), Conditions: UnstatedConditions(),
		RaceQuestion: RaceQuestion{Rules: UnstatedRules()},
	}
	for _, n := range names {
		r.Riders = append(r.Riders, contender(n))
	}
	r.Rules.Runs = 20
	return r
}

// TestProgress demands that progress starts at none, only grows, and ends at all.
func TestProgress(t *testing.T) {
	e := newEngine(t, Config{Workers: 3})
	r := asked("Nour", "Bram")
	var told []int
	r.Progress = func(done, of int) {
		if of != 20 {
			t.Errorf("%d runs are asked for", of)
		}
		told = append(told, done)
	}
	if _, err := e.Scenario(t.Context(), r); err != nil {
		t.Fatal(err)
	}
	if len(told) != 4 || told[0] != 0 || told[3] != 20 || !slices.IsSorted(told) {
		t.Errorf("told %v", told)
	}
}

// TestScenarioCancelled demands the context's error from whatever is under way.
func TestScenarioCancelled(t *testing.T) {
	e := newEngine(t, Config{})
	ctx, cancel := context.WithCancel(t.Context())
	r := asked("Nour", "Bram")
	r.Progress = func(int, int) { cancel() }
	if _, err := e.Scenario(ctx, r); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// TestLinesOfARace demands the feet and tops of climbs, the lines of contests and the
// finish, once each, in order, on the stretch that is raced.
func TestLinesOfARace(t *testing.T) {
	e := newEngine(t, Config{})
	r := asked("Nour")
	r.StartM, r.EndM = 1000, 5500
	nan := math.NaN()
	point := func(m float64) *Place { return &Place{AtM: m, StartM: nan, EndM: nan} }
	r.Contests = []Contest{{Name: "A", Scores: []Score{
		{By: ByCrossing, At: point(4000), Points: []float64{1}},
		{By: ByCrossing, At: point(4000), Points: []float64{1}},
		{By: BySectionTime, At: &Place{AtM: nan, StartM: 1500, EndM: 1700}, Points: []float64{1}},
	}}}
	s, err := e.Scenario(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	last := 0.0
	for i, l := range s.Lines {
		words = append(words, l.words())
		at := s.Result.Lines[i].Entrants[0].GapS
		if l.AtM() < last || at.N != 20 {
			t.Errorf("%s: %v m after %v m, crossed in %d runs", l.words(), l.AtM(), last, at.N)
		}
		last = l.AtM()
	}
	if want := []string{"the foot of climb 1", "the top of climb 1", "the place at 4.00 km", "the finish"}; !slices.Equal(words, want) {
		t.Errorf("%q, want %q", words, want)
	}
}

// TestAClimbFromTheStart demands that a climb which starts where the race does is told,
// with hardly a gap at its foot.
func TestAClimbFromTheStart(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), hill())
	if err != nil {
		t.Fatal(err)
	}
	r := asked("Nour", "Bram")
	r.StartM, r.EndM = c.Terrain.Climbs[0].StartM, 4000
	s, err := e.Scenario(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Lines) != 3 || s.Lines[0].End != AtFoot || s.Lines[1].End != AtTop || len(s.Climbs) != 1 {
		t.Fatalf("%+v", s.Lines)
	}
	for _, at := range s.Result.Lines[0].Entrants {
		if at.GapS.N != 20 || at.GapS.Mean > 1 {
			t.Errorf("the gap at the start is %+v", at.GapS)
		}
	}
}

// TestGroupsOfATypicalRun demands that groups end where more than a second passes, to the
// millisecond, and hold who crosses, in order.
func TestGroupsOfATypicalRun(t *testing.T) {
	s := &scenario{field: make([]Contender, 7)}
	for i, name := range []string{"G", "F", "E", "D", "C", "B", "A"} {
		s.field[i].Name = name
	}
	got := s.groups([]float64{11.9996, math.NaN(), 10, 11, 14, 13.0014, 10})
	want := []Group{{10, 0, []int{6, 2, 3, 0}}, {13.001, 3.001, []int{5, 4}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// TestTypicalRunIsTheRun demands that the typical run agrees with what all runs come to
// where all runs are the same.
func TestTypicalRunIsTheRun(t *testing.T) {
	e := newEngine(t, Config{})
	r := asked("Nour", "Bram", "Isa")
	r.Riders[1].CriticalPowerW, r.Riders[2].CriticalPowerW = 330, 240
	r.Rules.FormPct, r.Rules.Alone = 0, true
	s, err := e.Scenario(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for i, groups := range s.Typical.Groups {
		counted := s.Result.Lines[i]
		if float64(len(groups)) != counted.Groups.Mean || float64(len(groups[0].Riders)) != counted.Front.Mean {
			t.Errorf("%s: %+v, counted %v groups, the first of %v", s.Lines[i].words(), groups, counted.Groups.Mean, counted.Front.Mean)
		}
		for _, g := range groups {
			if gap := counted.Entrants[g.Riders[0]].GapS.Mean; math.Abs(gap-g.GapS) > 0.001 {
				t.Errorf("%s: a gap of %v s, counted %v s", s.Lines[i].words(), g.GapS, gap)
			}
		}
	}
}

// TestEventsOfTheBest demands that of too many events those of the riders who place best
// are told, in order.
func TestEventsOfTheBest(t *testing.T) {
	s := &scenario{field: make([]Contender, 3), from: 1000}
	var all []race.Event
	for k := range 300 {
		for i := range 3 {
			all = append(all, race.Event{Kind: race.LetGo, Entrant: i, TimeS: float64(k), AtM: 5})
		}
	}
	kept, leftOut := s.eventsOf(all, []Group{{Riders: []int{2}}, {Riders: []int{0, 1}}})
	if len(kept) != 300 || leftOut != 600 || kept[0].Entrant != 2 || kept[299].TimeS != 299 || kept[0].AtM != 1005 {
		t.Errorf("%d kept, %d left out, the first %+v", len(kept), leftOut, kept[0])
	}
}

// TestWorkIsBounded demands that a race is refused by the times alone where riders are
// slower than the estimate, and by the time that mishaps take.
func TestWorkIsBounded(t *testing.T) {
	base := asked("Nour")
	base.Effort = &ride.Effort{Kind: ride.ByPower, PowerW: 60} // about 4 m/s
	mishaps := asked("Nour")
	mishaps.Rules.MishapsPerH, mishaps.Rules.MishapS = 10, 360
	for name, tc := range map[string]struct {
		asked ScenarioRequest
		limit int
		fits  bool
	}{
		"slow riders, enough":   {base, 40_000, true},
		"slow riders":           {base, 16_000, false},
		"many mishaps, enough":  {mishaps, 31_000, true},
		"many mishaps":          {mishaps, 29_000, false},
		"less than at 8 m/s":    {asked("Nour"), 14_999, false},
		"as much as at 8 m/s":   {asked("Nour"), 15_000, true},
		"two riders of as much": {asked("Nour", "Bram"), 15_000, false},
	} {
		e := newEngine(t, Config{Limits: Limits{RiderSteps: tc.limit}})
		_, err := e.Scenario(t.Context(), tc.asked)
		var refused *Error
		if tc.fits != (err == nil) || !tc.fits && (!errors.As(err, &refused) || refused.Code != CodeTooMany || refused.Limit != float64(tc.limit) || refused.Actual <= refused.Limit) {
			t.Errorf("%s: %+v", name, err)
		}
	}
}

// TestEffortsOfAField demands that every kind of effort is raced as it is ridden alone.
func TestEffortsOfAField(t *testing.T) {
	e := newEngine(t, Config{})
	for _, effort := range []ride.Effort{
		{Kind: ride.ByPower, PowerW: 250},
		{Kind: ride.ByOwnPower},
		{Kind: ride.ByFraction, OfCriticalPower: 0.9},
		{Kind: ride.ByMass, WPerKg: 3.5},
		{Kind: ride.ByTime, TimeS: 700},
		{Kind: ride.BySteps, Steps: []ride.Step{{EndM: 1500, PowerW: 200}, {EndM: 3000, PowerW: 320}, {EndM: 6000, PowerW: 240}}},
		{Kind: Best},
	} {
		for _, from := range []float64{math.NaN(), 1200} {
			r := asked("Nour")
			r.Riders[0].Effort, r.Riders[0].PowerW, r.StartM = &effort, 260, from
			s, err := e.Scenario(t.Context(), r)
			if err != nil {
				t.Fatalf("%s: %v", effort.Kind, err)
			}
			p, err := e.Predict(t.Context(), Ride{
				Course: r.Course, StartM: from, EndM: math.NaN(), Riders: []ride.Rider{r.Riders[0].Rider}, Conditions: r.Conditions, Effort: effort,
			})
			if err != nil {
				t.Fatal(err)
			}
			want := p.Items[0].Ride.TimeS
			if got := s.Result.Entrants[0].TimeS.Mean; s.AloneS[0] != want || math.Abs(got-want) > 0.0005*want {
				t.Errorf("%s from %v m: raced in %v s, alone %v s, predicted %v s", effort.Kind, from, got, s.AloneS[0], want)
			}
		}
	}
}

// TestMergedSteps demands that steps of one power become one.
func TestMergedSteps(t *testing.T) {
	got := merged([]ride.Step{{EndM: 1, PowerW: 5}, {EndM: 2, PowerW: 5}, {EndM: 3, PowerW: 6}, {EndM: 4, PowerW: 5}, {EndM: math.Inf(1), PowerW: 5}})
	if want := []ride.Step{{EndM: 2, PowerW: 5}, {EndM: 3, PowerW: 6}, {EndM: math.Inf(1), PowerW: 5}}; !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestMemoryOfRuns demands that ten times the runs take hardly more memory.
func TestMemoryOfRuns(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	taken := func(runs int) uint64 {
		r := asked("Nour", "Bram", "Isa", "Tilo")
		r.Rules.Runs = runs
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if _, err := e.Scenario(t.Context(), r); err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	taken(16) // the course
	few, many := taken(16), taken(160)
	t.Logf("16 runs take %d bytes, 160 runs %d", few, many)
	if float64(many) > 1.05*float64(few) {
		t.Errorf("16 runs take %d bytes, 160 runs %d", few, many)
	}
}

// TestPlacesOfOrders demands an order for each pass of its place: attacks and saving at the
// foot of a climb, sprints and lead-outs at its top; and no mark at the start.
func TestPlacesOfOrders(t *testing.T) {
	source := hill()
	source.Options.Marks = []track.Mark{{Name: "Gate", AtM: 1000}}
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), source)
	if err != nil {
		t.Fatal(err)
	}
	climb := c.Terrain.Climbs[0]
	nan := math.NaN()
	at := &Place{ClimbID: climb.ID, AtM: nan, StartM: nan, EndM: nan}
	r := asked("Nour", "Bram")
	road, err := ride.NewRoad(c.Cut(1000, 6000), r.Conditions, nil)
	if err != nil {
		t.Fatal(err)
	}
	s := &scenario{asked: r, course: c, from: 1000, to: 6000, road: road, byName: map[string]int{"Nour": 0, "Bram": 1}, field: r.Riders}
	for kind, want := range map[race.OrderKind]float64{
		race.Attack: climb.StartM - 1000, race.Save: climb.StartM - 1000, race.Sprint: climb.EndM - 1000, race.LeadOut: climb.EndM - 1000,
	} {
		got, err := s.order(0, Order{Do: kind, At: at, ForS: nan, FromM: nan, ForRider: "Bram"}, "#")
		if err != nil || len(got) != 1 || math.Abs(got[0].AtM-want) > 1e-6 {
			t.Errorf("%s: %+v, %v, want %v m", kind, got, err, want)
		}
	}
	s.lay()
	for _, l := range s.lines.told {
		if l.Place.Of == FeatureMark {
			t.Errorf("told at the start: %+v", l)
		}
	}
}

// TestNamesOfStretches demands that a stretch bears the name of a climb's pass where it is
// mostly that, else its own positions.
func TestNamesOfStretches(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), hill())
	if err != nil {
		t.Fatal(err)
	}
	s := &scenario{course: c, to: c.LengthM()}
	climb := c.Terrain.Climbs[0]
	for _, tc := range []struct {
		startM, endM float64
		want         string
	}{
		{climb.StartM - 50, climb.StartM + 400, "climb 1"},
		{climb.StartM + 300, climb.StartM + 400, "climb 1"},
		{climb.StartM - 1000, climb.EndM + 1000, "climb 1"},
		{climb.StartM - 300, climb.StartM + 200, "the stretch from 1.70 km to 2.20 km"},
		{4000, 4500, "the stretch from 4.00 km to 4.50 km"},
	} {
		if got := theClimb(s.nameStretch(tc.startM, tc.endM)); got != tc.want {
			t.Errorf("%v to %v m is %q, want %q", tc.startM, tc.endM, got, tc.want)
		}
	}
}
