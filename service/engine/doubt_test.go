package engine

import (
	"math"
	"testing"

	"parcours.example/analysis/ride"
)

// doubted gives the assumed values by their place.
func doubted(p *Predictions) map[string]float64 {
	values := map[string]float64{}
	for _, a := range p.Assumptions {
		values[a.Pointer] = a.Value
	}
	return values
}

func TestPredictBands(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(fromFile(gpx("Oster loop", 200)), 220)
	r.Doubt, r.Sensitivities = unstatedDoubt(), true
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range p.Items {
		b, s := item.Band, item.Sensitivities
		if !(b.LowS < item.Ride.TimeS && item.Ride.TimeS < b.HighS) || b.CoveragePct != DefaultCoveragePct || len(s.Splits) != len(p.Spans) || s.Whole.PerKg <= 0 {
			t.Errorf("%v s within %+v, %+v", item.Ride.TimeS, b, s)
		}
		if item.Ride.Trace.TimeS != nil {
			t.Error("a trace that isn't asked for")
		}
	}
	if v := doubted(p); v["#/uncertainties/cda_m2"] != 0.03 || v["#/uncertainties/power_pct"] != 2.5 {
		t.Errorf("assumed %v", v)
	}
	r.Setups, r.Riders[0].CdAM2 = []ride.Setup{unstatedSetup()}, 0.3
	p, err = e.Predict(t.Context(), r)
	if v := doubted(p); err != nil || v["#/uncertainties/cda_m2"] != 0.03 {
		t.Errorf("one of two drag areas is given: assumed %v, %v", v, err)
	}
	r.Setups[0].CdAM2 = 0.3
	p, err = e.Predict(t.Context(), r)
	if v := doubted(p); err != nil || v["#/uncertainties/cda_m2"] != 0.01 {
		t.Errorf("the drag area is given: assumed %v, %v", v, err)
	}
}

func TestPredictCertainties(t *testing.T) {
	e := newEngine(t, Config{})
	r := atPower(fromProfile(100, 0), 220)
	r.Doubt = &Doubt{CoveragePct: 80}
	p, err := e.Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range p.Items {
		if b := item.Band; b.LowS != item.Ride.TimeS || b.HighS != item.Ride.TimeS || item.Sensitivities != nil {
			t.Errorf("%v s within %+v", item.Ride.TimeS, b)
		}
	}
	r.Doubt = nil
	if p, err = e.Predict(t.Context(), r); err != nil || p.Items[0].Band != nil {
		t.Errorf("a band that isn't asked for: %v", err)
	}
}

func TestPlanBands(t *testing.T) {
	r := toPlan()
	r.Doubt = unstatedDoubt()
	p, err := newEngine(t, Config{}).Plan(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range p.Items {
		if b := item.Band; !(b.LowS < item.Ride.TimeS && item.Ride.TimeS < b.HighS) {
			t.Errorf("%v s within %+v", item.Ride.TimeS, b)
		}
	}
}

// The place where the slow end halts is on the course, not on the stretch.
func TestBandHaltsOnTheCourse(t *testing.T) {
	r := atPower(wall(), 50)
	r.StartM = 500
	r.Riders = r.Riders[1:]
	r.Doubt = &Doubt{CoveragePct: 95, Uncertainties: ride.Uncertainties{PowerPct: 15}}
	p, err := newEngine(t, Config{}).Predict(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if b := p.Items[0].Band; !math.IsNaN(b.HighS) || b.Halt == nil || !(b.Halt.AtM > 1000 && b.Halt.AtM < 1200) {
		t.Errorf("got %+v", b)
	}
}
