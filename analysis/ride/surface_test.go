package ride

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Quantiles in closed form: of a normal error and of the square of one. The quadrature
// across is at its worst where nothing else spreads the time.
func TestSurfaceQuantiles(t *testing.T) {
	for name, c := range map[string]struct {
		s           surface
		probability float64
		want        float64
		within      float64
	}{
		"straight":           {surface{timeS: 100, slope: 2}, 0.95, 100 + 2*1.644854, 1e-5},
		"straight and down":  {surface{timeS: 100, slope: -2}, 0.95, 100 + 2*1.644854, 1e-5},
		"bent upwards":       {surface{timeS: 100, bend: 2}, 0.95, 100 + 1.959964*1.959964, 1e-5},
		"bent downwards":     {surface{timeS: 100, bend: -2}, 0.05, 100 - 1.959964*1.959964, 1e-5},
		"curved across":      {surface{timeS: 100, across: 2}, 0.95, 100 + 1.959964*1.959964, 0.2},
		"both, exponential":  {surface{timeS: 100, bend: 2, across: 2}, 0.95, 100 + 2*math.Log(20), 0.05},
		"twisted, symmetric": {surface{timeS: 100, slope: 1, twist: 3}, 0.5, 100, 1e-5},
		"level":              {surface{timeS: 100}, 0.05, 100, 0},
	} {
		near(t, name, c.s.quantile(c.probability), c.want, c.within)
	}
}

// Where the time grows all along the way and nothing is curved across, the quantiles are
// the times that the surface goes through.
func TestSurfaceGoesThroughItsTimes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.Float64Range(0.5, 2.5).Draw(t, "z")
		down, up := rapid.Float64Range(1, 10).Draw(t, "down"), rapid.Float64Range(0.8, 1.25).Draw(t, "up over down")
		low, high := 1000-down, 1000+down*up
		s, outside := through(low, 1000, high, z, 1), normal(-z)
		near := func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-4*down {
				t.Fatalf("%s: %v s instead of %v", what, got, want)
			}
		}
		if turn := math.Abs(s.slope / s.bend); 2*turn-z < 5 {
			return // it falls again where errors still reach
		}
		near("low", s.quantile(outside), low)
		near("high", s.quantile(1-outside), high)
		one := through(low, 1000, math.NaN(), z, s.slope)
		near("low without high", one.quantile(outside), low)
		one = through(math.NaN(), 1000, high, z, s.slope)
		near("high without low", one.quantile(1-outside), high)
	})
}
