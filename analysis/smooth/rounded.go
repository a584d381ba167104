package smooth

import (
	"math"

	"parcours.example/analysis/elementary"
)

// intervals replaces the samples, known to lie within half a rounding step, by the
// working observations of the next Newton step. For a line value ŷ the true sample
// Y ~ N(ŷ, σ²) lies in [y − q/2, y + q/2]; with the mean m and the variance v of Y
// there, the log-likelihood has the slope (m − ŷ)/σ² and the curvature −(1 − v/σ²)/σ².
// A sample whose interval the line crosses in the middle weighs little: a long run
// of equal values says that the line stays within a step, not that it is level.
func (f *fitter) intervals(given [][]float64, weights []float64, q float64) {
	sigma := math.Sqrt(f.sigma2)
	for i, w := range weights {
		if w == 0 {
			continue
		}
		for k := range given { // one component wherever samples are rounded
			line := f.fit[k][i]
			m, v := truncated((given[k][i]-float64(q/2)-line)/sigma, (given[k][i]+float64(q/2)-line)/sigma)
			information := max(1-v, leastInformation)
			f.w[i] = float64(w * information)
			f.y[k][i] = line + float64(sigma*m)/information
		}
	}
}

// leastInformation keeps the normal equations definite, and a step bounded, where
// the intervals say nothing.
const leastInformation = 0.02

// truncated returns the mean and the variance of a standard normal variable given
// that it lies in [a, b], a < b (Johnson, Kotz & Balakrishnan, Continuous Univariate
// Distributions 1, 1994, section 10.1).
func truncated(a, b float64) (mean, variance float64) {
	const far = 6
	switch {
	case a > far: // the whole interval in the tail: all but at its near end
		return a + 1/a, 1 / float64(a*a)
	case b < -far:
		return b + 1/b, 1 / float64(b*b)
	}
	lo, hi := a, b // on the side where the difference of the tails is exact
	if a < 0 {
		lo, hi = -b, -a
	}
	mass := (elementary.Erfc(lo/math.Sqrt2) - elementary.Erfc(hi/math.Sqrt2)) / 2
	pa, pb := density(a), density(b)
	mean = (pa - pb) / mass
	variance = 1 + (float64(a*pa)-float64(b*pb))/mass - float64(mean*mean)
	return mean, min(max(variance, 0), 1)
}

// density is that of the standard normal distribution.
func density(x float64) float64 {
	return elementary.Exp(-float64(x*x)/2) / math.Sqrt(2*math.Pi)
}
