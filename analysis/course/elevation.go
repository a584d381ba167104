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
)

// elevations returns the elevation at increasing distances; nil when the line has
// none.
func (l *line) elevations(at []float64, opt Options, q *Quality) []float64 {
	s, z := l.known(q)
	switch {
	case len(s) == 0:
		q.warn("elevation-missing", math.NaN(), "the file has no elevations")
		return nil
	case opt.Smoothing == None || len(s) < minSmoothed:
		return interpolateAll(s, z, at)
	}
	fit := smooth.Line(smooth.Samples{X: s, Y: [][]float64{z}}, smooth.Options{Sigma: assumedNoise(opt.Smoothing)})
	q.ElevationNoiseM = fit.Sigma
	if fit.Sigma >= noisyM {
		q.warn("elevation-noisy", math.NaN(), "the elevations scatter by %.1f m", fit.Sigma)
	}
	if fit.Sigma < leastNoiseM {
		return interpolateAll(s, z, at)
	}
	return interpolateAll(s, fit.Y[0], at)
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

// known returns the samples that have an elevation and warns of stretches that have
// none.
func (l *line) known(q *Quality) (s, z []float64) {
	for i, v := range l.z {
		if !math.IsNaN(v) {
			s, z = append(s, l.s[i]), append(z, v)
		}
	}
	if len(s) == 0 || len(s) == len(l.s) {
		return s, z
	}
	if s[0] > bridgedM {
		q.warn("elevation-missing", 0, "no elevations for %.0f m", s[0])
	}
	j := 0 // the known sample before i
	for i := 1; i < len(s); i++ {
		missing := 0
		for ; l.s[j] < s[i]; j++ {
			if l.s[j] > s[i-1] {
				missing++
			}
		}
		if d := s[i] - s[i-1]; missing > 0 && d > bridgedM {
			q.warn("elevation-missing", s[i-1], "no elevations for %.0f m", d)
		}
	}
	if d := l.lengthM() - s[len(s)-1]; d > bridgedM {
		q.warn("elevation-missing", s[len(s)-1], "no elevations for %.0f m", d)
	}
	return s, z
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
