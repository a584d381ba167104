package capability

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// Checks against the world.

// trialsOf2018 are five trials to exhaustion, with the fits that were published for them:
// demonstration data of an open statistics package by authors of Mattioni Maturana et al.
// 2018, J. Sci. Med. Sport 21:742–747.
func trialsOf2018() []Effort {
	return unweighted([2]float64{100, 446}, [2]float64{172, 385}, [2]float64{434, 324}, [2]float64{857, 290}, [2]float64{1361, 280})
}

func unweighted(pairs ...[2]float64) []Effort {
	efforts := make([]Effort, len(pairs))
	for i, p := range pairs {
		efforts[i] = Effort{DurationS: p[0], PowerW: p[1], Weight: math.NaN()}
	}
	return efforts
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, tolerance)
	}
}

func fitOf(t *testing.T, c *Capability, kind Kind) *Fit {
	t.Helper()
	for i := range c.Fits {
		if c.Fits[i].Kind == kind {
			return &c.Fits[i]
		}
	}
	t.Fatalf("no fit %s: %v", kind, c.Absent)
	return nil
}

func mustDetermine(t *testing.T, efforts []Effort) *Capability {
	t.Helper()
	c, err := Determine(efforts)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The published values to their printed digits, but for the critical power of the
// work–time line: 266 W are printed where the equation gives 265.5. R² and the standard
// error of critical power were published too.
func TestPublishedFits(t *testing.T) {
	c := mustDetermine(t, trialsOf2018())
	for _, want := range []struct {
		kind                          Kind
		cp, cpTolerance, w, max       float64
		rSquared, rTolerance, cpError float64
	}{
		{ThreeParameterTime, 260, 0.5, 27410, 1004, 0.998, 5e-4, 3.1},
		{TwoParameterTime, 262, 0.5, 24174, math.NaN(), 0.997, 5e-4, 1.6},
		{WorkTimeLine, 266, 0.6, 20961, math.NaN(), 1.00, 5e-3, 3.0},
		{InverseTimeLine, 274, 0.5, 17784, math.NaN(), 0.987, 5e-4, 6.2},
	} {
		f := fitOf(t, c, want.kind)
		near(t, string(want.kind)+" CP in W", f.CriticalPowerW, want.cp, want.cpTolerance)
		near(t, string(want.kind)+" W′ in J", f.WPrimeJ, want.w, 0.6)
		near(t, string(want.kind)+" R²", f.RSquared, want.rSquared, want.rTolerance)
		near(t, string(want.kind)+" error of CP in W", f.CriticalPowerErrorW, want.cpError, 0.05)
		if !math.IsNaN(want.max) {
			near(t, "maximal power in W", f.MaxPowerW, want.max, 0.5)
		}
	}
}

// The same fits as another program has them from the stated regressions (computed).
func TestRecomputedFits(t *testing.T) {
	c := mustDetermine(t, trialsOf2018())
	for kind, want := range map[Kind][3]float64{
		ThreeParameterTime: {260.267, 27409.9, 1003.83},
		TwoParameterTime:   {262.205, 24174.5, math.NaN()},
		WorkTimeLine:       {265.472, 20961.1, math.NaN()},
		InverseTimeLine:    {273.794, 17783.9, math.NaN()},
	} {
		f := fitOf(t, c, kind)
		near(t, string(kind)+" CP in W", f.CriticalPowerW, want[0], 0.1)
		near(t, string(kind)+" W′ in J", f.WPrimeJ, want[1], 2)
		if !math.IsNaN(want[2]) {
			near(t, "maximal power in W", f.MaxPowerW, want[2], 2)
		}
	}
}

// Values, standard errors and a predicted power with its error, by the general solver of
// SciPy; testdata/reference.py says how they were made.
func TestFitsAgainstScipy(t *testing.T) {
	data, err := os.ReadFile("testdata/reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var references []struct {
		Name    string
		Efforts [][2]float64
		Weights []float64
		Fits    map[Kind]struct {
			Values, Errors []float64
			ResidualSD     float64 `json:"residual_sd"`
			RSquared       float64 `json:"r_squared"`
			PowerAt240S    float64 `json:"power_at_240_s"`
			ItsError       float64 `json:"its_error"`
		}
	}
	if err := json.Unmarshal(data, &references); err != nil {
		t.Fatal(err)
	}
	checked, worst := 0, 0.0
	for _, ref := range references {
		efforts := unweighted(ref.Efforts...)
		for i, w := range ref.Weights {
			efforts[i].Weight = w
		}
		c := mustDetermine(t, efforts)
		for kind, want := range ref.Fits {
			f := fitOf(t, c, kind)
			at := ref.Name + ", " + string(kind) + ": "
			values := []float64{f.CriticalPowerW, f.WPrimeJ, f.MaxPowerW}
			errors := []float64{f.CriticalPowerErrorW, f.WPrimeErrorJ, f.MaxPowerErrorW}
			for j, v := range want.Values {
				near(t, at+"value", values[j], v, 2e-6*v)
				near(t, at+"error", errors[j], want.Errors[j], 2e-6*want.Errors[j])
				worst = max(worst, math.Abs(values[j]/v-1), math.Abs(errors[j]/want.Errors[j]-1))
			}
			near(t, at+"residual standard deviation", f.ResidualSD, want.ResidualSD, 1e-6*want.ResidualSD)
			near(t, at+"R²", f.RSquared, want.RSquared, 1e-8)
			near(t, at+"power", f.PowerW(240), want.PowerAt240S, 1e-6*want.PowerAt240S)
			near(t, at+"error of the power", f.PowerErrorW(240), want.ItsError, 1e-5*want.ItsError)
			checked++
		}
	}
	t.Logf("%d fits, values and errors within %.1g", checked, worst)
	if checked < 20 {
		t.Errorf("only %d fits", checked)
	}
}
