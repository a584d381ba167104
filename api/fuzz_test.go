package api_test

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"parcours.example/service/engine"
)

// FuzzCoursesHandler sends any bytes as a course file: never a 5xx, never a reply
// outside the contract.
func FuzzCoursesHandler(f *testing.F) {
	for _, seed := range mutationSeeds(f) {
		f.Add(seed, "application/gpx+xml", "laps=2")
		f.Add(seed, "", "include=profile,geometry")
	}
	f.Add([]byte("{}"), "application/json", "a=b")
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute})
	f.Fuzz(func(t *testing.T, body []byte, contentType, query string) {
		r := request(http.MethodPost, "/v1/courses", contentType, body)
		r.URL.RawQuery = query
		noFault(t, h, r)
	})
}

// FuzzPredictionsHandler sends any bytes as a prediction's request.
func FuzzPredictionsHandler(f *testing.F) {
	for _, x := range calls(f)["predict"].exchanges {
		f.Add([]byte(x.Body), x.Query)
	}
	f.Add([]byte(`{"course": {"profile": {"distance_m": [0, 40, 900], "elevation_m": [0, 9, 3]}, "options": {"laps": 3, "reverse": true}}, "riders": [{"mass_kg": 70, "critical_power_w": 200, "w_prime_j": 9000, "recovery_law": "integral_2012"}], "start_m": 10, "end_m": 700, "conditions": {"indoor": true, "load_kg": 3}, "surfaces": [{"start_m": 5, "end_m": 9, "crr_factor": 3}], "effort": {"kind": "time", "time_s": 90}}`), "include=trace")
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute})
	f.Fuzz(func(t *testing.T, body []byte, query string) {
		if manyLaps(body) {
			return
		}
		r := request(http.MethodPost, "/v1/predictions", "application/json", body)
		r.URL.RawQuery = query
		noFault(t, h, r)
	})
}

// FuzzPlansHandler sends any bytes as a plan's request.
func FuzzPlansHandler(f *testing.F) {
	for _, x := range calls(f)["plan"].exchanges {
		f.Add([]byte(x.Body), x.Query)
	}
	f.Add([]byte(`{"course": {"profile": {"distance_m": [0, 40, 900], "elevation_m": [0, 9, 3]}, "options": {"laps": 3, "reverse": true}}, "riders": [{"mass_kg": 70, "critical_power_w": 200, "w_prime_j": 9000, "recovery_law": "bartram_2018"}], "start_m": 10, "end_m": 700, "conditions": {"indoor": true, "load_kg": 3}, "surfaces": [{"start_m": 5, "end_m": 9, "crr_factor": 3}], "bounds": {"min_power_w": 20, "max_power_w": 500, "change_w_per_s": 20}, "end_reserve_j": 900, "given_effort": {"kind": "steps", "steps": [{"end_m": 300, "power_w": 200}]}}`), "include=trace")
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute})
	f.Fuzz(func(t *testing.T, body []byte, query string) {
		if manyLaps(body) || manyPlans(body) {
			return
		}
		r := request(http.MethodPost, "/v1/plans", "application/json", body)
		r.URL.RawQuery = query
		noFault(t, h, r)
	})
}

// FuzzScenariosHandler sends any bytes as a scenario's request, half of them for a stream.
// Races are kept short by an engine that takes little work.
func FuzzScenariosHandler(f *testing.F) {
	for i, x := range calls(f)["runScenario"].exchanges {
		f.Add([]byte(x.Body), i%2 == 0)
	}
	for _, course := range []string{
		`{"profile": {"distance_m": [0, 40, 900], "elevation_m": [0, 9, 3]}, "options": {"laps": 3, "reverse": true, "marks": [{"name": "Mill", "at_m": 400}]}}`,
		`{"profile": {"distance_m": [0, 300, 600, 900], "elevation_m": [0, 0, 40, 0]}}`,
	} {
		f.Add([]byte(`{"course": `+course+`, "start_m": 10, "end_m": 800, "conditions": {"indoor": true, "start_speed_mps": 9}, "surfaces": [{"start_m": 5, "end_m": 90, "crr_factor": 3}],
			"riders": [{"name": "A", "mass_kg": 70, "critical_power_w": 300, "w_prime_j": 9000, "recovery_law": "bartram_2018", "orders": [{"do": "attack", "at": {"at_m": 200}}, {"do": "lead_out", "at": {"mark_id": "mark-1"}, "for_rider": "B 1"}]},
				{"mass_kg": 90, "critical_power_w": 350, "w_prime_j": 30000, "max_power_w": 2000, "effort": {"kind": "time", "time_s": 90}, "orders": [{"do": "save", "at": {"climb_id": "climb-1"}}]}],
			"drawn": [{"name": "B", "count": 2, "team": "T", "effort": {"kind": "best"}, "mass_kg": {"mean": 60, "sd": 20}}],
			"contests": [{"name": "P", "best_of_team": 1, "scores": [{"by": "section_time", "at": {"start_m": 100, "end_m": 300}, "points": [2, 0.5]}, {"by": "crossing", "at": {"at_m": 500}, "points": [3]}]}],
			"rules": {"runs": 3, "seed": 9, "step_s": 0.4, "abreast": 1.5, "echelons": true, "mishaps_per_h": 10, "mishap_s": 20, "vary_orders": false}}`), true)
	}
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute, Limits: engine.Limits{RiderSteps: 20_000, PlanSamples: 2000}})
	f.Fuzz(func(t *testing.T, body []byte, stream bool) {
		if manyLaps(body) {
			return
		}
		r := request(http.MethodPost, "/v1/scenarios", "application/json", body)
		if stream {
			r.Header.Set("Accept", "application/x-ndjson")
		}
		noFault(t, h, r)
	})
}

// FuzzBriefsHandler sends any bytes as a brief's request, questions and all. Races and plans
// are kept short by an engine that takes little work.
func FuzzBriefsHandler(f *testing.F) {
	for _, x := range calls(f)["brief"].exchanges {
		if x.Body != "" {
			f.Add([]byte(x.Body), "text/plain")
		}
	}
	f.Add([]byte(`{"course": {"profile": {"distance_m": [0, 300, 600, 900], "elevation_m": [0, 0, 40, 0]}, "options": {"laps": 2, "marks": [{"name": "Mill", "kind": "sprint", "at_m": 400}]}},
		"riders": [{"name": "A", "mass_kg": 70, "critical_power_w": 300, "w_prime_j": 9000}, {"mass_kg": 90, "critical_power_w": 350, "w_prime_j": 30000}],
		"setups": [{"mass_kg": 7}, {"name": "B", "cda_change_m2": 0.02}], "effort": {"kind": "power", "power_w": 250}, "max_chars": 500, "units": "imperial",
		"questions": {"comparisons": {"ambitions": [{"at": {"mark_id": "mark-1"}}, {"name": "C", "at": {"at_m": 500}}], "changes": [{"from_index": 0, "to": "B", "at": {"start_m": 300, "end_m": 500}}]},
			"launches": {"lines": [{"at": {"mark_id": "mark-1", "pass": 2}, "position": 5}]},
			"aids": {"aids": [{"name": "D", "drag_factor": 0.7, "duration_s": 9, "available_from": ["mark-1"]}, {"wake_factor": 0, "duration_s": 5}], "at": {"at_m": 900}},
			"scenarios": {"drawn": [{"name": "E", "count": 2, "team": "T"}], "contests": [{"name": "F", "scores": [{"by": "finish", "points": [2, 1]}]}], "rules": {"runs": 3}}}}`), "application/json")
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute, Limits: engine.Limits{RiderSteps: 20_000, PlanSamples: 2000, ComparisonRides: 400, Launches: 30, Predictions: 400}})
	f.Fuzz(func(t *testing.T, body []byte, accept string) {
		if manyLaps(body) {
			return
		}
		r := request(http.MethodPost, "/v1/briefs", "application/json", body)
		r.Header.Set("Accept", accept)
		noFault(t, h, r)
	})
}

// manyPlans reports requests that are slow by right: of plans that go over hundreds of
// kilometres together.
func manyPlans(body []byte) bool {
	var q struct {
		Course struct {
			Profile struct {
				DistanceM []float64 `json:"distance_m"`
			}
			Options struct{ Laps int }
		}
		Riders, Setups []json.RawMessage
	}
	if json.Unmarshal(body, &q) != nil || len(q.Course.Profile.DistanceM) == 0 {
		return false
	}
	d := q.Course.Profile.DistanceM
	plans := len(q.Riders) * max(1, len(q.Setups), q.Course.Options.Laps)
	return (d[len(d)-1]-d[0])*float64(plans) > 100_000
}

// FuzzAssembleHandler sends any bytes as an assembly's request.
func FuzzAssembleHandler(f *testing.F) {
	for _, x := range calls(f)["assembleCourse"].exchanges {
		f.Add([]byte(x.Body))
	}
	f.Add([]byte(`{"marks": [{"name": "Mill", "lat_deg": 47, "lon_deg": 3, "heading_deg": 90}], "parts": [{"course": {"profile": {"distance_m": [0, 40, 900], "elevation_m": [5, 9, 5]}}, "from_m": 600, "to_m": 30, "reverse": true, "repeat": 3}]}`))
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute})
	f.Fuzz(func(t *testing.T, body []byte) {
		if longAssembly(body) {
			return
		}
		noFault(t, h, request(http.MethodPost, "/v1/courses/assemble", "application/json", body))
	})
}

// FuzzFitHandler sends any bytes as efforts.
func FuzzFitHandler(f *testing.F) {
	for _, x := range calls(f)["fitRider"].exchanges {
		f.Add([]byte(x.Body))
	}
	f.Add([]byte(`{"efforts": [{"duration_s": 86400, "power_w": 1}, {"duration_s": 1, "power_w": 4000, "weight": 1e-6}], "durations_s": [1], "powers_w": [1]}`))
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute})
	f.Fuzz(func(t *testing.T, body []byte) {
		noFault(t, h, request(http.MethodPost, "/v1/riders/fit", "application/json", body))
	})
}

// FuzzPictureHandler asks for pictures of a course in any words.
func FuzzPictureHandler(f *testing.F) {
	for _, x := range calls(f)["drawCourse"].exchanges {
		f.Add(x.Query, x.Headers["Accept"])
	}
	h := newHarness(f, engine.Config{QueueWait: time.Minute})
	id := analyse(f, h, readFile(f, "testdata/examples/orchard-loop.gpx"))
	f.Fuzz(func(t *testing.T, query, accept string) {
		r := request(http.MethodGet, "/v1/courses/"+id+"/profile", "", nil)
		r.URL.RawQuery = query
		r.Header.Set("Accept", accept)
		noFault(t, h, r)
	})
}

// longAssembly reports assemblies that are slow by right.
func longAssembly(body []byte) bool {
	var q struct {
		Parts []struct {
			Course json.RawMessage
			Repeat float64
		}
	}
	repeats := 0.0
	if json.Unmarshal(body, &q) != nil {
		return false
	}
	for _, p := range q.Parts {
		if manyLaps([]byte(`{"course": ` + string(p.Course) + `}`)) {
			return true
		}
		repeats += max(1, p.Repeat)
	}
	return repeats > 10
}

// manyLaps reports requests that are slow by right: a course of thousands of km.
func manyLaps(body []byte) bool {
	var q struct {
		Course struct {
			Profile struct {
				DistanceM []float64 `json:"distance_m"`
			}
			Options struct{ Laps int }
		}
	}
	if json.Unmarshal(body, &q) != nil || len(q.Course.Profile.DistanceM) == 0 {
		return false
	}
	d := q.Course.Profile.DistanceM
	return (d[len(d)-1]-d[0])*float64(max(1, q.Course.Options.Laps)) > 300_000
}

// noFault sends a request and demands that the reply is in the contract and blames
// nobody but the request.
func noFault(t *testing.T, h *harness, r *http.Request) {
	t.Helper()
	if w := h.send(t, r); w.Code >= 500 {
		t.Errorf("status %d: %.1000s\n%s", w.Code, w.Body, h.log)
	}
	h.log.Reset()
}
