package hindsight

import (
	"math"
	"strings"
	"testing"

	"parcours.example/analysis/ride"
)

// field is eight riders of one course as they rode; the third's power meter reads as given.
func field(t *testing.T, reads float64) []Outcome {
	t.Helper()
	road := waves(t)
	var out []Outcome
	for i := range 8 {
		r := nour()
		r.MassKg = 58 + 4*float64(i)
		r.CdAM2 = 0.30 + 0.004*float64(i)
		power := 215 + 6*float64(i)
		rec := recorded(ridden0(t, road, r, allround(), watts(power)))
		if i == 2 {
			for k := range rec.Points {
				rec.Points[k].PowerW *= reads
			}
		}
		given := r
		given.CdAM2 *= 1 + 0.01*math.Sin(float64(3*i)) // nobody's is known that well
		given.CriticalPowerW, given.WPrimeJ = power, 15000
		a := examine(t, Case{Road: road, Rider: given, Setup: allround(), Effort: watts(power * 0.98), CdAM2: unset, Crr: unset, Ridden: rec})
		out = append(out, Outcome{Rider: string(rune('A' + i)), Account: a})
	}
	return out
}

// A power meter that is wrong stands out, by about as much as it is wrong, and nobody else does.
func TestDoubts(t *testing.T) {
	r := Together(field(t, 0.85))
	if len(r.Doubts) != 1 || r.Doubts[0].Rider != "C" {
		t.Fatalf("doubts %+v", r.Doubts)
	}
	d := r.Doubts[0]
	if d.AgainstFieldPct > -4 || d.PowerPct < 13 || d.PowerPct > 22 || d.MassKg > 0 {
		t.Errorf("%+v, want a meter that reads 15 %% low", d)
	}
	if w := d.Words(); !strings.Contains(w, "C rode") || !strings.Contains(w, "too low") || !strings.Contains(w, "not a verdict") {
		t.Error(w)
	}
	if r = Together(field(t, 1)); len(r.Doubts) != 0 {
		t.Errorf("doubts where all is well: %+v", r.Doubts)
	}
	if math.Abs(r.Known.BiasPct) > 0.5 || r.Known.SpreadPct > 1 || r.Predicted.BiasPct > -0.5 || r.Predicted.Riders != 8 {
		t.Errorf("accuracy %+v, with known power %+v", r.Predicted, r.Known)
	}
}

// Who gave more than the capability is told, whatever the field is.
func TestOverdrawn(t *testing.T) {
	road := waves(t)
	weak := nour()
	weak.CriticalPowerW = 200
	a := examine(t, Case{Road: road, Rider: weak, Setup: allround(), Effort: watts(200), CdAM2: unset, Crr: unset, Ridden: recorded(ridden0(t, road, nour(), allround(), watts(230)))})
	r := Together([]Outcome{{Rider: "A", Account: a}})
	if len(r.Doubts) != 1 || r.Doubts[0].OverdrawnJ < 10000 {
		t.Fatalf("%+v", r)
	}
	if w := a.Words(); !strings.Contains(w, "overdrawn") {
		t.Error(w)
	}
}

// Accuracy by hand: 1, 2, 6 % have the mean 3, the median 2, the deviation √7.
func TestAccuracy(t *testing.T) {
	a := accuracy([]float64{1, 6, 2})
	if math.Abs(a.BiasPct-3) > 1e-12 || a.MedianPct != 2 || math.Abs(a.SpreadPct-math.Sqrt(7)) > 1e-12 || a.WithinPct != 2 || math.Abs(a.BiasSEPct-math.Sqrt(7./3)) > 1e-12 {
		t.Errorf("%+v", a)
	}
	if a := accuracy(nil); a.Riders != 0 || !math.IsNaN(a.BiasPct) {
		t.Errorf("%+v", a)
	}
}

// The words name the parts that count, the largest first.
func TestWords(t *testing.T) {
	a := &Account{
		PredictedS: 3000, RiddenS: 3100, MovingS: 3060, RiddenPowerW: 220,
		Parts: Parts{PowerS: 70, DragS: -20, StopsS: 40, PacingS: 12, RestS: -2},
	}
	want := "Predicted 50:00, ridden 51:40: 1:40 longer. It comes from the power (+1:10), standing (+40 s), drag (−20 s) and when and where it was spent (+12 s)."
	if got := a.Words(); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	a.Halt = &ride.Error{AtM: 4200}
	if got := a.Words(); !strings.Contains(got, "past 4.2 km") && !strings.Contains(got, "past 4.20 km") {
		t.Error(got)
	}
}
