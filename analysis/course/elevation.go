package course

import (
	"math"

	"parcours.example/analysis/smooth"
)

// Noise assumed or looked for in elevations, in metres.
const (
	lightNoiseM = 0.3
	// strongNoiseM is what a receiver without barometer shows.
	strongNoiseM = 1.5
	// leastNoiseM is the noise below which elevations stay as they are.
	leastNoiseM = 0.02
	// noisyM is the noise from which to warn.
	noisyM = 1.0
	// bridgedM is the length of a stretch without elevation from which to warn.
	bridgedM = 200.0
	// smoothHoleM is the longest stretch without elevation that is bridged by a bent
	// line.
	smoothHoleM = 500.0
)

// elevations returns the elevation at increasing distances; nil when the line has
// none.
func (l *line) elevations(at []float64, opt Options, q *Quality) []float64 {
	if opt.Smoothing != None {
		l.repairElevations(q)
	}
	known := l.knownIndices()
	if len(known) == 0 {
		q.warn("elevation-missing", math.NaN(), "the file has no elevations")
		return nil
	}
	l.warnHoles(known, q)
	s, z, w := l.samples(known)
	if opt.Smoothing == None || len(known) < minSmoothed {
		s, z = knownOnly(s, z, w)
		return interpolateAll(s, z, at)
	}
	step := rounding(s, z)
	fit := smooth.Line(smooth.Samples{X: s, Y: [][]float64{z}, W: w},
		smooth.Options{Sigma: assumedNoise(opt.Smoothing), Rounding: step})
	q.ElevationNoiseM = fit.Sigma
	if fit.Sigma >= noisyM {
		q.warn("elevation-noisy", math.NaN(), "the elevations scatter by %.1f m", fit.Sigma)
	}
	if step >= quantisedM {
		q.warn("elevation-quantised", math.NaN(), "the elevations are rounded to %g m", step)
	}
	y := fit.Y[0]
	if fit.Sigma < leastNoiseM { // the samples as they are, only the holes bridged
		for i := range y {
			if w[i] > 0 {
				y[i] = z[i]
			}
		}
	}
	return interpolateAll(s, y, at)
}

// samples returns distance, elevation and weight of the points from the first to the
// last known elevation. Points without elevation in a hole of at most smoothHoleM
// have the weight 0 and let the line bend there; longer holes are bridged straight.
func (l *line) samples(known []int) (s, z, w []float64) {
	last := known[0]
	for _, k := range known {
		if l.s[k]-l.s[last] <= smoothHoleM {
			for i := last + 1; i < k; i++ {
				s, z, w = append(s, l.s[i]), append(z, 0), append(w, 0)
			}
		}
		s, z, w = append(s, l.s[k]), append(z, l.z[k]), append(w, 1)
		last = k
	}
	return s, z, w
}

// knownOnly returns the samples of weight above 0.
func knownOnly(s, z, w []float64) (s1, z1 []float64) {
	for i := range w {
		if w[i] > 0 {
			s1, z1 = append(s1, s[i]), append(z1, z[i])
		}
	}
	return s1, z1
}

// assumedNoise returns the noise that a strength of smoothing stands for, 0 where
// it is to be estimated.
func assumedNoise(s Smoothing) float64 {
	switch s {
	case Light:
		return lightNoiseM
	case Strong:
		return strongNoiseM
	default:
		return 0
	}
}

// rounding returns the step to which all elevations are rounded, in metres, as far
// as it shows in the gradients: above steepestRounding of the median distance; else 0.
func rounding(s, z []float64) float64 {
	least := steepestRounding * medianStep(s)
	for _, q := range [...]float64{10, 5, 2, 1, 0.5, 0.3048, 0.2, 0.1} {
		if q > least && allMultiples(z, q) {
			return q
		}
	}
	return 0
}

const (
	// steepestRounding is the gradient that one step of rounding between two samples
	// may feign.
	steepestRounding = 0.005
	// quantisedM is the step of rounding from which to warn.
	quantisedM = 0.5
)

// allMultiples reports whether all elevations are multiples of q; places without
// one count as such with 0.
func allMultiples(z []float64, q float64) bool {
	for _, v := range z {
		if math.Abs(v/q-math.Round(v/q)) > 1e-6/q {
			return false
		}
	}
	return true
}

// warnHoles warns of stretches without elevations.
func (l *line) warnHoles(known []int, q *Quality) {
	hole := func(from, to float64) {
		if to-from > bridgedM {
			q.warn("elevation-missing", from, "no elevations for %.0f m", to-from)
		}
	}
	hole(0, l.s[known[0]])
	for i := 1; i < len(known); i++ {
		if known[i]-known[i-1] > 1 {
			hole(l.s[known[i-1]], l.s[known[i]])
		}
	}
	hole(l.s[known[len(known)-1]], l.lengthM())
}

// interpolateAll returns the piecewise linear y(x) at increasing places, constant
// beyond its ends.
func interpolateAll(x, y, at []float64) []float64 {
	out := make([]float64, len(at))
	j := 0
	for i, s := range at {
		for j+2 < len(x) && x[j+1] < s {
			j++
		}
		if len(x) == 1 || s <= x[0] {
			out[i] = y[0]
			continue
		}
		f := min(max((s-x[j])/(x[j+1]-x[j]), 0), 1)
		out[i] = y[j] + float64(f*(y[j+1]-y[j]))
	}
	return out
}
