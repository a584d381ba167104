package engine

import (
	"context"
	"errors"
	"math"
	"reflect"
	"testing"

	"parcours.example/analysis/ride"
)

// rider is a rider of whom only the mass is known.
func rider(massKg float64) ride.Rider {
	r := unstatedRider()
	r.MassKg = massKg
	return r
}

// atPower asks two riders to ride a source at a constant power.
func atPower(src CourseSource, powerW float64) Ride {
	return Ride{
		Course: src, StartM: math.NaN(), EndM: math.NaN(),
		Riders:     []ride.Rider{rider(60), rider(80)},
		Conditions: UnstatedConditions(),
		Effort:     ride.Effort{Kind: ride.ByPower, PowerW: powerW},
	}
}

func TestPredict(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(fromFile(gpx("Oster loop", 200)), 220)
	light := unstatedSetup()
	light.MassKg, light.Name = 6.8, "Light"
	r.Setups = []ride.Setup{unstatedSetup(), light}
	r.Riders[1].Name = "Ada"
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	var order [][2]string
	for _, item := range p.Items {
		if item.Err != nil || !(item.Ride.TimeS > 0) || len(item.Ride.Splits) != len(p.Spans) {
			t.Fatalf("%s on %s: %v", item.Rider, item.Setup, item.Err)
		}
		order = append(order, [2]string{item.Rider, item.Setup})
	}
	want := [][2]string{{"Rider 1", "Set-up 1"}, {"Rider 1", "Light"}, {"Ada", "Set-up 1"}, {"Ada", "Light"}}
	if !reflect.DeepEqual(order, want) {
		t.Errorf("order %v, want riders first: %v", order, want)
	}
	if of := features(p.Spans); of[FeaturePart] != 1 || of[FeatureClimb] != 1 || of[FeatureMark] != 1 {
		t.Errorf("spans %v, want a part, a climb and a mark", of)
	}
	whole := p.Items[0].Ride
	if part := whole.Splits[0]; math.Abs(part.TimeS-whole.TimeS) > 1e-6 {
		t.Errorf("the only part takes %v s, the ride %v s", part.TimeS, whole.TimeS)
	}
}

func features(spans []Span) map[Feature]int {
	of := map[Feature]int{}
	for _, s := range spans {
		of[s.Of]++
	}
	return of
}

func TestPredictOnTheDefaultSetup(t *testing.T) {
	e := newEngine(t, Config{})
	p, err := e.Predict(t.Context(), atPower(fromProfile(100, 0), 220))
	if err != nil {
		t.Fatal(err)
	}
	if p.Items[0].Setup != defaultSetupName {
		t.Errorf("set-up %q", p.Items[0].Setup)
	}
	seen := map[string]bool{}
	for _, a := range p.Assumptions {
		if seen[a.Pointer] {
			t.Errorf("%s is assumed twice", a.Pointer)
		}
		seen[a.Pointer] = true
	}
	for _, pointer := range []string{"#/setups/0/crr", "#/riders/0/cda_m2", "#/riders/1/cda_m2", "#/conditions/shelter"} {
		if !seen[pointer] {
			t.Errorf("nothing is assumed for %s", pointer)
		}
	}
}

func TestPredictIsTheSameOnAnyNumberOfWorkers(t *testing.T) {
	var want *Predictions
	for _, workers := range []int{1, 8} {
		e := newEngine(t, Config{Workers: workers})
		r := atPower(fromFile(gpx("Oster loop", 200)), 220)
		for m := 50.0; m < 90; m += 5 {
			r.Riders = append(r.Riders, rider(m))
		}
		got, err := e.Predict(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = got
			continue
		}
		for i := range got.Items {
			if !reflect.DeepEqual(got.Items[i].Ride, want.Items[i].Ride) {
				t.Errorf("prediction %d depends on the number of workers", i)
			}
		}
		if !reflect.DeepEqual(got.Assumptions, want.Assumptions) {
			t.Error("the assumptions depend on the number of workers")
		}
	}
}

func TestPredictStretch(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(fromFile(gpx("Oster loop", 200)), 220) // summit at 2000 m
	r.StartM, r.EndM = 1000, 3000
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if got := p.Items[0].Ride.DistanceM; math.Abs(got-2000) > 1e-6 {
		t.Errorf("%v m were ridden, want 2000", got)
	}
	if of := features(p.Spans); of[FeaturePart] != 0 || of[FeatureMark] != 1 {
		t.Errorf("spans %v, want the mark without the part", of)
	}
	for i, s := range p.Spans {
		clock := p.Items[0].Ride.Splits[i].ClockS
		if s.Of == FeatureMark && !(s.StartM > 1900 && s.StartM < 2100 && clock > 0 && clock < p.Items[0].Ride.TimeS) {
			t.Errorf("the mark at %v m is passed after %v s", s.StartM, clock)
		}
	}
}

func TestPredictRefusals(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{Predictions: 3}})
	for _, tc := range []struct {
		name          string
		change        func(*Ride)
		code, pointer string
	}{
		{"nobody", func(r *Ride) { r.Riders = nil }, CodeNotComputable, "#/riders"},
		{"too many", func(r *Ride) { r.Setups = []ride.Setup{unstatedSetup(), unstatedSetup()} }, CodeTooMany, "#/riders"},
		{"end beyond the course", func(r *Ride) { r.EndM = 4951 }, CodeNotComputable, "#/end_m"},
		{"start after the end", func(r *Ride) { r.StartM, r.EndM = 300, 200 }, CodeNotComputable, "#/start_m"},
		{"start at the end", func(r *Ride) { r.StartM = 4950 }, CodeNotComputable, "#/start_m"},
		{"fraction of nothing", func(r *Ride) {
			r.Riders = r.Riders[1:]
			r.Effort = ride.Effort{Kind: ride.ByFraction, OfCriticalPower: 0.9}
		}, ride.CodeNeedsCriticalPower, "#/riders/0/critical_power_w"},
		{"compass wind on a profile", func(r *Ride) { r.Conditions.WindMps, r.Conditions.WindFromDeg = 5, 90 }, ride.CodeWindNeedsPositions, "#/conditions/wind_mps"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r := atPower(fromProfile(100, 0), 220) // 4950 m
			tc.change(&r)
			_, err := e.Predict(t.Context(), r)
			var asked *Error
			if !errors.As(err, &asked) || asked.Code != tc.code || asked.Pointer != tc.pointer {
				t.Errorf("%#v, want %s at %s", err, tc.code, tc.pointer)
			}
		})
	}
	r := atPower(fromProfile(100, 0), 220)
	r.EndM = 4950.005
	if _, err := e.Predict(t.Context(), r); err != nil {
		t.Errorf("an end beyond the course's by rounding alone: %v", err)
	}
}

func TestAnswersSizeIsLimited(t *testing.T) {
	r := atPower(fromProfile(100, 0), 220) // 2 riders over 495 pieces, each over one part and the climbs
	r.Trace = true
	for _, tc := range []struct {
		name   string
		limits Limits
		refuse bool
	}{
		{"samples at the limit", Limits{Samples: 990}, false},
		{"samples above it", Limits{Samples: 989}, true},
		{"splits above their limit", Limits{Splits: 1}, true},
	} {
		_, err := newEngine(t, Config{Limits: tc.limits}).Predict(t.Context(), r)
		if refused := codeOf(err) == CodeTooMany; refused != tc.refuse || err != nil && !refused {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	r.Trace = false
	p, err := newEngine(t, Config{Limits: Limits{Samples: 1}}).Predict(t.Context(), r)
	if err != nil || p.Items[0].Ride.Trace.TimeS != nil {
		t.Errorf("a trace that isn't asked for: %v", err)
	}
}

// wall is flat for 1 km, then 1 km at 10 %.
func wall() CourseSource {
	src := fromProfile(2, 0)
	src.Profile = &Profile{DistanceM: []float64{0, 1000, 2000}, ElevationM: []float64{100, 100, 200}}
	src.Options.Smoothing = "none"
	return src
}

func TestPredictTellsWhereTheRiderStops(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(wall(), 12)
	r.StartM = 500
	r.Riders = r.Riders[1:]
	_, err := e.Predict(t.Context(), r)
	var stopped *ride.Error
	if !errors.As(err, &stopped) || stopped.Code != ride.CodeCannotClimb || !(stopped.AtM > 1000 && stopped.AtM < 1200) {
		t.Errorf("%#v, want a stop behind the foot at 1000 m of the course", err)
	}
}

func TestFailureInAMatrixStandsInItsPlace(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(wall(), 0)
	r.Riders[0].CriticalPowerW, r.Riders[1].CriticalPowerW = 300, 12
	r.Effort = ride.Effort{Kind: ride.ByFraction, OfCriticalPower: 1}
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if p.Items[0].Err != nil || p.Items[0].Ride == nil {
		t.Errorf("the strong rider: %v", p.Items[0].Err)
	}
	if p.Items[1].Err == nil || p.Items[1].Ride != nil {
		t.Errorf("the weak rider: %v", p.Items[1].Err)
	}
}

func TestPredictEndsWithItsCaller(t *testing.T) {
	e := newEngine(t, Config{})
	src := fromProfile(100, 0)
	c, err := e.Course(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := e.Predict(ctx, atPower(CourseSource{ID: c.ID}, 220)); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's error", err)
	}
	if !e.admit.light.idle() {
		t.Error("a worker wasn't given back")
	}
}

// What takes too long is refused by its work: predictions times samples of the road.
func TestLongRidesOfManyAreLimited(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), fromProfile(100, 0))
	if err != nil {
		t.Fatal(err)
	}
	asked := 2 * len(c.S) // by two riders
	for _, limit := range []int{asked, asked - 1} {
		e.limits.RideSteps = limit
		_, err = e.Predict(t.Context(), atPower(CourseSource{ID: c.ID}, 200))
		refused, is := errors.AsType[*Error](err)
		if is != (limit < asked) || is && (refused.Code != CodeTooMany || refused.Limit != float64(limit) || refused.Actual != float64(asked)) {
			t.Errorf("%d samples where %d are taken: %v", asked, limit, err)
		}
	}
}
