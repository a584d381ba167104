package engine

import (
	"context"
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/choice"
	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

// asGiven is a table that is taken as it is.
func asGiven(distanceM, elevationM []float64) CourseSource {
	return CourseSource{
		Profile: &Profile{DistanceM: distanceM, ElevationM: elevationM},
		Options: CourseOptions{Options: course.Options{Smoothing: course.None}},
	}
}

// onTwo asks a rider to compare two set-ups on a source.
func onTwo(src CourseSource) ComparisonRequest {
	r := atPower(src, 240)
	r.Riders = r.Riders[:1]
	r.Setups = []ride.Setup{unstatedSetup(), unstatedSetup()}
	r.Setups[1].MassKg = 6.5
	r.Doubt = unstatedDoubt()
	return ComparisonRequest{
		Ride: r, SetupQuestion: SetupQuestion{
			Quantities: []choice.Quantity{choice.Power},
			OwnDoubt:   choice.OwnDoubt{MassKg: math.NaN(), CdAM2: math.NaN(), Crr: math.NaN(), Efficiency: math.NaN()},
		},
	}
}

// Climbs beyond the thirtieth are no ambitions by default, and the smallest are left out.
func TestDefaultClimbsAreBounded(t *testing.T) {
	var distance, elevation []float64
	for i := range 40 { // climbs of 60 to 99 m, each with its way down
		at := 4000 * float64(i)
		distance = append(distance, at, at+1000, at+2000, at+3000)
		elevation = append(elevation, 0, 60+float64(i), 0, 0)
	}
	e := newEngine(t, Config{})
	r := onTwo(asGiven(distance, elevation))
	r.Quantities = nil
	c, err := e.Compare(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(c.Course.Terrain.Climbs); n < 31 {
		t.Fatalf("only %d climbs", n)
	}
	if n := len(c.Ambitions); n != mostDefaultClimbs+1 || c.Ambitions[n-1].Name != "the finish" {
		t.Errorf("%d ambitions", n)
	}
	if first := c.Ambitions[0].Passes[0]; first.StartM < 30_000 {
		t.Errorf("the climb at %v m is among the largest", first.StartM)
	}
}

// On a stretch of the course everything counts from where the ride starts, and is told at
// positions on the course.
func TestComparisonsOfAStretch(t *testing.T) {
	e := newEngine(t, Config{})
	src := asGiven([]float64{0, 3000, 5000, 6000}, []float64{0, 0, 140, 140})
	r := onTwo(src)
	r.StartM = 1000
	r.Changes = []BikeChange{{From: SetupReference{Index: 0}, To: SetupReference{Index: 1}, StandingS: math.NaN(), Stops: true, Shelter: math.NaN()}}
	c, err := e.Compare(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	spot, trial := c.Changes[0].Spots[0], c.Riders[0].Verdict.Changes[0].Trials[0]
	if math.Abs(spot.StartM-3000) > 100 || math.Abs(trial.AtM-(spot.StartM-1000)) > 1e-6 {
		t.Errorf("the foot is at %v m, %v m from the start", spot.StartM, trial.AtM)
	}
	if c.Changes[0].StandingS != choice.DefaultStandingS || c.Riders[0].Rides[0].TimeS <= 0 {
		t.Errorf("%+v", c.Changes[0])
	}
}

func TestComparisonsEndWithTheirCaller(t *testing.T) {
	e := newEngine(t, Config{})
	ctx, cancel := context.WithCancel(t.Context())
	r := onTwo(fromProfile(100, 0))
	if _, err := e.Compare(ctx, r); err != nil {
		t.Fatal(err)
	}
	cancel()
	if _, err := e.Compare(ctx, r); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if !e.admit.light.idle() {
		t.Error("a worker wasn't given back")
	}
}
