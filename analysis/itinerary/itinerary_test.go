package itinerary_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
	"parcours.example/internal/seeded"
)

// generated returns the k-th of the drawn courses, dissected.
func generated(t *testing.T, seed uint64, k int) (*course.Course, *terrain.Terrain) {
	t.Helper()
	kinds := coursegen.Kinds()
	line, truth := coursegen.Random(kinds[k%len(kinds)], seed+uint64(k))
	tr := &track.Track{Points: coursegen.Record(line, coursegen.RandomNoise(seed+uint64(k)), seed)}
	for i, m := range truth.Marks {
		tr.Marks = append(tr.Marks, track.Mark{Name: m.Name, Kind: []track.MarkKind{track.Sprint, track.Summit, track.Gate, track.Feed, track.Other}[i%5], Pos: m.Pos})
	}
	c, err := course.FromTrack(context.Background(), tr, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return c, dissect(c)
}

// TestRowsOfAnyCourse holds what every itinerary must keep to.
func TestRowsOfAnyCourse(t *testing.T) {
	seed := seeded.First(t)
	for k := range seeded.Cases(20 * len(coursegen.Kinds())) {
		c, dissected := generated(t, seed, k)
		neutralM := 0.0
		if k%2 == 1 {
			neutralM = c.LengthM() / 7
		}
		rows := itinerary.Rows(c, dissected, neutralM)
		first, last := rows[0], rows[len(rows)-1]
		if first.AtM != 0 || !first.Holds(itinerary.Start) || last.ToFinishM != 0 || !last.Holds(itinerary.Finish) {
			t.Fatalf("case %d: from %+v to %+v", k, first, last)
		}
		for i, r := range rows {
			if i > 0 && !(r.AtM > rows[i-1].AtM) {
				t.Errorf("case %d: row %d at %v m follows one at %v m", k, i, r.AtM, rows[i-1].AtM)
			}
			if math.Abs(r.AtM+r.ToFinishM-c.LengthM()) > 1e-9*c.LengthM() || r.ElevationM != c.ElevationAt(r.AtM) || len(r.Things) == 0 {
				t.Errorf("case %d: %+v on %v m", k, r, c.LengthM())
			}
		}
		everyThing(t, k, c, dissected, rows, neutralM)
		clocksRise(t, k, rows, itinerary.Neutral{EndM: neutralM, TimeS: neutralM / 9})
	}
}

// everyThing demands a row within 5 m of every line, and of every pass of every climb and
// mark.
func everyThing(t *testing.T, k int, c *course.Course, d *terrain.Terrain, rows []itinerary.Row, neutralM float64) {
	t.Helper()
	told := 0
	at := func(m float64, kinds ...itinerary.Kind) {
		told++
		if !slices.ContainsFunc(rows, func(r itinerary.Row) bool {
			return math.Abs(r.AtM-m) <= 5 && slices.ContainsFunc(kinds, r.Holds)
		}) {
			t.Errorf("case %d: no row for %v at %v m", k, kinds, m)
		}
	}
	at(0, itinerary.Start)
	at(c.LengthM(), itinerary.Finish)
	if neutralM > 0 {
		at(neutralM, itinerary.RacingBegins)
	}
	for _, p := range c.Parts {
		if p.Kind == course.Lap || p.Kind == course.RunOut {
			at(p.StartM, itinerary.Lap, itinerary.RunOut)
		}
	}
	for _, o := range c.OtherCircuits {
		told += o.Count - 1
		at(o.StartM, itinerary.OtherLap)
	}
	for _, climb := range d.Climbs {
		for _, p := range climb.Passes {
			at(p.StartM, itinerary.Foot, itinerary.SteepStart)
			if !p.Partial {
				at(p.EndM, itinerary.Top, itinerary.SteepEnd)
			}
		}
	}
	for _, m := range d.Marks {
		for _, p := range m.Passes {
			at(p.AtM, itinerary.Kind(m.Kind))
		}
	}
	for _, r := range rows {
		told -= len(r.Things)
	}
	if told != 0 {
		t.Errorf("case %d: %d things are not told, or told twice", k, told)
	}
}

// clocksRise holds the clocks of speeds and of a ride that slows down.
func clocksRise(t *testing.T, k int, rows []itinerary.Row, neutral itinerary.Neutral) {
	t.Helper()
	ride := make([]float64, len(rows))
	for i, r := range rows {
		ride[i] = r.AtM/12 + r.AtM*r.AtM/1e7
	}
	for _, clocks := range [][]float64{neutral.AtSpeed(rows, 10), neutral.Ridden(rows, ride)} {
		for i := range clocks {
			if i > 0 && !(clocks[i] > clocks[i-1]) {
				t.Errorf("case %d: row %d at %v s follows one at %v s", k, i, clocks[i], clocks[i-1])
			}
			if together := neutral.TimeS / neutral.EndM; rows[i].AtM < neutral.EndM && math.Abs(clocks[i]-together*rows[i].AtM) > 1e-9*neutral.TimeS {
				t.Errorf("case %d: %v m of the neutral stretch after %v s", k, rows[i].AtM, clocks[i])
			}
			if rows[i].Holds(itinerary.RacingBegins) && math.Abs(clocks[i]-neutral.TimeS) > 1e-9 {
				t.Errorf("case %d: racing begins at %v s, not %v s", k, clocks[i], neutral.TimeS)
			}
		}
	}
	if neutral == (itinerary.Neutral{}) && !slices.Equal(neutral.Ridden(rows, ride), ride) {
		t.Errorf("case %d: without a neutral stretch a ride's clocks are its own", k)
	}
}

// straight is a course of 10 km without anything on it.
func straight(t *testing.T) *course.Course {
	t.Helper()
	c, err := course.FromProfile(context.Background(), []float64{0, 5000, 10_000}, nil, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestThingsOnOnePlaceShareARow(t *testing.T) {
	c := straight(t)
	mark := func(kind track.MarkKind, at ...float64) terrain.Mark {
		m := terrain.Mark{Kind: kind}
		for _, a := range at {
			m.Passes = append(m.Passes, terrain.MarkPass{AtM: a})
		}
		return m
	}
	d := &terrain.Terrain{
		Climbs: []terrain.Climb{{Passes: []terrain.Pass{{StartM: 2000, EndM: 3000}, {StartM: 9500, EndM: 10_000, Partial: true}}}},
		Marks: []terrain.Mark{
			mark(track.Sprint, 3004, 9996), mark(track.Summit, 2997), mark(track.Feed, 3, 5005.1), mark("", 5000),
		},
	}
	type row struct {
		at    float64
		kinds []itinerary.Kind
	}
	var got []row
	for _, r := range itinerary.Rows(c, d, 3002) {
		one := row{at: r.AtM}
		for _, thing := range r.Things {
			one.kinds = append(one.kinds, thing.Kind)
		}
		if !math.IsNaN(r.ElevationM) {
			t.Errorf("an elevation of %v m where there is none", r.ElevationM)
		}
		got = append(got, one)
	}
	want := []row{
		{0, []itinerary.Kind{itinerary.Start, itinerary.Feed}},
		{2000, []itinerary.Kind{itinerary.Foot}},
		{3002, []itinerary.Kind{itinerary.RacingBegins, itinerary.Top, itinerary.Summit}},
		{3004, []itinerary.Kind{itinerary.Sprint}},
		{5000, []itinerary.Kind{itinerary.Other}},
		{5005.1, []itinerary.Kind{itinerary.Feed}},
		{9500, []itinerary.Kind{itinerary.Foot}},
		{10_000, []itinerary.Kind{itinerary.Finish, itinerary.Sprint}},
	}
	if !slices.EqualFunc(got, want, func(a, b row) bool { return a.at == b.at && slices.Equal(a.kinds, b.kinds) }) {
		t.Errorf("%v\nwant %v", got, want)
	}
}

func TestLapsOfOtherCircuits(t *testing.T) {
	c := straight(t)
	c.OtherCircuits = []course.OtherCircuit{{Count: 2, StartM: 1000, EndM: 3000, LengthM: 1000}}
	var at []float64
	for _, r := range itinerary.Rows(c, &terrain.Terrain{}, 0) {
		if r.Holds(itinerary.OtherLap) {
			at = append(at, r.AtM)
		}
	}
	if !slices.Equal(at, []float64{1000, 2000}) {
		t.Errorf("laps of the other circuit begin at %v", at)
	}
}

func TestChosenSpeeds(t *testing.T) {
	const mph = 1609.344 / 3600
	for _, c := range []struct {
		meanMps, perHour float64
		want             []float64
	}{
		{40.4 / 3.6, 1 / 3.6, []float64{38, 40, 42}},
		{40.5 / 3.6, 1 / 3.6, []float64{39, 41, 43}},
		{25.3 * mph, mph, []float64{23, 25, 27}},
		{1.2, 1 / 3.6, []float64{2, 4, 6}},
		{math.NaN(), 1 / 3.6, []float64{18, 20, 22}},
		{math.NaN(), mph, []float64{10, 12, 14}},
	} {
		got := itinerary.Speeds(c.meanMps, wording.Units{Imperial: c.perHour == mph})
		for i, v := range got {
			if math.Abs(v/c.perHour-c.want[i]) > 1e-12 {
				t.Errorf("around %v m/s: %v m/s, want %v in units of %v m/s", c.meanMps, got, c.want, c.perHour)
			}
		}
	}
}

// dissect returns the terrain of a course that is waited for.
func dissect(c *course.Course) *terrain.Terrain {
	t, err := terrain.Analyse(context.Background(), c)
	if err != nil {
		panic(err) // the context has no end
	}
	return t
}
