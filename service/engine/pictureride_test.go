package engine

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/picture"
	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
)

// look asks for an SVG of a width.
func look() Look { return Look{WidthPx: 800} }

// A picture tells the numbers of the prediction.
func TestPredictionPicture(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(fromFile(gpx("Oster", 200)), 310)
	r.Riders = []ride.Rider{able(60, 240, 15_000), able(80, 300, 20_000)}
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	svg, err := e.PredictionPicture(t.Context(), r, look())
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range p.Items {
		for _, want := range []string{
			item.Rider + ": " + wording.Clock(item.Ride.TimeS) + ", " + wording.Watts(item.Ride.MeanPowerW),
			wording.Kilojoules(item.Ride.Balance.MinJ),
		} {
			if !bytes.Contains(svg.Bytes, []byte(want)) {
				t.Errorf("%q isn't told", want)
			}
		}
	}
	png, err := e.PredictionPicture(t.Context(), r, Look{WidthPx: 800, PNG: true})
	if err != nil || !bytes.HasPrefix(png.Bytes, []byte("\x89PNG")) {
		t.Errorf("no PNG: %v", err)
	}
	if e.runs(t, stagePicture) != 2 || svg.Course.ID != p.Course.ID {
		t.Errorf("%d pictures of %s", e.runs(t, stagePicture), svg.Course.ID)
	}
}

// A plan is drawn in steps, with the best constant power and the rider's own effort.
func TestPlanPicture(t *testing.T) {
	e := newEngine(t, Config{})
	r := toPlan()
	r.Given = &ride.Effort{Kind: ride.ByPower, PowerW: 200}
	p, err := e.Plan(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	svg, err := e.PlanPicture(t.Context(), r, look())
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range p.Items {
		held, given := item.Planned.Held.Ride, item.Planned.Given.Ride
		for _, want := range []string{
			item.Rider + ": " + wording.Clock(held.TimeS) + ", " + wording.Watts(held.MeanPowerW),
			"best constant power " + wording.Watts(item.Planned.ConstantPowerW) + " in " + wording.Clock(item.Planned.ConstantTimeS),
			"The plan that the steps are made of takes " + wording.Clock(item.Ride.TimeS),
			item.Rider + ", own effort: " + wording.Clock(given.TimeS) + ", " + wording.Watts(given.MeanPowerW),
		} {
			if !bytes.Contains(svg.Bytes, []byte(want)) {
				t.Errorf("%q isn't told", want)
			}
		}
	}
}

// drawnOf is what is drawn of a request.
func drawnOf(t *testing.T, e *Engine, r Ride, asked *planning) (picture.Rides, *Predictions) {
	t.Helper()
	r.Trace = true
	m, err := e.matrix(t.Context(), r, asked)
	if err != nil {
		t.Fatal(err)
	}
	m = m.named()
	p, err := e.ride(t.Context(), m)
	if err != nil {
		t.Fatal(err)
	}
	rides, err := m.drawn(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	return rides, p
}

// What is drawn of a plan is the ride by its steps.
func TestDrawnOfAPlan(t *testing.T) {
	r := toPlan()
	r.Effort = ride.Effort{Kind: Best}
	rides, p := drawnOf(t, newEngine(t, Config{}), r.Ride, &planning{limits: r.Limits, traces: true})
	for i, made := range rides.All {
		held := p.Items[i].Planned.Held.Ride
		if made.TimeS != held.TimeS || made.LowJ != held.Balance.MinJ || made.PlanTimeS != p.Items[i].Ride.TimeS || !slices.Equal(made.Trace.PowerW, held.Trace.PowerW) {
			t.Errorf("%s: %v s of %v s", made.Rider, made.TimeS, held.TimeS)
		}
	}
}

// On a stretch the rides are drawn at places on the course; steps are asked for where they
// are on it, and a halt ends the line there.
func TestDrawnOnAStretch(t *testing.T) {
	e := newEngine(t, Config{})
	wall := CourseSource{Profile: &Profile{DistanceM: []float64{0, 2000, 3000}, ElevationM: []float64{0, 0, 200}}, Options: CourseOptions{Options: course.Defaults()}}
	wall.Options.Smoothing = course.None
	r := atPower(wall, 0)
	r.StartM, r.Riders = 500, []ride.Rider{able(80, 180, 9000)}
	r.Effort = ride.Effort{Kind: ride.BySteps, Steps: []ride.Step{{EndM: 1500, PowerW: 250}, {EndM: 3000, PowerW: 60}}}
	rides, _ := drawnOf(t, e, r, nil)
	made := rides.All[0]
	end := made.Trace.DistanceM[len(made.Trace.DistanceM)-1] + 500
	if math.Abs(end-made.HaltAtM) > 0.1 || made.HaltAtM < 2000 || math.Abs(made.LowAtM-1500) > 1 {
		t.Errorf("the line ends at %v m, the halt is at %v m, the lowest balance at %v m", end, made.HaltAtM, made.LowAtM)
	}
	r.Effort = ride.Effort{Kind: ride.ByPower, PowerW: 300}
	rides, p := drawnOf(t, e, r, nil)
	if got, want := rides.All[0].LowAtM, p.Items[0].Ride.Balance.MinAtM+500; got != want || rides.FromM != 500 || rides.ToM != 3000 {
		t.Errorf("from %v m to %v m, the lowest balance at %v m, want %v m", rides.FromM, rides.ToM, got, want)
	}
}

// A rider who comes to a halt is drawn up to there, alone and beside others, on a stretch
// too.
func TestPictureOfAHalt(t *testing.T) {
	e := newEngine(t, Config{})
	wall := CourseSource{Profile: &Profile{DistanceM: []float64{0, 2000, 3000}, ElevationM: []float64{0, 0, 200}}, Options: CourseOptions{Options: course.Defaults()}}
	wall.Options.Smoothing = course.None
	for _, from := range []float64{math.NaN(), 500} {
		r := atPower(wall, 60)
		r.StartM, r.Riders = from, []ride.Rider{rider(80)}
		_, err := e.Predict(t.Context(), r)
		var halt *ride.Error
		if !errors.As(err, &halt) {
			t.Fatalf("%v, want a halt", err)
		}
		svg, err := e.PredictionPicture(t.Context(), r, look())
		if err != nil {
			t.Fatal(err)
		}
		want := "comes to a halt at " + wording.Units{}.Length(halt.AtM)
		if !bytes.Contains(svg.Bytes, []byte(want)) {
			t.Errorf("from %v m: %q isn't told", from, want)
		}
		r.Riders = append(r.Riders, rider(45))
		r.Effort = ride.Effort{Kind: ride.ByPower, PowerW: 75}
		if svg, err = e.PredictionPicture(t.Context(), r, look()); err != nil || strings.Count(string(svg.Bytes), "comes to a halt at ") < 2 || !bytes.Contains(svg.Bytes, []byte("Rider 2: ")) {
			t.Errorf("from %v m, beside another: %v", from, err)
		}
	}
}

func TestPictureOfRidesThatCantBe(t *testing.T) {
	e := newEngine(t, Config{})
	hill := fromFile(gpx("Oster loop", 200))
	riders := func(n int) (all []ride.Rider) {
		for range n {
			all = append(all, able(70, 260, 18_000))
		}
		return all
	}
	given := &ride.Effort{Kind: ride.ByPower, PowerW: 200}
	for name, c := range map[string]struct {
		riders, setups int
		effort         *ride.Effort
		height         int
		code, pointer  string
		actual         float64
	}{
		"five riders":                   {5, 1, nil, 0, CodeTooMany, "#/riders", 5},
		"three riders on two":           {3, 2, nil, 0, CodeTooMany, "#/setups", 6},
		"three riders' own":             {3, 1, given, 0, CodeTooMany, "#/given_effort", 6},
		"five riders' own":              {5, 1, given, 0, CodeTooMany, "#/riders", 5},
		"two riders on three and own":   {2, 3, given, 0, CodeTooMany, "#/setups", 12},
		"too low for one rider's plan":  {1, 1, nil, 250, CodeInvalid, "", 0},
		"too low for one rider's plans": {1, 1, given, 250, CodeInvalid, "", 0},
	} {
		r := PlanRequest{Ride: atPower(hill, 0), Limits: plan.Unlimited(), Given: c.effort}
		r.Riders, r.Setups = riders(c.riders), nil
		for range c.setups {
			r.Setups = append(r.Setups, unstatedSetup())
		}
		_, err := e.PlanPicture(t.Context(), r, Look{WidthPx: 800, HeightPx: c.height})
		why, ok := errors.AsType[*Error](err)
		if !ok || why.Code != c.code || why.Pointer != c.pointer || why.Actual != c.actual || (why.Parameter == "height") != (c.height > 0) {
			t.Errorf("%s: %v", name, err)
		}
	}
	r := PlanRequest{Ride: atPower(hill, 0), Limits: plan.Unlimited()}
	r.Riders = []ride.Rider{rider(70)}
	if _, err := e.PlanPicture(t.Context(), r, look()); err == nil || fmt.Sprint(err) != "A plan needs the rider's critical_power_w and w_prime_j; rider 1 has no critical_power_w." {
		t.Errorf("%v, want what a plan needs", err)
	}
}

func TestRidePictureStopsWithItsCaller(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	r := atPower(fromFile(gpx("Oster", 200)), 260)
	if _, err := e.Course(t.Context(), r.Course); err != nil {
		t.Fatal(err)
	}
	gone, leave := context.WithCancel(t.Context())
	leave()
	if _, err := e.PredictionPicture(gone, r, look()); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's error", err)
	}
}
