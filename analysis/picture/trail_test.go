package picture

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/ride"
)

// someTrace is a ride of any speeds and powers.
func someTrace(t *rapid.T) ride.Trace {
	n := rapid.IntRange(2, 60).Draw(t, "samples")
	tr := ride.Trace{DistanceM: make([]float64, n), TimeS: make([]float64, n), SpeedMps: make([]float64, n), PowerW: make([]float64, n), WBalanceJ: make([]float64, n)}
	for i := range n {
		tr.SpeedMps[i] = rapid.Float64Range(1, 20).Draw(t, "speed")
		tr.PowerW[i] = rapid.Float64Range(0, 900).Draw(t, "power")
		tr.WBalanceJ[i] = rapid.Float64Range(-5000, 20_000).Draw(t, "balance")
		if i > 0 {
			dx := rapid.Float64Range(0.1, 60).Draw(t, "dx")
			tr.DistanceM[i] = tr.DistanceM[i-1] + dx
			tr.TimeS[i] = tr.TimeS[i-1] + dx/tr.SpeedMps[i]
		}
	}
	return tr
}

// However coarse the columns are, the powers add up to the ride's work, the mean of the
// speeds lies between the ride's, and the lowest balance is among those drawn.
func TestColumnsKeepWhatTheRideSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr := someTrace(t)
		r := newTrail(tr, rapid.Float64Range(0.5, 400).Draw(t, "column"))
		last := len(tr.TimeS) - 1
		work := 0.0
		powers := r.powers()
		for i := 0; i < len(powers); i += 2 {
			work += powers[i].value * (timeAt(tr, powers[i+1].m) - timeAt(tr, powers[i].m))
		}
		if want := r.workJ[last]; math.Abs(work-want) > 1e-6*want+1e-6 {
			t.Errorf("the columns' work is %v J, the ride's %v", work, want)
		}
		slow, fast := math.Inf(1), math.Inf(-1)
		for _, v := range tr.SpeedMps {
			slow, fast = min(slow, v), max(fast, v)
		}
		for _, at := range r.speeds() {
			if at.value < slow-1e-6 || at.value > fast+1e-6 {
				t.Errorf("%v m/s at %v m, the ride's are %v to %v", at.value, at.m, slow, fast)
			}
		}
		low, drawnLow := math.Inf(1), math.Inf(1)
		for _, j := range tr.WBalanceJ {
			low = min(low, j)
		}
		balances := r.balances()
		for i, at := range balances {
			drawnLow = min(drawnLow, at.value)
			if i > 0 && at.m < balances[i-1].m {
				t.Errorf("the balance at %v m comes after that at %v m", at.m, balances[i-1].m)
			}
		}
		if math.Abs(drawnLow-low) > 1e-6 {
			t.Errorf("the lowest balance is drawn at %v J, it is %v", drawnLow, low)
		}
	})
}

// A ride that is next to nothing beside a column still has its two ends.
func TestTrailOfNextToNothing(t *testing.T) {
	r := newTrail(ride.Trace{DistanceM: []float64{0, 0.25}, TimeS: []float64{0, 0.25}, SpeedMps: []float64{1, 1}, PowerW: []float64{80, 80}}, 250)
	if p := r.powers(); len(p) != 2 || p[0] != (reading{0, 80}) || p[1] != (reading{0.25, 80}) {
		t.Errorf("powers %v", p)
	}
}

// Between two samples the speed changes evenly; columns finer than the samples show that.
func TestSpeedsBetweenSamples(t *testing.T) {
	r := newTrail(ride.Trace{DistanceM: []float64{0, 100}, TimeS: []float64{0, 15}, SpeedMps: []float64{4, 10}, PowerW: []float64{200, 200}}, 1)
	for _, at := range r.speeds() {
		if want := 4 + 0.06*at.m; math.Abs(at.value-want) > 0.031 {
			t.Errorf("%v m/s at %v m, want %v", at.value, at.m, want)
		}
	}
}

// Dashes cover their share of a line, in order and without overlap.
func TestDashesCoverTheirShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := []point{{0, 0}}
		long := 0.0
		for i := range rapid.IntRange(1, 20).Draw(t, "points") {
			p := point{line[i].x + rapid.Float64Range(0.2, 30).Draw(t, "dx"), rapid.Float64Range(-9, 9).Draw(t, "y")}
			long += fromChord(p, line[i], line[i])
			line = append(line, p)
		}
		dash := []float64{rapid.Float64Range(1, 9).Draw(t, "dash"), rapid.Float64Range(1, 9).Draw(t, "gap")}
		covered, endX := 0.0, 0.0
		for _, piece := range dashed(line, dash) {
			if piece[0].x < endX-1e-9 {
				t.Errorf("a dash starts at %v, the one before ends at %v", piece[0].x, endX)
			}
			for i := 1; i < len(piece); i++ {
				covered += fromChord(piece[i], piece[i-1], piece[i-1])
			}
			endX = piece[len(piece)-1].x
		}
		period := dash[0] + dash[1]
		want := math.Floor(long/period)*dash[0] + min(math.Mod(long, period), dash[0])
		if math.Abs(covered-want) > 1e-6 {
			t.Errorf("dashes cover %v of %v px, want %v", covered, long, want)
		}
	})
	whole := []point{{0, 0}, {3, 4}}
	if got := dashed(whole, nil); len(got) != 1 || len(got[0]) != 2 {
		t.Errorf("a line without dashes is %v", got)
	}
}
