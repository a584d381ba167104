package api_test

import (
	"encoding/json"
	"math"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"parcours.example/service/engine"
)

// predictions is what these tests read of an answer.
type predictions struct {
	Assumptions []struct {
		Pointer string
		Value   float64
	}
	Predictions []struct {
		TimeS     float64  `json:"time_s"`
		TimeLowS  *float64 `json:"time_low_s"`
		TimeHighS *float64 `json:"time_high_s"`
		Band      struct {
			CoveragePct float64 `json:"coverage_pct"`
			SDS         float64 `json:"sd_s"`
			Shares      []struct {
				Source string
				Share  float64
			}
			Halt *struct {
				Detail string
				AtM    float64 `json:"at_m"`
			}
		}
		Sensitivities []struct {
			Parameter string
			Step      float64
			TimeS     float64   `json:"time_s"`
			SplitsS   []float64 `json:"splits_s"`
		}
		Problem *struct {
			Type string
			AtM  float64 `json:"at_m"`
		}
		Energy struct {
			WorkJ     float64 `json:"work_j"`
			ResidualJ float64 `json:"residual_j"`
		}
		Splits []struct {
			Of     string
			TimeS  float64 `json:"time_s"`
			ClockS float64 `json:"clock_s"`
		}
		Trace struct {
			DistanceM []float64 `json:"distance_m"`
			TimeS     []float64 `json:"time_s"`
			PowerW    []float64 `json:"power_w"`
			WBalanceJ []float64 `json:"w_balance_j"`
		}
	}
}

// predict sends a request and reads its answer.
func predict(t *testing.T, h *harness, body any) predictions {
	t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	w := h.send(t, request(http.MethodPost, "/v1/predictions?include=trace", "application/json", raw))
	var p predictions
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return p
}

// object is a JSON object.
type object = map[string]any

// TestRepostedAnswers demands that posting every assumption as a value gives the
// same numbers, and posting a trace as steps the same time to 0.05 %.
func TestRepostedAnswers(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, "testdata/season/morvask-laps-and-climb-lap.gpx"))
	body := object{
		"course": object{"course_id": id}, "riders": []any{object{"mass_kg": 72.0}}, "setups": []any{object{}}, "conditions": object{"wind_mps": 3.0, "wind_from_deg": 250.0},
		"effort": object{"kind": "power", "power_w": 260.0}, "uncertainties": object{},
	}
	first := predict(t, h, body)
	for _, a := range first.Assumptions {
		place(t, body, a.Pointer, a.Value)
	}
	second := predict(t, h, body)
	if len(first.Assumptions) < 10 || len(second.Assumptions) > 0 {
		t.Errorf("%d assumptions, then %v", len(first.Assumptions), second.Assumptions)
	}
	if a, b := first.Predictions[0].TimeS, second.Predictions[0].TimeS; a != b {
		t.Errorf("%v s, with the assumptions posted %v s", a, b)
	}
	if a, b := first.Predictions[0], second.Predictions[0]; *a.TimeLowS != *b.TimeLowS || *a.TimeHighS != *b.TimeHighS || a.Band.SDS != b.Band.SDS {
		t.Errorf("%v to %v s, with the assumptions posted %v to %v s", *a.TimeLowS, *a.TimeHighS, *b.TimeLowS, *b.TimeHighS)
	}
	p := first.Predictions[0]
	if math.Abs(p.Energy.ResidualJ) > 0.001*p.Energy.WorkJ {
		t.Errorf("the energy account misses %v J of %v J", p.Energy.ResidualJ, p.Energy.WorkJ)
	}
	var steps []any
	for i := 1; i < len(p.Trace.DistanceM); i++ {
		steps = append(steps, object{"start_m": p.Trace.DistanceM[i-1], "end_m": p.Trace.DistanceM[i], "power_w": p.Trace.PowerW[i-1]})
	}
	body["effort"] = object{"kind": "steps", "steps": steps}
	if again := predict(t, h, body).Predictions[0].TimeS; math.Abs(again-p.TimeS) > 0.0005*p.TimeS {
		t.Errorf("%v s, the trace posted again %v s", p.TimeS, again)
	}
}

// place sets the value that a pointer leads to.
func place(t *testing.T, body object, pointer string, value float64) {
	t.Helper()
	segments := strings.Split(strings.TrimPrefix(pointer, "#/"), "/")
	var at any = body
	for _, s := range segments[:len(segments)-1] {
		if list, ok := at.([]any); ok {
			i, err := strconv.Atoi(s)
			if err != nil {
				t.Fatal(err)
			}
			at = list[i]
			continue
		}
		at = at.(object)[s]
	}
	at.(object)[segments[len(segments)-1]] = value
}

// TestMatrixWithAFailure demands that one rider who can't climb doesn't fail the
// others.
func TestMatrixWithAFailure(t *testing.T) {
	h := newHarness(t, engine.Config{})
	p := predict(t, h, object{
		"course": object{"profile": object{"distance_m": []float64{0, 500, 1500}, "elevation_m": []float64{0, 0, 200}}, "options": object{"smoothing": "none"}},
		"riders": []any{object{"mass_kg": 60.0, "critical_power_w": 400.0}, object{"mass_kg": 90.0, "critical_power_w": 30.0}},
		"effort": object{"kind": "fraction", "of_critical_power": 1.0},
	})
	if p.Predictions[0].Problem != nil || p.Predictions[0].TimeS <= 0 {
		t.Errorf("the first: %+v", p.Predictions[0])
	}
	if q := p.Predictions[1].Problem; q == nil || q.Type != "/problems/cannot-climb" || q.AtM < 100 {
		t.Errorf("the second: %+v", q)
	}
}
