package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"parcours.example/analysis/capability"
	"parcours.example/service/engine"
)

// fitted is what these tests read of an answer.
type fitted struct {
	Rider   map[string]float64
	BestFit string `json:"best_fit"`
	Fits    []struct {
		Kind                string
		Counts              bool
		RegressedOn         string   `json:"regressed_on"`
		CriticalPowerErrorW *float64 `json:"critical_power_error_w"`
		ResidualSDS         *float64 `json:"residual_sd_s"`
		ResidualSDJ         *float64 `json:"residual_sd_j"`
		ResidualSDW         *float64 `json:"residual_sd_w"`
		Curve               []struct {
			DurationS    float64  `json:"duration_s"`
			PowerW       float64  `json:"power_w"`
			PowerLowW    *float64 `json:"power_low_w"`
			PowerHighW   *float64 `json:"power_high_w"`
			Extrapolated bool
		}
		Held []struct {
			DurationS *float64 `json:"duration_s"`
			Unlimited bool
		}
	}
	Warnings []struct{ Code, Detail, Kind, Pointer string }
}

func fitRider(t *testing.T, h *harness, body string) fitted {
	t.Helper()
	w := h.send(t, request(http.MethodPost, "/v1/riders/fit", "application/json", []byte(body)))
	var f fitted
	if err := json.Unmarshal(w.Body.Bytes(), &f); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return f
}

const sprinter = `{"efforts": [{"duration_s": 6, "power_w": 1060}, {"duration_s": 15, "power_w": 870}, {"duration_s": 60, "power_w": 545},
	{"duration_s": 180, "power_w": 372}, {"duration_s": 420, "power_w": 318}, {"duration_s": 720, "power_w": 297}, {"duration_s": 1200, "power_w": 285}]`

// TestFittedRiderRides demands that what is answered can be sent as a rider.
func TestFittedRiderRides(t *testing.T) {
	h := newHarness(t, engine.Config{})
	rider := fitRider(t, h, sprinter+`}`).Rider
	if rider["critical_power_w"] < 250 || rider["w_prime_j"] < 15_000 || rider["max_power_w"] < 1060 {
		t.Fatal(rider)
	}
	rider["mass_kg"] = 70
	body, err := json.Marshal(object{
		"course": object{"profile": object{"distance_m": []float64{0, 1000}}},
		"riders": []any{rider}, "effort": object{"kind": "fraction", "of_critical_power": 1},
	})
	if err != nil {
		t.Fatal(err)
	}
	if w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body)); w.Code != http.StatusOK {
		t.Errorf("status %d: %.300s", w.Code, w.Body)
	}
}

func TestFits(t *testing.T) {
	h := newHarness(t, engine.Config{})
	f := fitRider(t, h, sprinter+`, "powers_w": [200, 300, 3999]}`)
	if f.BestFit != "three_parameter_power" || len(f.Fits) != len(capability.Kinds()) {
		t.Errorf("%+v", f)
	}
	for _, fit := range f.Fits {
		three := strings.HasPrefix(fit.Kind, "three")
		given := map[string]bool{"duration_s": fit.ResidualSDS != nil, "work_j": fit.ResidualSDJ != nil, "power_w": fit.ResidualSDW != nil}
		for variable, is := range given {
			if is != (variable == fit.RegressedOn) {
				t.Errorf("%s on %s: %v", fit.Kind, fit.RegressedOn, given)
			}
		}
		if fit.Counts && !three || fit.Kind == f.BestFit && !fit.Counts {
			t.Errorf("%s counts: %v", fit.Kind, fit.Counts)
		}
		if first := fit.Curve[0].DurationS; first != 5 && three || first != 120 && !three {
			t.Errorf("%s: the curve starts at %v s", fit.Kind, first)
		}
		for _, p := range fit.Curve {
			if p.Extrapolated != (p.DurationS < 6 || p.DurationS > 1200) || *p.PowerLowW > p.PowerW || *p.PowerHighW < p.PowerW {
				t.Errorf("%s: %+v", fit.Kind, p)
			}
		}
		if low := fit.Held[0]; !low.Unlimited || low.DurationS != nil {
			t.Errorf("%s: 200 W: %+v", fit.Kind, low)
		}
		if high := fit.Held[2]; high.Unlimited || three && *high.DurationS != 0 || !three && *high.DurationS == 0 {
			t.Errorf("%s: 3999 W: %+v", fit.Kind, high)
		}
	}
}

// TestWarnedEfforts demands the place of the effort that is warned of, in the order as
// sent, and no errors where none can be told.
func TestWarnedEfforts(t *testing.T) {
	h := newHarness(t, engine.Config{})
	f := fitRider(t, h, `{"durations_s": [60], "efforts": [{"duration_s": 720, "power_w": 280}, {"duration_s": 400, "power_w": 270}, {"duration_s": 180, "power_w": 350}]}`)
	if w := f.Warnings[0]; w.Code != capability.CodePowerDoesNotFall || w.Pointer != "#/efforts/1" {
		t.Errorf("%+v", f.Warnings)
	}
	f = fitRider(t, h, `{"durations_s": [60], "efforts": [{"duration_s": 720, "power_w": 280}, {"duration_s": 180, "power_w": 350}]}`)
	if c := f.Fits[0].Curve; len(c) != 1 || c[0].DurationS != 60 || c[0].PowerLowW != nil || f.Fits[0].CriticalPowerErrorW != nil {
		t.Errorf("%+v", f)
	}
	if w := f.Warnings[0]; w.Code != capability.CodeNoErrors || w.Kind != f.BestFit {
		t.Errorf("%+v", f.Warnings)
	}
}

func TestFaultsOfEfforts(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, tc := range []struct{ name, effort, problem, at, code string }{
		{"a power of nothing", `{"duration_s": 300, "power_w": 0}`, "invalid-request", "#/efforts/1/power_w", "out-of-range"},
		{"a moment", `{"duration_s": 0.5, "power_w": 900}`, "invalid-request", "#/efforts/1/duration_s", "out-of-range"},
		{"no weight at all", `{"duration_s": 300, "power_w": 300, "weight": 0}`, "invalid-request", "#/efforts/1/weight", "out-of-range"},
		{"no duration", `{"power_w": 300}`, "invalid-request", "#/efforts/1/duration_s", "missing"},
		{"its standard deviation", `{"duration_s": 300, "power_w": 300, "sd": 3}`, "invalid-request", "#/efforts/1/sd", "unknown"},
		{"the same duration", `{"duration_s": 720, "power_w": 300}`, "capability-undetermined", "#/efforts", "too-few-efforts"},
		{"more for longer", `{"duration_s": 900, "power_w": 300}`, "capability-undetermined", "#/efforts", "no-critical-power"},
	} {
		body := `{"efforts": [{"duration_s": 720, "power_w": 280}, ` + tc.effort + `]}`
		w := h.send(t, request(http.MethodPost, "/v1/riders/fit", "application/json", []byte(body)))
		checkProblem(t, w, tc.problem)
		if fs := faultsOf(t, w.Body.Bytes()); len(fs) == 0 || fs[0].Pointer != tc.at || fs[0].Code != tc.code {
			t.Errorf("%s: %+v", tc.name, fs)
		}
	}
}

func TestEffortBoundary(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limit := contractLimits(t)["efforts"]
	body := func(n int) []byte {
		return []byte(`{"efforts": ` + list(n, func(i int) string {
			return fmt.Sprintf(`{"duration_s": %d, "power_w": %v}`, 60+10*i, 250+20000/(60+10*float64(i)))
		}) + `}`)
	}
	if w := h.send(t, request(http.MethodPost, "/v1/riders/fit", "application/json", body(limit))); w.Code != http.StatusOK {
		t.Errorf("status %d: %.300s", w.Code, w.Body)
	}
	p := checkProblem(t, h.send(t, request(http.MethodPost, "/v1/riders/fit", "application/json", body(limit+1))), "too-many")
	if p["limit"] != float64(limit) || p["actual"] != float64(limit+1) {
		t.Errorf("limit %v, actual %v", p["limit"], p["actual"])
	}
}

// TestContractNamesFits demands that the contract lists every kind of fit, and names
// every code that is answered.
func TestContractNamesFits(t *testing.T) {
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	schemas := doc.Components.Schemas
	var kinds []any
	for _, kind := range capability.Kinds() {
		kinds = append(kinds, string(kind))
	}
	if enum := schemas["FitKind"].Value.Enum; fmt.Sprint(enum) != fmt.Sprint(kinds) {
		t.Errorf("%v, want %v", enum, kinds)
	}
	for text, codes := range map[string][]string{
		schemas["CapabilityWarning"].Value.Description: {
			capability.CodeNoErrors, capability.CodeAllLong, capability.CodeAllShort, capability.CodeShortEffort, capability.CodeLongEffort,
			capability.CodeCloseDurations, capability.CodePowerDoesNotFall, capability.CodeOutlier, capability.CodeFitsDisagree,
			capability.CodeMaxPowerUncertain, capability.CodeMaxPowerExceeded, capability.CodeCriticalPowerHigh, capability.CodeUnlikely,
		},
		schemas["AbsentFit"].Value.Properties["code"].Value.Description: {
			capability.CodeTooFew, capability.CodeNoCriticalPower, capability.CodeNoMaxPower, capability.CodeOutOfRange,
		},
	} {
		for _, code := range codes {
			if !strings.Contains(text, "`"+code+"`") {
				t.Errorf("the contract doesn't name %s", code)
			}
		}
	}
}
