package api

import "math"

// The decimals to which results are rounded on output: well below what any input
// carries, and enough that sums and energy balances still close.
const (
	decimalsM       = 3 // metres, seconds, degrees of turn, per cent, m/s
	decimalsPower   = 3 // W
	decimalsWork    = 2 // J
	decimalsFood    = 2 // kcal, g, l
	decimalsDegrees = 7 // of latitude and longitude, 1 cm
	decimalsRatio   = 5 // shares, coefficients, drag areas, densities
)

// round rounds x to a number of decimals and gives no negative zero. What is so large that it
// has no decimals stays as it is.
func round(x float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	if math.Abs(x) > 1e300 {
		return x
	}
	return math.Round(x*scale)/scale + 0
}

// metres rounds a length, a time, an angle, a gradient or a speed.
func metres(x float64) float64 { return round(x, decimalsM) }

// finite returns a pointer to x rounded, nil where x isn't a finite number: what
// isn't known is absent from results.
func finite(x float64, decimals int) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	r := round(x, decimals)
	return &r
}

// rounded rounds a list.
func rounded(xs []float64, decimals int) []float64 {
	out := make([]float64, len(xs))
	for i, x := range xs {
		out[i] = round(x, decimals)
	}
	return out
}

// valueOr returns what p points to, or the fallback.
func valueOr[T any](p *T, fallback T) T {
	if p == nil {
		return fallback
	}
	return *p
}
