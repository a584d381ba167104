package engine

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/course"
	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
)

// plain asks for aids for a rider on a course of the season.
func plainAids(aids ...Aid) AidsRequest {
	return AidsRequest{
		Ride: Ride{
			StartM: math.NaN(), EndM: math.NaN(), Riders: []ride.Rider{rider(72)}, Conditions: UnstatedConditions(),
			Effort: ride.Effort{Kind: ride.ByPower, PowerW: 250},
		},
		AidQuestion: AidQuestion{Aids: aids, FollowerGapM: math.NaN()},
	}
}

// fairing is an aid of less drag.
func fairing(from ...string) Aid {
	return Aid{Aid: aid.Aid{Name: "Fairing", DragFactor: 0.75, WakeFactor: 1, DurationS: 15}, AvailableFrom: from}
}

// On a stretch only the passes on it count, and places are on the ride's own axis.
func TestAidsOnAStretch(t *testing.T) {
	e := newEngine(t, Config{})
	c := seasonCourse(t, e, "morvask-laps-and-climb")
	r := plainAids(fairing("mark-1", "mark-1"))
	r.Course = CourseSource{ID: c.ID}
	whole, err := e.Aids(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	gates := whole.Aids[0].Earned
	r.StartM, r.EndM = gates[1].StartM-200, gates[3].StartM-200
	cut, err := e.Aids(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if len(gates) != 6 || len(cut.Aids[0].Earned) != 2 || len(whole.Lines) != 6 || len(cut.Lines) != 3 {
		t.Fatalf("earned %d and %d times, %d and %d lines", len(gates), len(cut.Aids[0].Earned), len(whole.Lines), len(cut.Lines))
	}
	if first := cut.Items[0].Aids[0].Samples[0].AtM; math.Abs(first-200) > 0.1 {
		t.Errorf("from %v m on", first)
	}
	best, on := cut.Items[0].Aids[0].Best[0], whole.Items[0].Aids[0].Best[0]
	if math.Abs(best.GainS-on.GainS) > 0.05*on.GainS || cut.Where(best.AtM).By != whole.Where(on.AtM).By {
		t.Errorf("%v s %s on the stretch, %v s %s on the course", best.GainS, cut.Where(best.AtM), on.GainS, whole.Where(on.AtM))
	}
}

// The plan's power by position is ridden with an aid as without.
func TestAidsOnAPlan(t *testing.T) {
	e := newEngine(t, Config{})
	r := plainAids(fairing())
	r.Course, _ = laps(t, e)
	r.Riders[0].CriticalPowerW, r.Riders[0].WPrimeJ = 260, 18_000
	r.Effort = ride.Effort{Kind: Best}
	got, err := e.Aids(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	item := got.Items[0]
	if len(item.Aids[0].Best) == 0 || item.TimeS <= 0 || len(item.Joint.Uses) != 1 {
		t.Errorf("%+v", item)
	}
}

// One rider's halt stands in its place.
func TestAidsWithAHalt(t *testing.T) {
	e := newEngine(t, Config{})
	r := plainAids(fairing())
	r.Course = ramp()
	r.Effort.PowerW = 100
	r.Riders = []ride.Rider{rider(72), rider(50)}
	r.Riders[1].MassKg = 30
	got, err := e.Aids(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	var halt *ride.Error
	if !errors.As(got.Items[0].Err, &halt) || got.Items[1].Err != nil || got.Recommendation == "" {
		t.Errorf("%v, %v", got.Items[0].Err, got.Items[1].Err)
	}
	r.Riders = r.Riders[:1]
	if _, err := e.Aids(t.Context(), r); !errors.As(err, &halt) {
		t.Error(err)
	}
}

// An aid that brings the rider to a halt says so in its place, and the others are told.
func TestAnAidThatHalts(t *testing.T) {
	e := newEngine(t, Config{})
	heavy := Aid{Aid: aid.Aid{Name: "Anvil", DragFactor: 1, MassChangeKg: 90, WakeFactor: 1, DurationS: 600}}
	r := plainAids(heavy, fairing())
	r.Course = ramp()
	r.Effort.PowerW = 150
	r.Riders[0].MassKg = 30
	got, err := e.Aids(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	item := got.Items[0]
	if !halts(item.Aids[0].Err) || item.Aids[1].Err != nil || len(item.Aids[1].Best) == 0 || item.Joint != nil {
		t.Errorf("%+v", item)
	}
}

// ramp is 500 m of flat and 1 km at 30 %.
func ramp() CourseSource {
	opt := course.Defaults()
	opt.Smoothing = course.None
	return CourseSource{
		Profile: &Profile{DistanceM: []float64{0, 500, 1500}, ElevationM: []float64{0, 0, 300}},
		Options: CourseOptions{Options: opt},
	}
}

func TestAidsStop(t *testing.T) {
	e := newEngine(t, Config{})
	r := plainAids(fairing())
	r.Course, _ = laps(t, e)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := e.Aids(ctx, r); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// The gap to a follower is assumed only where a follower counts.
func TestAssumedGap(t *testing.T) {
	e := newEngine(t, Config{})
	veil := fairing()
	veil.WakeFactor = 0
	for want, a := range map[bool]Aid{false: fairing(), true: veil} {
		r := plainAids(a)
		r.Course, _ = laps(t, e)
		got, err := e.Aids(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		assumed := slices.ContainsFunc(got.Assumptions, func(a Assumption) bool { return a.Pointer == "#/follower_gap_m" })
		if assumed != want {
			t.Errorf("denies %v: %v", want, got.Assumptions)
		}
	}
}

func TestWhereAPlaceLies(t *testing.T) {
	places := []plan.Place{
		{Of: plan.OfPart, Kind: "lap", Lap: 2, EndM: 10_000},
		{Of: plan.OfClimb, ID: "climb-1", Name: "Oster", Lap: 2, Pass: 2, StartM: 2_000, EndM: 4_000},
		{Of: plan.OfSection, ID: "climb-1", Name: "Oster", Section: 2, Lap: 2, StartM: 3_000, EndM: 4_000},
		{Of: plan.OfMark, ID: "mark-1", Name: "Weir", Pass: 2, StartM: 6_000, EndM: 6_000},
		{Of: plan.OfFlat, Kind: plan.KindHeadwind, Lap: 2, StartM: 7_000, EndM: 8_000},
	}
	for atM, want := range map[float64]string{
		1_000: "1.0 km into the lap, lap 2", 1_900: "100 m before climb-1 (Oster), lap 2", 1_999: "10 m before climb-1 (Oster), lap 2",
		2_010: "at the start of climb-1 (Oster), lap 2", 2_700: "700 m into climb-1 (Oster), lap 2", 3_500: "500 m into section 2 of climb-1 (Oster), lap 2",
		3_900: "100 m before the end of section 2 of climb-1 (Oster), lap 2", 5_800: "200 m before mark-1 (Weir), pass 2", 6_010: "at mark-1 (Weir), pass 2",
		7_300: "300 m into the flat into the wind, lap 2", 9_900: "100 m before the finish", 11_000: "",
	} {
		length := 10_000.0
		if atM > length {
			length = 20_000
		}
		if got := whereOf(places, length, atM).String(); got != want {
			t.Errorf("at %v m: %q, want %q", atM, got, want)
		}
	}
}
