package api_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// calibrated sends a request and reads what recorded rides tell.
func calibrated(t testing.TB, h *harness, query, body string) *contract.Calibration {
	t.Helper()
	w := h.send(t, request(http.MethodPost, "/v1/calibrations"+query, "application/json", []byte(withFiles(t, body))))
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %.800s", w.Code, w.Body)
	}
	var out contract.Calibration
	if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil {
		t.Fatal(err)
	}
	return &out
}

// orchard is the reference to the loop that the recorded examples were ridden on.
const orchard = `{"file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop.gpx}"}}`

// The recorded examples tell what they were made with (testdata/generate/rides.go).
func TestRecordedExamples(t *testing.T) {
	h := newHarness(t, engine.Config{})
	got := calibrated(t, h, "", `{"course": `+orchard+`, "effort": {"kind": "own_power"}, "rides": [
		{"ride_id": "nour", "rider": {"name": "Nour", "mass_kg": 61, "power_w": 230}, "file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop-nour.fit}"}},
		{"ride_id": "bram", "rider": {"name": "Bram", "mass_kg": 82, "power_w": 290}, "file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop-bram.fit}"}}]}`)
	nour, bram := got.Rides[0], got.Rides[1]
	if d := nour.Difference; math.Abs(d.StopsS-21) > 2 || d.PowerS < 5 || math.Abs(d.RestS) > 8 {
		t.Errorf("Nour: %+v", *d)
	}
	if l := got.Learnt[0]; math.Abs(*l.CdaM2-0.30) > 2*(*l.CdaSeM2) || *l.CdaSeM2 > 0.03 {
		t.Errorf("Nour's drag area is %v ± %v, made with 0.30", *l.CdaM2, *l.CdaSeM2)
	}
	if l := got.Learnt[1]; math.Abs(*l.CdaM2-0.34) > 2.5*(*l.CdaSeM2) {
		t.Errorf("Bram's drag area is %v ± %v, made with 0.34 and a lap in shelter", *l.CdaM2, *l.CdaSeM2)
	}
	for _, x := range got.Rides {
		d := x.Difference
		sum := d.StartS + d.PowerS + d.PacingS + d.DragS + d.RollingS + d.ShelterS + d.StopsS + d.RestS
		if math.Abs(sum-(*x.RiddenS-*x.PredictedS)) > 0.01 || *x.Laid.DeviationMedianM > 3 || x.Laid.CoveredShare < 0.99 {
			t.Errorf("%s: the parts sum to %v of %v; %+v", x.RideID, sum, *x.RiddenS-*x.PredictedS, *x.Laid)
		}
	}
	if bram.Problem != nil || got.Round == nil || got.Round.Predicted.Riders != 2 {
		t.Errorf("%+v, %+v", bram.Problem, got.Round)
	}
}

// A ride that goes as a prediction does has nothing to explain, and a field of them nobody to
// doubt; one whose power meter is wrong stands out.
func TestRiddenAsPredicted(t *testing.T) {
	h := newHarness(t, engine.Config{})
	course := `{"profile": {"distance_m": [0, 3000, 5000, 9000, 12000], "elevation_m": [20, 30, 170, 60, 60]}, "options": {"smoothing": "none"}}`
	var rides []string
	for i := range 6 {
		rider := fmt.Sprintf(`{"name": "R%d", "mass_kg": %d, "cda_m2": %.3f, "power_w": %d}`, i, 58+5*i, 0.29+0.01*float64(i), 220+12*i)
		w := h.send(t, request(http.MethodPost, "/v1/predictions?include=trace", "application/json", []byte(
			`{"course": `+course+`, "riders": [`+rider+`], "effort": {"kind": "own_power"}}`)))
		var p contract.Predictions
		if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil || w.Code != http.StatusOK {
			t.Fatal(w.Code, err)
		}
		rides = append(rides, fmt.Sprintf(`{"ride_id": "r%d", "rider": %s, "samples": %s}`, i, rider, samplesOf(t, p.Predictions[0].Trace, 1)))
	}
	ask := func(rides []string) *contract.Calibration {
		return calibrated(t, h, "", `{"course": `+course+`, "effort": {"kind": "own_power"}, "rides": [`+strings.Join(rides, ", ")+`]}`)
	}
	got := ask(rides)
	for _, x := range got.Rides {
		if x.Problem != nil {
			t.Fatalf("%s: %+v", x.RideID, *x.Problem)
		}
		d, near := *x.Difference, 0.001**x.PredictedS
		for _, s := range []float64{d.TotalS, d.StartS, d.PowerS, d.PacingS, d.ShelterS, d.StopsS, d.DragS + d.RollingS, d.RestS} {
			if math.Abs(s) > near {
				t.Errorf("%s: %+v, want nothing within %.2f s", x.RideID, d, near)
				break
			}
		}
	}
	if r := got.Round; math.Abs(*r.Predicted.BiasPct) > 0.1 || *r.PowerKnown.SpreadPct > 0.1 || len(r.Doubts) != 0 {
		t.Errorf("round %+v", *r)
	}
	rides[2] = strings.Replace(rides[2], `"mass_kg": 68`, `"mass_kg": 54`, 1)
	if r := ask(rides).Round; len(r.Doubts) != 1 || r.Doubts[0].RideID != "r2" || *r.Doubts[0].MassKg < 8 || !strings.Contains(r.Doubts[0].Detail, "R2") {
		t.Errorf("doubts %+v, want the rider whose mass is 14 kg too low", r.Doubts)
	}
}

// samplesOf takes a trace once in so many seconds.
func samplesOf(t testing.TB, trace *contract.Trace, everyS float64) string {
	t.Helper()
	var time, distance, speed, power []float64
	end := trace.TimeS[len(trace.TimeS)-1]
	for s := 0.0; ; s += everyS {
		at := min(s, end)
		i, exact := slices.BinarySearch(trace.TimeS, at)
		if !exact {
			i--
		}
		k := min(i+1, len(trace.TimeS)-1)
		share := 0.0
		if k > i {
			share = (at - trace.TimeS[i]) / (trace.TimeS[k] - trace.TimeS[i])
		}
		time = append(time, at)
		distance = append(distance, trace.DistanceM[i]+share*(trace.DistanceM[k]-trace.DistanceM[i]))
		speed = append(speed, trace.SpeedMps[i]+share*(trace.SpeedMps[k]-trace.SpeedMps[i]))
		power = append(power, trace.PowerW[i])
		if at == end {
			break
		}
	}
	out, err := json.Marshal(map[string]any{"time_s": time, "distance_m": distance, "speed_mps": speed, "power_w": power})
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// One recording that can't be used doesn't spoil the others; alone it is the call's problem.
func TestOneBadRecording(t *testing.T) {
	h := newHarness(t, engine.Config{})
	good := `{"rider": {"mass_kg": 61, "power_w": 230}, "file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop-nour.fit}"}}`
	for name, bad := range map[string]string{
		"not-a-recording": `{"rider": {"mass_kg": 61, "power_w": 230}, "file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop.gpx}"}}`,
		"not-the-format":  `{"rider": {"mass_kg": 61, "power_w": 230}, "file": {"content": "nothing"}}`,
		"not-on-course":   `{"rider": {"mass_kg": 61, "power_w": 230}, "samples": {"time_s": [0, 60, 120], "latitude_deg": [1, 1.01, 1.02], "longitude_deg": [1, 1, 1]}}`,
	} {
		body := func(rides string) string {
			return `{"course": ` + orchard + `, "effort": {"kind": "own_power"}, "rides": [` + rides + `]}`
		}
		got := calibrated(t, h, "", body(bad+", "+good))
		if p := got.Rides[0].Problem; p == nil || p.Type != "/problems/"+name || got.Rides[1].Problem != nil || len(*p.Errors) == 0 || *(*p.Errors)[0].Pointer != "#/rides/0" {
			t.Errorf("%s: %+v, %+v", name, p, got.Rides[1].Problem)
		}
		w := h.send(t, request(http.MethodPost, "/v1/calibrations", "application/json", []byte(withFiles(t, body(bad)))))
		if w.Code < 400 || w.Code >= 500 {
			t.Errorf("%s alone: status %d", name, w.Code)
			continue
		}
		checkProblem(t, w, name)
	}
}

// Nothing of a recording stays: neither the answer, which is made anew and mustn't be held on
// the way, nor a course that was taken from it. Positions are told only where they are asked for.
func TestRecordingsAreNotKept(t *testing.T) {
	h := newHarness(t, engine.Config{})
	ride := `{"rides": [{"rider": {"mass_kg": 61}, "file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop-nour.fit}"}}]}`
	send := func(query string) (string, http.Header) {
		w := h.send(t, request(http.MethodPost, "/v1/calibrations"+query, "application/json", []byte(withFiles(t, ride))))
		if w.Code != http.StatusOK {
			t.Fatalf("%s: status %d: %.300s", query, w.Code, w.Body)
		}
		return w.Body.String(), w.Header()
	}
	kept := func() string {
		var lines []string
		for line := range strings.Lines(h.send(t, httptest.NewRequest(http.MethodGet, "/metrics", nil)).Body.String()) {
			if strings.HasPrefix(line, "parcours_cache_bytes") || strings.HasPrefix(line, "parcours_answers_bytes") {
				lines = append(lines, line)
			}
		}
		if len(lines) != 2 {
			t.Fatalf("metrics %q", lines)
		}
		return strings.Join(lines, "")
	}
	before := kept()
	first, header := send("")
	again, _ := send("")
	if first != again {
		t.Error("the same recording was answered differently")
	}
	if header.Get("Cache-Control") != "no-store" || header.Get("ETag") == "" {
		t.Errorf("header %v", header)
	}
	if after := kept(); after != before {
		t.Errorf("kept: %v, %v before", after, before)
	}
	if strings.Contains(first, "latitude") || strings.Contains(first, "course_id") {
		t.Error("the answer tells where it was")
	}
	if traced, _ := send("?include=trace"); strings.Contains(traced, "latitude") {
		t.Error("a trace tells where it was, unasked")
	}
	if placed, _ := send("?include=trace,positions"); !strings.Contains(placed, `"latitude_deg":[47.0`) {
		t.Error("no positions, though asked for")
	}
	if w := h.send(t, request(http.MethodPost, "/v1/calibrations?include=positions", "application/json", []byte(withFiles(t, ride)))); w.Code != http.StatusBadRequest {
		t.Errorf("positions without a trace: status %d", w.Code)
	}
}

// What lies near the ends of a recording is left out on request.
func TestTrimmedRecording(t *testing.T) {
	h := newHarness(t, engine.Config{})
	ride := `{"course": ` + orchard + `, "rides": [{"rider": {"mass_kg": 61}, "trim_start_m": 700, "trim_end_m": 300,
		"file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop-nour.fit}"}}]}`
	x := calibrated(t, h, "?include=trace", ride).Rides[0]
	if x.Laid.StartM < 690 || x.Laid.EndM > 4530 || x.Trace.DistanceM[0] < 690 {
		t.Errorf("%+v", *x.Laid)
	}
}

// A call that keeps nothing is answered at once, also where the caller would rather come back
// for the answer.
func TestRecordingsAreAnsweredAtOnce(t *testing.T) {
	h := newHarness(t, engine.Config{})
	r := request(http.MethodPost, "/v1/calibrations", "application/json", []byte(withFiles(t,
		`{"course": `+orchard+`, "rides": [{"rider": {"mass_kg": 61}, "file": {"encoding": "base64", "content": "{base64:testdata/examples/orchard-loop-nour.fit}"}}]}`)))
	r.Header.Set("Prefer", "respond-async")
	w := h.send(t, r)
	if w.Code != http.StatusOK || w.Header().Get("Preference-Applied") != "" || w.Header().Get("Location") != "" {
		t.Errorf("status %d, header %v", w.Code, w.Header())
	}
}
