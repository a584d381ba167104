package api_test

import (
	"encoding/json"
	"maps"
	"math"
	"net/http"
	"testing"

	"parcours.example/service/engine"
)

// trace is a trace of an answer.
type trace struct {
	DistanceM []float64 `json:"distance_m"`
	TimeS     []float64 `json:"time_s"`
	SpeedMps  []float64 `json:"speed_mps"`
	PowerW    []float64 `json:"power_w"`
	WBalanceJ []float64 `json:"w_balance_j"`
}

// step is a step of a plan, or of an effort.
type step struct {
	StartM float64 `json:"start_m"`
	EndM   float64 `json:"end_m"`
	PowerW float64 `json:"power_w"`
	Of     string  `json:"of"`
	Reason string  `json:"reason"`
	TimeS  float64 `json:"time_s"`
}

// planned is what these tests read of a plan; ridden is what it shares with a prediction.
type planned struct {
	ridden
	ConstantPowerW     float64 `json:"constant_power_w"`
	ConstantPowerTimeS float64 `json:"constant_power_time_s"`
	GainS              float64 `json:"gain_s"`
	Steps              []step
	StepsTimeS         float64 `json:"steps_time_s"`
	LostByStepsS       float64 `json:"lost_by_steps_s"`
	StepsWBalanceMinJ  float64 `json:"steps_w_balance_min_j"`
	StepsWBalanceEndJ  float64 `json:"steps_w_balance_end_j"`
	StepsTrace         *trace  `json:"steps_trace"`
	Given              *ridden
	GainOverGivenS     float64 `json:"gain_over_given_s"`
}

type ridden struct {
	Problem        *struct{ Type string }
	Feasible       bool
	TimeS          float64 `json:"time_s"`
	TimeLowS       float64 `json:"time_low_s"`
	TimeHighS      float64 `json:"time_high_s"`
	Food           any
	Sensitivities  any
	WBalanceEndJ   float64 `json:"w_balance_end_j"`
	WBalanceMinJ   float64 `json:"w_balance_min_j"`
	WBalanceMinAtM float64 `json:"w_balance_min_at_m"`
	Splits         []struct {
		StartM float64 `json:"start_m"`
		EndM   float64 `json:"end_m"`
	}
	Trace *trace
}

type plans struct {
	Plans       []planned
	Assumptions []struct {
		Pointer string
		Value   float64
	}
}

// ask posts a request to a call and reads its answer.
func ask[T any](t *testing.T, h *harness, target string, body any) T {
	t.Helper()
	w := h.send(t, post(t, target, body))
	var out T
	if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil || w.Code != http.StatusOK {
		t.Fatalf("%s: status %d, %v: %.500s", target, w.Code, err, w.Body)
	}
	return out
}

// predicted posts a prediction of one ride and returns it.
func predicted(t *testing.T, h *harness, body object) ridden {
	t.Helper()
	return ask[struct{ Predictions []ridden }](t, h, "/v1/predictions?include=trace", body).Predictions[0]
}

// with returns an object with more members, without those that are nil there.
func with(body, more object) object {
	out := maps.Clone(body)
	maps.Copy(out, more)
	maps.DeleteFunc(out, func(_ string, value any) bool { return value == nil })
	return out
}

// asSteps is the effort that a trace is.
func (tr trace) asSteps() object {
	var steps []step
	for i := 1; i < len(tr.DistanceM); i++ {
		steps = append(steps, step{StartM: tr.DistanceM[i-1], EndM: tr.DistanceM[i], PowerW: tr.PowerW[i-1]})
	}
	return object{"kind": "steps", "steps": steps}
}

// near demands two times to agree to 0.05 %.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 0.0005*want {
		t.Errorf("%s: %v s, want %v s", what, got, want)
	}
}

// lapsAndClimb is a request for one rider over the season's laps with a climb.
func lapsAndClimb(t *testing.T, h *harness) object {
	return object{
		"course":     object{"course_id": analyse(t, h, readFile(t, "testdata/season/morvask-laps-and-climb-lap.gpx"))},
		"riders":     []any{object{"mass_kg": 72.0, "critical_power_w": 260.0, "w_prime_j": 18_000.0, "max_power_w": 900.0}},
		"conditions": object{"wind_mps": 3.0, "wind_from_deg": 250.0},
	}
}

// TestRepostedPlans demands that a plan's trace and its steps, posted as an effort, take
// the times that the plan tells, and that the best effort is the plan.
func TestRepostedPlans(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := lapsAndClimb(t, h)
	for _, from := range []float64{0, 1500} {
		body["start_m"] = from
		p := ask[plans](t, h, "/v1/plans?include=trace", with(body, object{"given_effort": object{"kind": "power", "power_w": 240.0}})).Plans[0]
		again := predicted(t, h, with(body, object{"effort": p.Trace.asSteps()}))
		near(t, "the trace posted again", again.TimeS, p.TimeS)
		held := predicted(t, h, with(body, object{"effort": object{"kind": "steps", "steps": p.Steps}}))
		near(t, "the steps posted again", held.TimeS, p.StepsTimeS)
		if !held.Feasible {
			t.Errorf("the steps posted again: a balance of %v J, told as %v J", held.WBalanceMinJ, p.StepsWBalanceMinJ)
		}
		near(t, "the steps' trace posted again", predicted(t, h, with(body, object{"effort": p.StepsTrace.asSteps()})).TimeS, p.StepsTimeS)
		best := predicted(t, h, with(body, object{"effort": object{"kind": "best"}}))
		given := predicted(t, h, with(body, object{"effort": object{"kind": "power", "power_w": 240.0}}))
		if best.TimeS != p.TimeS || given.TimeS != p.Given.TimeS || len(given.Trace.TimeS) != len(p.Given.Trace.TimeS) {
			t.Errorf("predicted %v s and %v s, with the plan %v s and %v s", best.TimeS, given.TimeS, p.TimeS, p.Given.TimeS)
		}
		constant := predicted(t, h, with(body, object{"effort": object{"kind": "power", "power_w": p.ConstantPowerW}}))
		near(t, "the constant power posted again", constant.TimeS, p.ConstantPowerTimeS)
		for what, off := range map[string]float64{
			"gain_s": p.GainS - (p.ConstantPowerTimeS - p.TimeS), "lost_by_steps_s": p.LostByStepsS - (p.StepsTimeS - p.TimeS),
			"gain_over_given_s": p.GainOverGivenS - (p.Given.TimeS - p.TimeS),
		} {
			if math.Abs(off) > 0.0021 {
				t.Errorf("%s differs from its times by %v s", what, off)
			}
		}
		total := 0.0
		for _, s := range p.Steps {
			total += s.TimeS
		}
		if math.Abs(total-p.StepsTimeS) > 0.001*float64(1+len(p.Steps)) {
			t.Errorf("the steps take %v s one by one, %v s together", total, p.StepsTimeS)
		}
	}
}

// TestRepostedAssumptionsOfPlans demands that posting every assumption of a plan as a
// value gives the same plan, and that the plan tells what a prediction tells.
func TestRepostedAssumptionsOfPlans(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := with(lapsAndClimb(t, h), object{"end_m": 3000.0, "setups": []any{object{}}, "uncertainties": object{}})
	first := ask[plans](t, h, "/v1/plans?include=sensitivities", body)
	for _, a := range first.Assumptions {
		place(t, body, a.Pointer, a.Value)
	}
	second := ask[plans](t, h, "/v1/plans?include=sensitivities", body)
	if len(first.Assumptions) < 10 || len(second.Assumptions) > 0 {
		t.Errorf("%d assumptions, then %v", len(first.Assumptions), second.Assumptions)
	}
	a, b := first.Plans[0], second.Plans[0]
	if a.TimeS != b.TimeS || a.StepsTimeS != b.StepsTimeS || a.TimeLowS != b.TimeLowS {
		t.Errorf("%v s, %v s by steps, from %v s; with the assumptions posted %v s, %v s, from %v s", a.TimeS, a.StepsTimeS, a.TimeLowS, b.TimeS, b.StepsTimeS, b.TimeLowS)
	}
	if !(a.TimeLowS < a.TimeS && a.TimeS < a.TimeHighS) || a.Food == nil || a.Sensitivities == nil {
		t.Errorf("a plan without its band, food or sensitivities: %+v", a.ridden)
	}
}

// TestPlanFaultsArePlaced demands the place of what excludes a plan, in each call that
// makes one.
func TestPlanFaultsArePlaced(t *testing.T) {
	h := newHarness(t, engine.Config{})
	flat := object{"profile": object{"distance_m": []float64{0, 1000}}}
	able := object{"mass_kg": 70.0, "critical_power_w": 250.0, "w_prime_j": 20_000.0}
	best := object{"effort": object{"kind": "best"}}
	for _, tc := range []struct {
		target            string
		rider, more       object
		problem, at, code string
	}{
		{"/v1/plans", object{"critical_power_w": nil}, nil, "not-computable", "#/riders/0/critical_power_w", "needs-critical-power"},
		{"/v1/plans", object{"w_prime_j": nil}, nil, "not-computable", "#/riders/0/w_prime_j", "needs-critical-power"},
		{"/v1/predictions", object{"w_prime_j": nil}, best, "not-computable", "#/riders/0/w_prime_j", "needs-critical-power"},
		{"/v1/briefs", object{"critical_power_w": nil}, best, "not-computable", "#/riders/0/critical_power_w", "needs-critical-power"},
		{"/v1/plans", object{"recovery_law": "integral_2012"}, nil, "not-computable", "#/riders/0/recovery_law", "not-computable"},
		{"/v1/predictions", object{"recovery_law": "integral_2012"}, best, "not-computable", "#/riders/0/recovery_law", "not-computable"},
		{"/v1/plans", nil, object{"bounds": object{"min_power_w": 300.0, "max_power_w": 290.0}}, "not-computable", "#/bounds/min_power_w", "not-computable"},
		{"/v1/plans", nil, object{"end_reserve_j": 20_001.0}, "not-computable", "#/end_reserve_j", "not-computable"},
		{"/v1/plans", nil, object{"bounds": object{"mean_power": 300.0}}, "invalid-request", "#/bounds/mean_power", "unknown"},
		{"/v1/plans", nil, object{"effort": object{"kind": "power", "power_w": 3.0}}, "invalid-request", "#/effort", "unknown"},
		{"/v1/plans", nil, object{"given_effort": object{"kind": "best"}}, "invalid-request", "#/given_effort/kind", "not-allowed"},
		{"/v1/plans", nil, object{"given_effort": object{"kind": "power"}}, "invalid-request", "#/given_effort/power_w", "missing"},
		{"/v1/plans", nil, object{"given_effort": object{"kind": "steps", "steps": []any{object{"end_m": 0.0, "power_w": 3.0}}}}, "invalid-request", "#/given_effort/steps/0/end_m", "out-of-order"},
		{"/v1/predictions", nil, object{"effort": object{"kind": "best", "power_w": 3.0}}, "invalid-request", "#/effort", "not-allowed"},
	} {
		w := h.send(t, post(t, tc.target, with(object{"course": flat, "riders": []any{with(able, tc.rider)}}, tc.more)))
		checkProblem(t, w, tc.problem)
		if fs := faultsOf(t, w.Body.Bytes()); len(fs) != 1 || fs[0].Pointer != tc.at || fs[0].Code != tc.code || fs[0].Detail == "" {
			t.Errorf("%s with %v, %v: %+v, want %s at %s", tc.target, tc.rider, tc.more, fs, tc.code, tc.at)
		}
	}
}

// TestPlansOfSome demands that riders who can't be planned stand in their places with
// their problems, and that a given effort that can't be ridden fails nothing else.
func TestPlansOfSome(t *testing.T) {
	h := newHarness(t, engine.Config{})
	p := ask[plans](t, h, "/v1/plans", object{
		"course": object{"profile": object{"distance_m": []float64{0, 500, 1500}, "elevation_m": []float64{0, 0, 200}}, "options": object{"smoothing": "none"}},
		"riders": []any{
			object{"mass_kg": 60.0, "critical_power_w": 300.0, "w_prime_j": 15_000.0},
			object{"mass_kg": 90.0, "critical_power_w": 30.0, "w_prime_j": 600.0},
			object{"mass_kg": 60.0},
		},
		"given_effort": object{"kind": "power", "power_w": 20.0},
	}).Plans
	if p[0].Problem != nil || p[0].TimeS <= 0 || p[0].Given.Problem == nil || p[0].Given.Problem.Type != "/problems/cannot-climb" {
		t.Errorf("the first: %+v", p[0])
	}
	for i, want := range map[int]string{1: "/problems/cannot-climb", 2: "/problems/not-computable"} {
		if p[i].Problem == nil || p[i].Problem.Type != want || p[i].Trace != nil || p[i].Steps != nil {
			t.Errorf("number %d: %+v, want %s", i, p[i], want)
		}
	}
}

// TestPlanTags demands that whatever an answer depends on is in its tag.
func TestPlanTags(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := lapsAndClimb(t, h)
	body["end_m"] = 2000.0
	seen := map[string]string{}
	for name, tc := range map[string]struct {
		query string
		more  object
	}{
		"bare": {"", nil}, "traces": {"?include=trace", nil}, "sensitivities": {"?include=sensitivities", nil}, "a bound": {"", object{"bounds": object{"max_power_w": 400.0}}},
		"a reserve": {"", object{"end_reserve_j": 100.0}}, "a given effort": {"", object{"given_effort": object{"kind": "power", "power_w": 200.0}}},
	} {
		for range 2 {
			tag := h.send(t, post(t, "/v1/plans"+tc.query, with(body, tc.more))).Header().Get("ETag")
			if other := seen[tag]; tag == "" || other != "" && other != name {
				t.Errorf("%s has the tag %q of %q", name, tag, other)
			}
			seen[tag] = name
		}
	}
	if len(seen) != 6 {
		t.Errorf("%d tags of 6 requests", len(seen))
	}
}
