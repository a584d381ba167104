package capability

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// FuzzDetermine reads any bytes as efforts: an error, or fits whose values are a rider's.
func FuzzDetermine(f *testing.F) {
	f.Add(encoded(trialsOf2018()))
	f.Add(encoded([]Effort{{1, 4000, 1e6}, {86_400, 1, 1e-6}, {1, 4000, 1e6}, {1.5, 3999, 1}}))
	f.Fuzz(func(t *testing.T, data []byte) {
		var efforts []Effort
		for ; len(data) >= 24 && len(efforts) < 200; data = data[24:] {
			efforts = append(efforts, Effort{DurationS: number(data), PowerW: number(data[8:]), Weight: number(data[16:])})
		}
		c, err := Determine(efforts)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Detail == "" || e.Effort >= len(efforts) {
				t.Fatalf("%+v", err)
			}
			return
		}
		checkCapability(t, c, len(efforts))
	})
}

// Efforts of anywhere in their range, some of them alike.
func TestAnyEfforts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		durations := rapid.OneOf(rapid.Float64Range(1, 86_400), rapid.Float64Range(1, 100), rapid.SampledFrom([]float64{1, 60, 300, 86_400}))
		powers := rapid.OneOf(rapid.Float64Range(1, 4000), rapid.SampledFrom([]float64{1, 250, 250.000001, 4000}))
		weights := rapid.SampledFrom([]float64{math.NaN(), 1e-6, 1, 1e6})
		efforts := make([]Effort, rapid.IntRange(2, 8).Draw(t, "efforts"))
		for i := range efforts {
			efforts[i] = Effort{DurationS: durations.Draw(t, "duration"), PowerW: powers.Draw(t, "power"), Weight: weights.Draw(t, "weight")}
		}
		if c, err := Determine(efforts); err == nil {
			checkCapability(t, c, len(efforts))
		}
	})
}

// checkCapability demands what holds of every answer.
func checkCapability(t rapid.TB, c *Capability, n int) {
	t.Helper()
	if len(c.Fits)+len(c.Absent) != len(Kinds()) || c.Reason == "" {
		t.Fatalf("%+v", c)
	}
	for i := range c.Fits {
		checkFit(t, &c.Fits[i], n)
	}
	for _, w := range c.Warnings {
		if w.Detail == "" || w.Effort >= n {
			t.Errorf("%+v", w)
		}
	}
}

func checkFit(t rapid.TB, f *Fit, n int) {
	t.Helper()
	within := func(v, low, high float64) bool { return v >= low && v <= high }
	if !within(f.CriticalPowerW, 10, 1000) || !within(f.WPrimeJ, 500, 100_000) || f.RSquared > 1 || f.DegreesOfFreedom != n-f.Kind.Parameters() {
		t.Errorf("%+v", f)
	}
	if f.Kind.Parameters() == 2 != math.IsNaN(f.MaxPowerW) || f.MaxPowerW < f.CriticalPowerW {
		t.Errorf("%+v", f)
	}
	for _, e := range []float64{f.CriticalPowerErrorW, f.WPrimeErrorJ, f.MaxPowerErrorW, f.ResidualSD, f.PowerErrorW(1), f.DurationErrorS(2 * f.CriticalPowerW)} {
		if e < 0 || math.IsInf(e, 0) {
			t.Errorf("%+v", f)
		}
	}
	for _, s := range []float64{1, 60, 86_400} {
		if p := f.PowerW(s); !(p > 0) || math.IsInf(p, 0) {
			t.Errorf("%v W for %v s", p, s)
		}
	}
}

func number(data []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(data)) }

func encoded(efforts []Effort) []byte {
	var out []byte
	for _, e := range efforts {
		for _, v := range []float64{e.DurationS, e.PowerW, e.Weight} {
			out = binary.LittleEndian.AppendUint64(out, math.Float64bits(v))
		}
	}
	return out
}
