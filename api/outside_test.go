package api_test

import (
	"math"
	"testing"

	"parcours.example/service/engine"
)

// Checks of whole answers against the world. "Computed" marks values worked out from
// the stated equation elsewhere.

// block is a time at a constant power.
type block struct{ seconds, powerW float64 }

// balances rides blocks of power through the service and returns the balance of W′ in J
// at the start and the end of each. Without air, rolling resistance and losses the
// power goes into speed alone, E = ΣP·t, so that the distances which take a block's time
// are known: Δx = √(2/m)·⅔·(E₁^1.5 − E₀^1.5)/P.
func balances(t *testing.T, h *harness, criticalPowerW, wPrimeJ float64, law string, blocks []block) []float64 {
	t.Helper()
	const massKg = 80.0
	at, energy := 0.0, 0.0
	ends := []float64{0}
	var steps []any
	for _, b := range blocks {
		next := energy + b.seconds*b.powerW
		at += math.Sqrt(2/massKg) * (math.Pow(next, 1.5) - math.Pow(energy, 1.5)) / (1.5 * b.powerW)
		energy, ends = next, append(ends, at)
		steps = append(steps, object{"end_m": at, "power_w": b.powerW})
	}
	p := predict(t, h, object{
		"course": object{"profile": object{"distance_m": []float64{0, at}}, "options": object{"smoothing": "none"}},
		"riders": []any{object{"mass_kg": massKg, "critical_power_w": criticalPowerW, "w_prime_j": wPrimeJ, "recovery_law": law}},
		"setups": []any{object{
			"mass_kg": 0.0, "crr": 0.0, "drivetrain_efficiency": 1.0, "wheel_inertia_kg_m2": 0.0, "bearing_n": 0.0, "bearing_n_s_per_m": 0.0,
		}},
		"conditions": object{"indoor": true, "shelter": 0.0},
		"effort":     object{"kind": "steps", "steps": steps},
	}).Predictions[0].Trace
	out := make([]float64, len(ends))
	clock, block := 0.0, 0
	for i, x := range p.DistanceM {
		if block < len(ends) && math.Abs(x-ends[block]) < 0.002 {
			if block > 0 {
				clock += blocks[block-1].seconds
			}
			if math.Abs(p.TimeS[i]-clock) > 0.002 {
				t.Fatalf("block %d ends after %v s, want %v: the check can't tell", block, p.TimeS[i], clock)
			}
			out[block] = p.WBalanceJ[i]
			block++
		}
	}
	if block != len(ends) {
		t.Fatalf("only %d of %d ends of blocks are in the trace", block, len(ends))
	}
	return out
}

// The balance of W′ on a worked ride (computed from the equations of Skiba et al. 2015,
// Eur. J. Appl. Physiol. 115:703–713; Bartram et al. 2018, Int. J. Sports Physiol.
// Perform. 13:724–729; Skiba et al. 2012, Med. Sci. Sports Exerc. 44:1526–1532): critical
// power 300 W, W′ 20 kJ, three times 60 s at 400 W and 60 s at 200 W.
func TestWorkedBalancesThroughTheService(t *testing.T) {
	h := newHarness(t, engine.Config{})
	var blocks []block
	for range 3 {
		blocks = append(blocks, block{60, 400}, block{60, 200})
	}
	for law, want := range map[string][]float64{
		"proportional":  {20000, 14000.0, 15555.1, 9555.1, 12262.2, 6262.2, 9822.8},
		"bartram_2018":  {20000, 14000.0, 16783.7, 10783.7, 15059.5, 9059.5, 14135.3},
		"integral_2012": {20000, 14335.2, 14956.0, 9844.0, 10957.1, 6283.4, 7786.7},
	} {
		for i, got := range balances(t, h, 300, 20_000, law, blocks) {
			if math.Abs(got-want[i]) > 0.1 {
				t.Errorf("%s: %v J after block %d, want %v", law, got, i, want[i])
			}
		}
	}
}

// Bartram et al. 2018: elite riders, critical power 393 W, W′ 23.3 kJ, ridden down at
// 626 W in 100 s, have the share of W′ back after 60 s below critical power that was
// observed, within 1.5 points.
func TestRecoveriesThroughTheService(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for deficitW, share := range map[float64]float64{0: 0, 50: 0.33, 100: 0.47, 150: 0.57, 200: 0.64} {
		w := balances(t, h, 393, 23_300, "bartram_2018", []block{{100, 626}, {60, 393 - deficitW}})
		if math.Abs(w[1]) > 0.5 || math.Abs(w[2]/23_300-share) > 0.015 {
			t.Errorf("%v W below: %v J when ridden down, then %.3f of W′ back, want %v", deficitW, w[1], w[2]/23_300, share)
		}
	}
}
