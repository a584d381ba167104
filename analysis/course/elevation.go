package course

import (
	"context"
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/smooth"
)

// Noise assumed or looked for in elevations, in metres.
const (
	// lightNoiseM is what a barometer shows, strongNoiseM a receiver without one.
	lightNoiseM  = 0.3
	strongNoiseM = 1.5
	// leastNoiseM is the noise below which elevations stay as they are.
	leastNoiseM = 0.02
	// noisyM is the noise from which to warn.
	noisyM = 1.0
	// noisyShare is the share of the step of rounding that noise must exceed to be more
	// than the rounding's own, 0.29.
	noisyShare = 0.4
	// bridgedM is the length of a stretch without elevation from which to warn.
	bridgedM = 200.0
	// smoothHoleM is the longest stretch without elevation that is bridged by a bent
	// line.
	smoothHoleM = 500.0
)

// elevations returns the elevation at increasing distances; nil when the line has
// none. It fails with the context's error.
func (l *line) elevations(ctx context.Context, at []float64, opt Options, q *Quality) ([]float64, error) {
	read := l.heights()
	if len(read.z) == 0 {
		q.warn("elevation-missing", math.NaN(), "the file has no elevations")
		return nil, nil
	}
	l.warnHoles(read, q)
	m := mending{heights: l.heights(), q: q, left: opt.Smoothing == None, closed: l.isClosed()}
	if err := m.mend(ctx); err != nil {
		return nil, err
	}
	s, z, err := l.smoothed(ctx, &m, opt, q)
	if err != nil {
		return nil, err
	}
	if opt.Smoothing == None {
		s, z = read.s, read.z
	}
	return interpolateAll(s, z, at), nil
}

// isClosed reports whether the line is known to end where it starts.
func (l *line) isClosed() bool {
	return l.pos != nil && geodesy.Chord(l.pos[0], l.pos[len(l.pos)-1]) <= closedM
}

// smoothed returns the elevations after mending with their noise taken out, and tells
// what noise that is. Too few of them, or such as show no noise, are returned as they
// are.
func (l *line) smoothed(ctx context.Context, m *mending, opt Options, q *Quality) (s, z []float64, err error) {
	if m.step >= quantisedM {
		q.warn("elevation-quantised", math.NaN(), "the elevations are rounded to %g m: gradients over short stretches are rough", m.step)
	}
	if len(m.z) < minSmoothed {
		return m.s, m.z, nil
	}
	s, z, w := l.samples(m)
	samples := smooth.Samples{X: s, Y: [][]float64{z}, W: w}
	fit, err := smooth.Line(ctx, samples, smooth.Options{Rounding: m.step})
	if err != nil {
		return nil, nil, err
	}
	q.ElevationNoiseM = fit.Sigma
	if fit.Sigma >= max(noisyM, noisyShare*m.step) {
		q.warn("elevation-noisy", math.NaN(), "the elevations scatter by %.1f m: gradients over short stretches are rough", fit.Sigma)
	}
	if sigma := assumedNoise(opt.Smoothing, fit.Sigma); sigma != fit.Sigma {
		if fit, err = smooth.Line(ctx, samples, smooth.Options{Sigma: sigma, Rounding: m.step}); err != nil {
			return nil, nil, err
		}
	}
	y := fit.Y[0]
	if fit.Sigma < leastNoiseM { // the samples as they are, only the holes bridged
		for i := range y {
			if w[i] > 0 {
				y[i] = z[i]
			}
		}
	}
	return s, y, nil
}

// samples returns distance, elevation and weight of the points from the first to the
// last known elevation. Points without elevation in a hole of at most smoothHoleM
// have the weight 0 and let the line bend there; longer holes, tunnels and bridges are
// bridged straight.
func (l *line) samples(m *mending) (s, z, w []float64) {
	size := len(l.s)
	s, z, w = make([]float64, 0, size), make([]float64, 0, size), make([]float64, 0, size)
	i, straight := 0, m.straight
	for k, at := range m.s {
		bends := k > 0 && at-m.s[k-1] <= smoothHoleM
		for len(straight) > 0 && straight[0][1] <= at {
			bends = bends && straight[0][1] < at
			straight = straight[1:]
		}
		for ; i < size && l.s[i] < at; i++ {
			if bends {
				s, z, w = append(s, l.s[i]), append(z, 0), append(w, 0)
			}
		}
		s, z, w = append(s, at), append(z, m.z[k]), append(w, 1)
		i++
	}
	return s, z, w
}

// assumedNoise returns the noise that a strength of smoothing takes out where so much
// was estimated, both in metres.
func assumedNoise(s Smoothing, estimated float64) float64 {
	switch s {
	case Light:
		return min(estimated, lightNoiseM)
	case Strong:
		return max(estimated, strongNoiseM)
	default:
		return estimated
	}
}

// rounding returns the step to which all elevations are rounded, in metres, as far
// as it shows in the gradients: above steepestRounding of the median distance; else 0.
func rounding(s, z []float64) float64 {
	if allEqual(z) {
		return 0
	}
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

// allEqual reports whether no two elevations differ.
func allEqual(z []float64) bool {
	for _, v := range z {
		if v != z[0] {
			return false
		}
	}
	return true
}

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
func (l *line) warnHoles(known heights, q *Quality) {
	hole := func(from, to float64) {
		if to-from > bridgedM {
			q.warn("elevation-missing", from, "no elevations for %.0f m", to-from)
		}
	}
	hole(0, known.s[0])
	next := 0 // the first point after a known one
	for k := 1; k < len(known.s); k++ {
		for next < len(l.s) && l.s[next] <= known.s[k-1] {
			next++
		}
		if l.s[next] < known.s[k] {
			hole(known.s[k-1], known.s[k])
		}
	}
	hole(known.s[len(known.s)-1], l.lengthM())
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
		if len(x) == 1 || s <= x[j] {
			out[i] = y[j]
			continue
		}
		if s >= x[j+1] {
			out[i] = y[j+1]
			continue
		}
		out[i] = y[j] + float64((s-x[j])/(x[j+1]-x[j])*(y[j+1]-y[j]))
	}
	return out
}
