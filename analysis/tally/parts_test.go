package tally

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/chance"
)

// Moments are those of the definition, whatever the size of the values.
func TestMomentsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		around := rapid.Float64Range(-1e9, 1e9).Draw(t, "around")
		var m moments
		var values []float64
		for _, v := range rapid.SliceOfN(rapid.Float64Range(-1000, 1000), 2, 40).Draw(t, "values") {
			values = append(values, math.Round(1000*v)/1000)
		}
		mean, squares := 0.0, 0.0
		for _, v := range values {
			mean += v / float64(len(values))
			m.add(math.Round(around) + v)
		}
		for _, v := range values {
			squares += (v - mean) * (v - mean)
		}
		sd := math.Sqrt(squares / float64(len(values)-1))
		got := m.mean()
		if math.Abs(got.Mean-math.Round(around)-mean) > 1e-6 || math.Abs(got.SD-sd) > 1e-6*(1+sd) {
			t.Fatalf("%v ± %v, not %v ± %v", got.Mean-math.Round(around), got.SD, mean, sd)
		}
	})
	var m moments
	for range MostRuns { // the largest sums there can be
		m.addThousandths(thousandths(math.Inf(1)))
		m.addThousandths(thousandths(math.Inf(-1)))
		m.n--
	}
	if got := m.mean(); got.Mean != 0 || !(got.SD > 1e11) || math.IsNaN(got.SD) {
		t.Errorf("%+v", got)
	}
}

func TestBinsHoldTheirTimes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := rapid.Int64Range(0, 3_276_799).Draw(t, "time")
		bin := binOf(ms)
		from, to := startOf(bin), startOf(bin+1)
		if s := float64(ms) / 1000; !(from <= s && (s < to || bin == 0)) {
			t.Fatalf("%v s in the bin of %v…%v s", s, from, to)
		}
		if to-from > max(0.1, from/8)+1e-9 {
			t.Fatalf("a bin of %v…%v s", from, to)
		}
	})
	if binOf(3_276_800) != countBins-1 || binOf(math.MaxInt64/perOctave/2) != countBins-1 {
		t.Error("long times have no bin")
	}
}

// Quantiles are those of the sorted times within the width of a bin, and their errors
// those of many samples.
func TestQuantiles(t *testing.T) {
	var all, errors []float64
	luck := chance.New(11)
	const samples, n = 200, 400
	for range samples {
		var b bins
		times := make([]float64, n)
		for i := range times {
			times[i] = 20 + 4*luck.Normal()
			b.add(thousandths(times[i]))
		}
		slices.Sort(times)
		q := b.quantile(0.1, n)
		if want := times[n/10]; math.Abs(q.S-want) > 1.6 {
			t.Fatalf("%v s, not %v s", q.S, want)
		}
		all, errors = append(all, q.S), append(errors, q.SE)
	}
	mean, sd, stated := 0.0, 0.0, 0.0
	for i := range all {
		mean += all[i] / samples
		stated += errors[i] / samples
	}
	for _, q := range all {
		sd += (q - mean) * (q - mean)
	}
	near(t, "quantile", mean, 20-4*1.2816, 0.3)
	near(t, "stated error over true", stated/math.Sqrt(sd/(samples-1)), 1, 0.3)
}

// The interval of odds holds the truth in about 95 of 100 samples, also near 0 and 1.
func TestIntervalsHoldTheTruth(t *testing.T) {
	for _, p := range []float64{0.02, 0.3, 0.97} {
		luck := chance.New(12, uint64(1000*p))
		const samples, n = 1000, 60
		held := 0.0
		for range samples {
			times := int32(0)
			for range n {
				if luck.Uniform() < p {
					times++
				}
			}
			if o := oddsIn(times, n); o.Low <= p && p <= o.High {
				held++
			}
		}
		near(t, "share held", held/samples, 0.95, 0.035)
	}
	// Wilson's interval of none in ten: z²/(n + z²).
	if o := oddsIn[int32](0, 10); o.SE != 0 || o.Low != 0 || math.Abs(o.High-0.2775) > 1e-4 {
		t.Errorf("%+v", o)
	}
}
