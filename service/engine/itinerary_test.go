package engine

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
	"parcours.example/internal/seeded"
)

// withItinerary asks for a brief with an itinerary of which nothing is said.
func withItinerary(src CourseSource, riders ...BriefRider) BriefRequest {
	return BriefRequest{
		Course: src, Conditions: UnstatedConditions(), Riders: riders, Itinerary: &Itinerary{StartS: math.NaN()},
	}
}

// itineraryOf returns the itinerary that is answered.
func itineraryOf(t *testing.T, e *Engine, r BriefRequest) *brief.Itinerary {
	t.Helper()
	b, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	return b.Itinerary
}

// TestRidersClocks holds a rider's column against the prediction: at the finish, at every
// part, and at the feet and tops of climbs.
func TestRidersClocks(t *testing.T) {
	e := newEngine(t, Config{})
	seed := seeded.First(t)
	kinds := coursegen.Kinds()
	for k := range seeded.Cases(10 * len(kinds)) {
		line, truth := coursegen.Random(kinds[k%len(kinds)], seed+uint64(k))
		src := fromFile(coursegen.GPX("Drawn", coursegen.Record(line, coursegen.Noise{SpacingM: 30}, seed), 6, truth.Marks))
		rides := []BriefRider{powered(72, 250), powered(72, math.NaN())}
		rides[1].Best, rides[1].CriticalPowerW, rides[1].WPrimeJ = true, 260, 15_000
		if k%10 > 0 { // a plan takes its time
			rides = rides[:1]
		}
		r := withItinerary(src, rides...)
		table := itineraryOf(t, e, r)
		for i, rider := range rides {
			asked := Ride{Course: src, StartM: math.NaN(), EndM: math.NaN(), Riders: []ride.Rider{rider.Rider}, Conditions: r.Conditions}
			asked.Effort = ride.Effort{Kind: ride.ByPower, PowerW: rider.PowerW}
			if rider.Best {
				asked.Effort = ride.Effort{Kind: Best}
			}
			p, err := e.Predict(t.Context(), asked)
			if err != nil {
				t.Fatal(err)
			}
			holdsClocks(t, fmt.Sprintf("case %d, rider %d", k, i), table.Rows, table.Columns[i].ClocksS, p)
		}
	}
}

// sameClockS allows for a sample more in the ride, where a lap of another circuit begins,
// which moves its last digits.
const sameClockS = 1e-6

// holdsClocks holds a column against the splits of a prediction.
func holdsClocks(t *testing.T, name string, rows []itinerary.Row, clocks []float64, p *Predictions) {
	t.Helper()
	at := map[float64]float64{}
	for i, r := range rows {
		at[r.AtM] = clocks[i]
		if i > 0 && !(clocks[i] > clocks[i-1]) {
			t.Errorf("%s: row %d at %v s follows %v s", name, i, clocks[i], clocks[i-1])
		}
	}
	ridden := p.Items[0].Ride
	if end := clocks[len(clocks)-1]; math.Abs(end-ridden.TimeS) > sameClockS {
		t.Errorf("%s: the finish at %v s, the prediction takes %v s", name, end, ridden.TimeS)
	}
	compared := 0
	for i, s := range p.Spans {
		split := ridden.Splits[i]
		if end, ok := at[s.EndM]; ok {
			compared++
			if math.Abs(end-split.ClockS) > sameClockS {
				t.Errorf("%s: %s ends at %v s, its row says %v s", name, s.Of, split.ClockS, end)
			}
		}
		if start, ok := at[s.StartM]; ok && s.Of != FeatureMark && math.Abs(start-(split.ClockS-split.TimeS)) > sameClockS {
			t.Errorf("%s: %s starts at %v s, its row says %v s", name, s.Of, split.ClockS-split.TimeS, start)
		}
	}
	if compared == 0 {
		t.Errorf("%s: nothing to compare", name)
	}
}

// TestNeutralStretchMovesRiders holds that the neutral stretch takes its own time and that
// the ride goes on behind it as predicted.
func TestNeutralStretchMovesRiders(t *testing.T) {
	e := newEngine(t, Config{})
	r := withItinerary(fromFile(gpx("Oster", 400)), powered(72, 250))
	plain := itineraryOf(t, e, r)
	r.Itinerary.Neutral = itinerary.Neutral{EndM: 2000, TimeS: 500}
	moved := itineraryOf(t, e, r)
	begins := slices.IndexFunc(moved.Rows, func(row itinerary.Row) bool { return row.Holds(itinerary.RacingBegins) })
	if begins < 0 || moved.Rows[begins].AtM != 2000 || moved.Columns[0].ClocksS[begins] != 500 {
		t.Fatalf("racing doesn't begin at 2000 m: %+v", moved.Rows)
	}
	last := func(table *brief.Itinerary) (clock, before float64) {
		clocks := table.Columns[0].ClocksS
		return clocks[len(clocks)-1], clocks[len(clocks)-2]
	}
	end, top := last(plain)
	endMoved, topMoved := last(moved)
	if math.Abs((end-top)-(endMoved-topMoved)) > 1e-6 || moved.Columns[0].ClocksS[0] != 0 {
		t.Errorf("from the top to the finish %v s, with a neutral stretch %v s", end-top, endMoved-topMoved)
	}
}

// TestItineraryLeavesTheRideAlone demands the same prediction with an itinerary as without.
func TestItineraryLeavesTheRideAlone(t *testing.T) {
	e := newEngine(t, Config{})
	r := withItinerary(fromFile(gpx("Oster", 400)), powered(72, 250))
	with, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	r.Itinerary = nil
	without, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if without.Itinerary != nil || len(with.Facts) <= len(without.Facts) {
		t.Errorf("%d facts with, %d without an itinerary", len(with.Facts), len(without.Facts))
	}
	for i, f := range without.Facts {
		if with.Facts[i] != f {
			t.Errorf("%+v becomes %+v", f, with.Facts[i])
		}
	}
}

// TestChosenSpeedsAreSaid holds the default speeds against the prediction that they are
// set around.
func TestChosenSpeedsAreSaid(t *testing.T) {
	e := newEngine(t, Config{})
	for units, perHour := range map[brief.Units]float64{brief.Metric: 1 / 3.6, brief.Imperial: 1609.344 / 3600} {
		src := fromFile(gpx("Oster", 400))
		r := withItinerary(src)
		r.Units = units
		table := itineraryOf(t, e, r)
		p, err := e.Predict(t.Context(), atPowerOf(src, 70, 210))
		if err != nil {
			t.Fatal(err)
		}
		mean := p.Items[0].Ride.MeanSpeedMps
		for k, c := range table.Columns {
			if want := math.Round(mean/perHour) + float64(2*k-2); math.Abs(c.SpeedMps/perHour-want) > 1e-9 {
				t.Errorf("%s: column %d at %v m/s, want %v around %v m/s", units, k, c.SpeedMps, want, mean)
			}
		}
		if len(table.Columns) != 3 || table.Notes[0].Code != "speeds-chosen" || table.Ordinary.MeanSpeedMps != mean {
			t.Errorf("%s: %d columns, notes %+v", units, len(table.Columns), table.Notes)
		}
	}
}

// atPowerOf asks one rider to ride a whole source.
func atPowerOf(src CourseSource, massKg, powerW float64) Ride {
	return Ride{
		Course: src, StartM: math.NaN(), EndM: math.NaN(), Riders: []ride.Rider{rider(massKg)}, Conditions: UnstatedConditions(),
		Effort: ride.Effort{Kind: ride.ByPower, PowerW: powerW},
	}
}

// TestItineraryWithoutAFinisher demands speeds and notes where nobody gets up the hill.
func TestItineraryWithoutAFinisher(t *testing.T) {
	e := newEngine(t, Config{})
	steep := wall()
	steep.Profile.ElevationM[2] = 1100
	table := itineraryOf(t, e, withItinerary(steep, powered(80, 12)))
	if len(table.Columns) != 3 || math.Abs(table.Columns[1].SpeedMps-20/3.6) > 1e-9 || !(table.Ordinary.HaltsAtM > 1000) {
		t.Errorf("columns %+v, ordinary %+v", table.Columns, table.Ordinary)
	}
	if len(table.Halted) != 1 || len(table.Notes) != 2 || table.Notes[1].Code != "rider-halts" || !(table.Notes[1].AtM > 900) {
		t.Errorf("halted %+v, notes %+v", table.Halted, table.Notes)
	}
}

// TestSpeedsBesideRiders demands the asked speeds first, then every rider on every set-up.
func TestSpeedsBesideRiders(t *testing.T) {
	e := newEngine(t, Config{})
	r := withItinerary(fromProfile(200, 0), powered(72, 250), powered(60, 220))
	r.Setups = []ride.Setup{unstatedSetup(), unstatedSetup()}
	r.Itinerary.SpeedsMps = []float64{10, 11}
	table := itineraryOf(t, e, r)
	want := []string{"36.0 km/h", "39.6 km/h", "Rider 1, Set-up 1", "Rider 1, Set-up 2", "Rider 2, Set-up 1", "Rider 2, Set-up 2"}
	if !slices.Equal(table.Heads, want) || table.Ordinary != nil {
		t.Errorf("columns %q, want %q", table.Heads, want)
	}
}

func TestItineraryRefusals(t *testing.T) {
	e := newEngine(t, Config{})
	for name, c := range map[string]struct {
		neutral itinerary.Neutral
		pointer string
	}{
		"beyond the finish": {itinerary.Neutral{EndM: 5000, TimeS: 600}, "#/itinerary/neutral_m"},
		"no time":           {itinerary.Neutral{EndM: 1000}, "#/itinerary/neutral_s"},
		"too fast":          {itinerary.Neutral{EndM: 1000, TimeS: 10}, "#/itinerary/neutral_s"},
	} {
		r := withItinerary(fromProfile(100, 0))
		r.Itinerary.Neutral = c.neutral
		_, err := e.Brief(t.Context(), r)
		if asked, ok := errors.AsType[*Error](err); !ok || asked.Pointer != c.pointer || asked.Code != CodeNotComputable {
			t.Errorf("%s: %v, want it at %s", name, err, c.pointer)
		}
	}
}

// TestItineraryRows demands the documented limit, with both numbers.
func TestItineraryRows(t *testing.T) {
	e := newEngine(t, Config{})
	src := fromProfile(100, 0)
	src.Options.Laps, src.Options.Smoothing = 100, course.None
	for i := range 60 {
		src.Options.Marks = append(src.Options.Marks, track.Mark{Name: fmt.Sprint(i), Kind: track.Other, AtM: float64(60 * (i + 1))})
	}
	_, err := e.Brief(t.Context(), withItinerary(src))
	if asked, ok := errors.AsType[*Error](err); !ok || asked.Code != CodeTooMany || asked.Limit != MostRows || asked.Actual < 6000 {
		t.Errorf("%#v", err)
	}
}

func TestParseTimeOfDay(t *testing.T) {
	for text, want := range map[string]float64{"00:00": 0, "13:05": 47_100, "13:05:30": 47_130, "23:59:59": 86_399} {
		if got, err := ParseTimeOfDay(text); err != nil || got != want {
			t.Errorf("%q: %v, %v, want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "1:05", "24:00", "13:60", "13:05:60", "13.05", "13:05:", "13:05Z", "-1:00", "١٣:٠٥", "13:05\n"} {
		if _, err := ParseTimeOfDay(text); codeOf(err) != CodeInvalid {
			t.Errorf("%q: %v", text, err)
		}
	}
}
