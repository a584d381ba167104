package calibrate

import (
	"context"
	"math"
	"testing"

	"parcours.example/internal/seeded"
)

// TestLeesFound rides random courses with two sheltered stretches. The known rider's are
// found with their drag, and the fit keeps clear of them.
func TestLeesFound(t *testing.T) {
	seed := seeded.First(t) + 40_000
	var found, factors, drag share
	for i := range uint64(seeded.Cases(80)) {
		tr, _, ok := newTrial(t, seed+i, realistic(), wake{0.2, 0.35, 0.7}, wake{0.6, 0.7, 0.5})
		lengthM := 0.0
		if ok {
			lengthM = tr.session.Course.LengthM()
		}
		if lengthM < 15000 {
			continue
		}
		lees, err := Lees(context.Background(), *tr.session, tr.cda, 0.02*tr.cda, tr.crr)
		if err != nil {
			t.Fatal(err)
		}
		both := len(lees) == 2
		for k, want := range []wake{{0.2, 0.35, 0.7}, {0.6, 0.7, 0.5}} {
			if !both {
				break
			}
			l := lees[k]
			both = math.Abs(l.StartM-want.startM*lengthM) < 700 && math.Abs(l.EndM-want.endM*lengthM) < 700
			factors.add(math.Abs(l.Factor-want.factor) <= max(2*l.FactorSE, 0.03))
		}
		found.add(both)
		if !both {
			t.Logf("seed %d, %v of %.0f m: %+v", seed+i, tr.kind, lengthM, lees)
		}
		e, err := Fit(context.Background(), []Session{*tr.session}, exact())
		if err != nil {
			t.Fatal(err)
		}
		if e.DragDetermined {
			drag.add(math.Abs(e.CdAM2/tr.cda-1) <= 0.05)
			if math.Abs(e.CdAM2/tr.cda-1) > 0.05 {
				t.Logf("seed %d, %v: drag %.3f for %.3f", seed+i, tr.kind, e.CdAM2, tr.cda)
			}
		}
	}
	found.demand(t, "both lees found", 0.8, 1)
	factors.demand(t, "factors within 2 standard errors or 0.03", 0.85, 1)
	drag.demand(t, "drag within 5 % with a quarter of the road sheltered", 0.9, 1)
}

// TestNoLees: riders alone are rarely found sheltered.
func TestNoLees(t *testing.T) {
	seed := seeded.First(t) + 50_000
	var none share
	for i := range uint64(seeded.Cases(80)) {
		tr, _, ok := newTrial(t, seed+i, realistic())
		if !ok {
			continue
		}
		lees, err := Lees(context.Background(), *tr.session, tr.cda, 0.02*tr.cda, tr.crr)
		if err != nil {
			continue // too short
		}
		none.add(len(lees) == 0)
		if len(lees) > 0 {
			t.Logf("seed %d, %v: %+v", seed+i, tr.kind, lees)
		}
	}
	none.demand(t, "no lee for a rider alone", 0.95, 1)
}
