package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// launches sends a request for launches and reads its answer.
func launches(t *testing.T, h *harness, body any) contract.Launches {
	t.Helper()
	w := h.send(t, post(t, "/v1/launches", body))
	var l contract.Launches
	if err := json.Unmarshal(w.Body.Bytes(), &l); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return l
}

// toFinish is a sprint to the finish of a course with a climb.
func toFinish(t *testing.T, h *harness) object {
	t.Helper()
	return object{
		"course": object{"course_id": analyse(t, h, readFile(t, "testdata/season/hoskerrow-eight.gpx"))},
		"riders": []any{
			object{"name": "Nour", "mass_kg": 61.0, "critical_power_w": 245.0, "w_prime_j": 15000.0},
			object{"name": "Bram", "mass_kg": 82.0, "critical_power_w": 310.0, "w_prime_j": 21000.0, "max_power_w": 1150.0},
		},
		"setups": []any{object{}}, "conditions": object{"wind_mps": 3.0, "wind_from_deg": 250.0},
		"lines": []any{object{"at": object{"finish": true}}},
	}
}

// TestRepostedLaunches demands that posting every assumption as a value gives the same
// numbers.
func TestRepostedLaunches(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := toFinish(t, h)
	first := launches(t, h, body)
	line := body["lines"].([]any)[0].(object)
	line["w_balances_j"] = []any{0.0, 0.0}
	for _, a := range first.Assumptions {
		if i := -1; scan(a.Pointer, "#/lines/0/w_balances_j/%d", &i) {
			line["w_balances_j"].([]any)[i] = a.Value
		} else {
			place(t, body, a.Pointer, a.Value)
		}
	}
	second := launches(t, h, body)
	if len(first.Assumptions) < 15 || len(second.Assumptions) > 0 {
		t.Errorf("%d assumptions, then %v", len(first.Assumptions), second.Assumptions)
	}
	if !reflect.DeepEqual(first.Launches, second.Launches) || first.Recommendation != second.Recommendation {
		t.Errorf("%+v\nwith the assumptions posted\n%+v", first.Launches, second.Launches)
	}
}

func scan(text, format string, into *int) bool {
	n, err := fmt.Sscanf(text, format, into)
	return n == 1 && err == nil
}

// TestLaunchesOfTheContract demands of an answer what the contract says of it.
func TestLaunchesOfTheContract(t *testing.T) {
	h := newHarness(t, engine.Config{})
	got := launches(t, h, toFinish(t, h))
	if len(got.Launches) != 2 || len(got.Model) == 0 || len(got.Cautions) < 4 || got.Warnings[0].Code != "max-power-assumed" {
		t.Fatalf("%+v", got)
	}
	for _, a := range got.Assumptions {
		if name := a.Pointer[strings.LastIndexByte(a.Pointer, '/')+1:]; slices.Contains([]string{"gross_efficiency", "start_speed_mps", "coast_above_mps"}, name) {
			t.Errorf("%s is assumed and not used", a.Pointer)
		}
	}
	for _, l := range got.Launches {
		pass := l.Passes[0]
		if sum := *pass.LaunchAtM + *l.LaunchBeforeM; sum < pass.Place.EndM-0.01 || sum > pass.Place.EndM+0.01 {
			t.Errorf("launched at %v m and %v m before a line at %v m", *pass.LaunchAtM, *l.LaunchBeforeM, pass.Place.EndM)
		}
		if *l.EarliestBeforeM < *l.LaunchBeforeM || *l.LatestBeforeM > *l.LaunchBeforeM || *l.PeakSpeedMps < *l.LineSpeedMps {
			t.Errorf("%+v", l)
		}
		if seconds := l.Approach.LengthM / l.Approach.SpeedMps; seconds < 19.9 || seconds > 20.1 {
			t.Errorf("an approach of %v s", seconds)
		}
		own := 0
		for _, p := range *l.Positions {
			if p.Position == l.Approach.Position && p.GainS == 0 && p.LaunchBeforeM == *l.LaunchBeforeM {
				own++
			}
		}
		if own != 1 || len(*l.Gradients) != 7 {
			t.Errorf("%d positions of its own, %d gradients", own, len(*l.Gradients))
		}
	}
}

// TestFaultsOfLines demands the place of what the schema alone can't exclude.
func TestFaultsOfLines(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for pointer, line := range map[string]string{
		"#/lines/0/approach_s": `{"at": {"finish": true}, "approach_m": 300, "approach_s": 20}`,
		"#/lines/0/demand":     `{"at": {"finish": true}, "approach_speed_mps": 15, "demand": 0.8}`,
		"#/lines/0/at":         `{"at": {}}`,
	} {
		body := `{"course": {"profile": {"distance_m": [0, 1000]}}, "riders": [{"mass_kg": 72, "critical_power_w": 300, "w_prime_j": 20000}], "lines": [` + line + `]}`
		w := h.send(t, request(http.MethodPost, "/v1/launches", "application/json", []byte(body)))
		checkProblem(t, w, "invalid-request")
		if faults := faultsOf(t, w.Body.Bytes()); len(faults) != 1 || faults[0].Pointer != pointer {
			t.Errorf("%s: %v", pointer, faults)
		}
	}
}

// TestLaunchBoundaries demands the limits of lines and of launches, with both numbers.
func TestLaunchBoundaries(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limits := contractLimits(t)
	body := func(riders, lines int) []byte {
		able := func(int) string { return `{"mass_kg": 70, "critical_power_w": 250, "w_prime_j": 20000}` }
		line := func(int) string { return `{"at": {"finish": true}, "approach_m": 60, "approach_speed_mps": 14}` }
		return rideRequest("", list(riders, able), `"lines": `+list(lines, line))
	}
	per := limits["launches"] / limits["launch_lines"]
	if w := h.send(t, request(http.MethodPost, "/v1/launches", "application/json", body(per, limits["launch_lines"]))); w.Code != http.StatusOK {
		t.Errorf("as many as are taken: status %d: %.300s", w.Code, w.Body)
	}
	for _, c := range []struct{ riders, lines, limit, actual int }{
		{1, limits["launch_lines"] + 1, limits["launch_lines"], limits["launch_lines"] + 1},
		{limits["launches"]/2 + 1, 2, limits["launches"], 2 * (limits["launches"]/2 + 1)},
	} {
		w := h.send(t, request(http.MethodPost, "/v1/launches", "application/json", body(c.riders, c.lines)))
		if p := checkProblem(t, w, "too-many"); p["limit"] != float64(c.limit) || p["actual"] != float64(c.actual) {
			t.Errorf("%d riders to %d lines: limit %v, actual %v", c.riders, c.lines, p["limit"], p["actual"])
		}
	}
}

// BenchmarkLaunch measures the whole call for one rider and the sprint line of every lap of
// a cached course.
func BenchmarkLaunch(b *testing.B) {
	h := newHarness(b, engine.Config{Workers: 1})
	body, err := json.Marshal(object{
		"course": object{"course_id": analyse(b, h, readFile(b, "testdata/season/morvask-laps-and-climb.gpx"))},
		"riders": []any{object{"mass_kg": 72.0, "critical_power_w": 300.0, "w_prime_j": 20_000.0, "max_power_w": 1200.0}},
		"lines":  []any{object{"at": object{"mark_id": "mark-3"}}},
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if w := h.serve(request(http.MethodPost, "/v1/launches", "application/json", body)); w.Code != http.StatusOK {
			b.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
	}
}
