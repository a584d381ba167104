package engine

import (
	"context"
	"errors"
	"math"
	"reflect"
	"testing"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
)

// able is a rider whose capability is known.
func able(massKg, criticalW, wPrimeJ float64) ride.Rider {
	r := rider(massKg)
	r.CriticalPowerW, r.WPrimeJ = criticalW, wPrimeJ
	return r
}

// toPlan asks for the plans of two riders over a hill of 4 km.
func toPlan() PlanRequest {
	r := atPower(fromFile(gpx("Oster loop", 200)), 0)
	r.Riders = []ride.Rider{able(60, 240, 15_000), able(80, 300, 20_000)}
	return PlanRequest{Ride: r, Limits: plan.Unlimited()}
}

func TestPlan(t *testing.T) {
	e := newEngine(t, Config{})
	r := toPlan()
	r.Setups = []ride.Setup{unstatedSetup(), unstatedSetup()}
	r.Given = &ride.Effort{Kind: ride.ByPower, PowerW: 200}
	p, err := e.Plan(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for i, item := range p.Items {
		if item.Err != nil {
			t.Fatal(item.Err)
		}
		told := item.Planned
		if !item.Ride.Feasible || item.Ride.TimeS > told.ConstantTimeS || told.Held.Ride.TimeS > told.ConstantTimeS+1e-6 {
			t.Errorf("plan %d takes %v s, in steps %v s, at constant power %v s", i, item.Ride.TimeS, told.Held.Ride.TimeS, told.ConstantTimeS)
		}
		if len(item.Ride.Trace.TimeS) == 0 || len(told.Given.Ride.Trace.TimeS) > 0 || told.Given.Ride.MeanPowerW > 200 {
			t.Errorf("plan %d: the plan's trace alone is kept unless asked, beside a ride at 200 W", i)
		}
		if len(item.Ride.Splits) != len(p.Spans) || len(told.Held.Ride.Splits) != len(p.Spans) {
			t.Errorf("plan %d has %d and %d splits of %d", i, len(item.Ride.Splits), len(told.Held.Ride.Splits), len(p.Spans))
		}
	}
	if n, back := counted(t, e.meter.plans), counted(t, e.meter.fellBack); n != 4 || back != fellBack(p) {
		t.Errorf("counted %d plans, %d of them fell back", n, back)
	}
	if e.runs(t, stagePlan) != 1 || e.runs(t, stageRide) != 0 {
		t.Error("the time of plans isn't told from that of predictions")
	}
}

func fellBack(p *Predictions) int {
	n := 0
	for _, item := range p.Items {
		if item.Planned.FellBack {
			n++
		}
	}
	return n
}

// TestBestEffortIsThePlan demands of predictions and briefs the plan's own ride.
func TestBestEffortIsThePlan(t *testing.T) {
	e := newEngine(t, Config{})
	r := toPlan()
	planned, err := e.Plan(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	r.Effort = ride.Effort{Kind: Best}
	predicted, err := e.Predict(t.Context(), r.Ride)
	if err != nil {
		t.Fatal(err)
	}
	b := BriefRequest{Course: r.Course, Conditions: r.Conditions, Riders: []BriefRider{{Rider: r.Riders[0], Best: true}}}
	written, err := e.Brief(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	want := planned.Items[0].Ride.TimeS
	if got := predicted.Items[0].Ride.TimeS; got != want {
		t.Errorf("predicted %v s, planned %v s", got, want)
	}
	for _, f := range written.Facts {
		if f.Name == "prediction-1.time_s" && f.Value != want {
			t.Errorf("the brief tells %v s, planned %v s", f.Value, want)
		}
	}
	if predicted.Items[0].Ride.Trace.TimeS != nil || predicted.Items[0].Planned.Held != nil {
		t.Error("a prediction keeps what wasn't asked for")
	}
}

func TestPlanIsTheSameOnAnyNumberOfWorkers(t *testing.T) {
	var want *Predictions
	for _, workers := range []int{1, 4} {
		got, err := newEngine(t, Config{Workers: workers}).Plan(t.Context(), toPlan())
		if err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = got
			continue
		}
		for i := range got.Items {
			if !reflect.DeepEqual(got.Items[i].Ride, want.Items[i].Ride) || !reflect.DeepEqual(got.Items[i].Planned, want.Items[i].Planned) {
				t.Errorf("plan %d depends on the number of workers", i)
			}
		}
	}
}

func TestPlanFaults(t *testing.T) {
	e := newEngine(t, Config{})
	for name, tc := range map[string]struct {
		change        func(*PlanRequest)
		code, pointer string
	}{
		"no critical power":              {func(r *PlanRequest) { r.Riders[0].CriticalPowerW = math.NaN() }, ride.CodeNeedsCriticalPower, "#/riders/0/critical_power_w"},
		"no W′":                          {func(r *PlanRequest) { r.Riders[0].WPrimeJ = math.NaN() }, ride.CodeNeedsCriticalPower, "#/riders/0/w_prime_j"},
		"recovery told afterwards":       {func(r *PlanRequest) { r.Riders[0].RecoveryLaw = ride.Integral2012 }, CodeNotComputable, "#/riders/0/recovery_law"},
		"a maximum below critical power": {func(r *PlanRequest) { r.Riders[0].MaxPowerW = 200 }, CodeNotComputable, "#/riders/0/max_power_w"},
		"more left than there is":        {func(r *PlanRequest) { r.Limits.EndReserveJ = 15_001 }, CodeNotComputable, "#/end_reserve_j"},
		"a reserve without W′":           {func(r *PlanRequest) { r.Limits.MeanPowerW, r.Limits.EndReserveJ = 200, 1 }, CodeNotComputable, "#/end_reserve_j"},
		"bounds that cross":              {func(r *PlanRequest) { r.Limits.MinPowerW, r.Limits.MaxPowerW = 200, 199 }, CodeNotComputable, "#/bounds/min_power_w"},
		"more than can be held":          {func(r *PlanRequest) { r.Limits.MinPowerW = 241 }, CodeNotComputable, "#/bounds/min_power_w"},
		"more than the mean":             {func(r *PlanRequest) { r.Limits.MinPowerW, r.Limits.MeanPowerW = 201, 200 }, CodeNotComputable, "#/bounds/min_power_w"},
		"a given time out of reach": {func(r *PlanRequest) {
			r.Given = &ride.Effort{Kind: ride.ByTime, TimeS: 1}
		}, "", "#/given_effort/time_s"},
	} {
		r := toPlan()
		r.Riders = r.Riders[:1]
		tc.change(&r)
		p, err := e.Plan(t.Context(), r)
		if tc.code == "" { // told with the plan
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			err, tc.code = p.Items[0].Planned.Given.Err, ride.CodeTimeOutOfReach
		}
		var asked *Error
		if !errors.As(err, &asked) || asked.Code != tc.code || asked.Pointer != tc.pointer {
			t.Errorf("%s: %#v, want %s at %s", name, err, tc.code, tc.pointer)
		}
	}
	r := toPlan()
	r.Riders[1].RecoveryLaw = ride.Integral2012
	p, err := e.Plan(t.Context(), r)
	if err != nil || p.Items[0].Err != nil || p.Items[1].Err == nil || p.Items[1].Ride != nil || p.Items[1].Planned != nil {
		t.Errorf("of two, one that can't be planned: %v, %+v", err, p)
	}
}

func TestPlansAreCountedByTheirCost(t *testing.T) {
	r := toPlan() // 2 riders, 396 pieces
	for name, tc := range map[string]struct {
		limits Limits
		refuse bool
	}{
		"as many as are taken":     {Limits{Predictions: 2 * PlanCost}, false},
		"more than are taken":      {Limits{Predictions: 2*PlanCost - 1}, true},
		"as much road as is taken": {Limits{PlanSamples: 800}, false},
		"more road":                {Limits{PlanSamples: 790}, true},
		"as much to tell":          {Limits{Samples: 2400}, false},
		"more to tell":             {Limits{Samples: 2300}, true},
	} {
		r.Trace, r.Given = true, &ride.Effort{Kind: ride.ByPower, PowerW: 200}
		_, err := newEngine(t, Config{Limits: tc.limits}).Plan(t.Context(), r)
		if refused := codeOf(err) == CodeTooMany; refused != tc.refuse || err != nil && !refused {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestPlanEndsWithItsCaller demands that a plan which takes long ends once its caller
// leaves, and not only the matrix after it.
func TestPlanEndsWithItsCaller(t *testing.T) {
	e := newEngine(t, Config{Workers: 1})
	r := toPlan()
	c, err := e.Course(t.Context(), r.Course)
	if err != nil {
		t.Fatal(err)
	}
	m := matrix{course: c, to: c.LengthM(), riders: r.Riders[:1], conditions: r.Conditions}.named()
	road, err := m.road()
	if err != nil {
		t.Fatal(err)
	}
	ctx, leave := context.WithCancel(t.Context())
	leave()
	if p := m.predictAt(ctx, way{road: road}, 0, 0, ride.Effort{Kind: Best}); !errors.Is(p.Err, context.Canceled) {
		t.Errorf("%v, want the context's error", p.Err)
	}
	r.Course = CourseSource{ID: c.ID}
	if _, err := e.Plan(ctx, r); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's error", err)
	}
	if !e.admit.light.idle() {
		t.Error("a worker wasn't given back")
	}
}

func TestPlansThatFellBackAreCounted(t *testing.T) {
	e := newEngine(t, Config{})
	e.countPlans([]Prediction{{}, {Planned: &Planned{}}, {Planned: &Planned{FellBack: true}}, {Planned: &Planned{}}})
	if n, back := counted(t, e.meter.plans), counted(t, e.meter.fellBack); n != 3 || back != 1 {
		t.Errorf("counted %d plans, %d of them fell back; want 3 and 1", n, back)
	}
}

func TestPlanStretch(t *testing.T) {
	e := newEngine(t, Config{})
	r := toPlan()
	r.StartM, r.EndM = 1000, 3000
	p, err := e.Plan(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	steps := p.Items[0].Planned.Held.Steps
	if end := steps[len(steps)-1].EndM; math.Abs(end-2000) > 1e-6 || p.StartM != 1000 || math.Abs(p.Items[0].Ride.DistanceM-2000) > 1e-6 {
		t.Errorf("a stretch of 2000 m from %v m on: %v m ridden, steps to %v m", p.StartM, p.Items[0].Ride.DistanceM, end)
	}
}
