package api_test

import (
	"encoding/json"
	"math"
	"net/http"
	"testing"

	"parcours.example/service/engine"
)

// climbing asks for a rider's ride over 2 km at 6 %, from 500 m on.
func climbing(powerW float64, uncertainties object) object {
	return object{
		"course": object{"profile": object{"distance_m": []float64{0, 500, 2500}, "elevation_m": []float64{0, 0, 120}}, "options": object{"smoothing": "none"}},
		"riders": []any{object{"mass_kg": 72.0}}, "effort": object{"kind": "power", "power_w": powerW}, "start_m": 300.0, "uncertainties": uncertainties,
	}
}

// certain are uncertainties of nothing.
func certain() object {
	return object{
		"mass_kg": 0.0, "cda_m2": 0.0, "crr": 0.0, "power_pct": 0.0, "wind_mps": 0.0, "temperature_c": 0.0, "drivetrain_efficiency": 0.0,
	}
}

// TestBandsAreToldWithTheirSource demands that a band holds its time, grows with what
// is uncertain, names it, and is the time where nothing is.
func TestBandsAreToldWithTheirSource(t *testing.T) {
	h := newHarness(t, engine.Config{})
	p := predict(t, h, climbing(250, object{})).Predictions[0]
	if !(*p.TimeLowS < p.TimeS && p.TimeS < *p.TimeHighS) || p.Band.CoveragePct != 90 || len(p.Band.Shares) != 6 {
		t.Errorf("got %v to %v s for %v s, %+v", *p.TimeLowS, *p.TimeHighS, p.TimeS, p.Band)
	}
	sum := 0.0
	for _, s := range p.Band.Shares {
		sum += s.Share
	}
	if math.Abs(sum-1) > 1e-4 {
		t.Errorf("the shares sum to %v", sum)
	}
	wide := climbing(250, with(certain(), object{"power_pct": 8.0}))
	wide["coverage_pct"] = 50
	q := predict(t, h, wide).Predictions[0]
	if *q.TimeHighS-*q.TimeLowS <= *p.TimeHighS-*p.TimeLowS || len(q.Band.Shares) != 1 || q.Band.Shares[0].Source != "power_pct" {
		t.Errorf("got %v to %v s, %+v", *q.TimeLowS, *q.TimeHighS, q.Band)
	}
	none := predict(t, h, climbing(250, certain())).Predictions[0]
	if *none.TimeLowS != none.TimeS || *none.TimeHighS != none.TimeS || none.Band.SDS != 0 || len(none.Band.Shares) != 0 {
		t.Errorf("got %v to %v s for %v s, %+v", *none.TimeLowS, *none.TimeHighS, none.TimeS, none.Band)
	}
}

// TestBandWithoutASlowEnd demands the place on the course where the slow end halts.
func TestBandWithoutASlowEnd(t *testing.T) {
	h := newHarness(t, engine.Config{})
	p := predict(t, h, climbing(30, with(certain(), object{"power_pct": 15.0}))).Predictions[0]
	if p.TimeHighS != nil || p.TimeLowS == nil || p.Band.Halt == nil || p.Band.Halt.AtM < 500 || p.Band.Halt.Detail == "" {
		t.Errorf("got %+v", p)
	}
}

// TestSensitivitiesAreDifferences demands that a step of an input posted moves the times
// by what its sensitivity says.
func TestSensitivitiesAreDifferences(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := climbing(250, certain())
	raw, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	var told predictions
	w := h.send(t, request(http.MethodPost, "/v1/predictions?include=sensitivities", "application/json", raw))
	if err := json.Unmarshal(w.Body.Bytes(), &told); err != nil {
		t.Fatal(err)
	}
	p := told.Predictions[0]
	if len(p.Sensitivities) != 7 || len(p.Trace.PowerW) != 0 {
		t.Fatalf("got %+v", p)
	}
	for _, s := range p.Sensitivities {
		if len(s.SplitsS) != len(p.Splits) {
			t.Errorf("%s: %d of %d splits", s.Parameter, len(s.SplitsS), len(p.Splits))
		}
		moved := climbing(250, certain())
		switch s.Parameter {
		case "power_w":
			moved["effort"] = object{"kind": "power", "power_w": 250 + s.Step/10}
		case "mass_kg":
			moved["setups"] = []any{object{"mass_kg": 8 + s.Step/10}}
		case "crr":
			moved["setups"] = []any{object{"crr": 0.004 + s.Step/10}}
		default:
			continue
		}
		got := predict(t, h, moved).Predictions[0].TimeS - p.TimeS
		if want := s.TimeS / 10; math.Abs(got-want) > 0.02*math.Abs(want)+0.002 {
			t.Errorf("%s: a tenth of a step moves the time by %v s, told %v", s.Parameter, got, want)
		}
	}
	if predict(t, h, body).Predictions[0].Sensitivities != nil {
		t.Error("sensitivities that aren't asked for")
	}
}
