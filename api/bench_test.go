package api_test

import (
	"encoding/json"
	"net/http"
	"testing"

	"parcours.example/service/engine"
)

// BenchmarkPlan measures the whole call for one rider over 40 km of a cached course with
// laps and a climb: decoding, the plan, its steps, and the answer with its trace.
func BenchmarkPlan(b *testing.B) {
	h := newHarness(b, engine.Config{Workers: 1})
	body, err := json.Marshal(object{
		"course": object{"course_id": analyse(b, h, readFile(b, "testdata/season/morvask-laps-and-climb.gpx"))}, "end_m": 40_000,
		"riders": []any{object{"mass_kg": 72.0, "critical_power_w": 260.0, "w_prime_j": 18_000.0, "max_power_w": 900.0}},
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if w := h.serve(request(http.MethodPost, "/v1/plans", "application/json", body)); w.Code != http.StatusOK {
			b.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
	}
}

// BenchmarkScenario measures the whole call for 100 riders on a race of about an hour, run
// 200 times, on as many cores as there are: rider-steps/s is the figure.
func BenchmarkScenario(b *testing.B) {
	h := newHarness(b, engine.Config{})
	const riders, runs = 100, 200
	body, err := json.Marshal(object{
		"course": object{"course_id": analyse(b, h, readFile(b, "testdata/season/morvask-laps-and-climb.gpx"))}, "end_m": 38_000,
		"drawn": []any{object{"name": "Bunch", "count": riders}}, "rules": object{"runs": runs},
	})
	if err != nil {
		b.Fatal(err)
	}
	seconds := 0.0
	for b.Loop() {
		w := h.serve(request(http.MethodPost, "/v1/scenarios", "application/json", body))
		var s struct {
			Riders []struct {
				TimeS struct{ Mean float64 } `json:"time_s"`
			}
		}
		if err := json.Unmarshal(w.Body.Bytes(), &s); err != nil || w.Code != http.StatusOK {
			b.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
		for _, r := range s.Riders {
			seconds += r.TimeS.Mean * runs
		}
	}
	b.ReportMetric(seconds/b.Elapsed().Seconds(), "rider-steps/s")
}
