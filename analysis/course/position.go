package course

import (
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/smooth"
)

// onSurface moves a point along the ray from the Earth's centre onto the ellipsoid
// that touches like near it: near has to be on the surface and within a few
// kilometres. The chord between two points d apart runs d²/8R below the surface,
// 2 cm at 1 km.
func onSurface(v, near geodesy.Vec) geodesy.Vec {
	// Perpendicular to the ray the two surfaces differ by less than the flattening
	// times the offset; only the radius matters here.
	return v.Scale(near.Norm() / v.Norm())
}

// smoothPositions returns the line with its white noise taken out and the standard
// deviation of that noise in metres per direction. A line that shows none is
// returned as it is.
func smoothPositions(at []float64, pos []geodesy.Vec, opt Options) ([]geodesy.Vec, float64) {
	if opt.Smoothing == None || len(pos) < minSmoothed || medianStep(at) > denseStepM {
		return pos, 0
	}
	origin := pos[len(pos)/2]
	y := [][]float64{make([]float64, len(pos)), make([]float64, len(pos)), make([]float64, len(pos))}
	for i, p := range pos {
		d := p.Sub(origin)
		y[0][i], y[1][i], y[2][i] = d.X, d.Y, d.Z
	}
	fit := smooth.Line(smooth.Samples{X: at, Y: y}, smooth.Options{})
	if fit.Sigma < leastPositionNoiseM {
		return pos, fit.Sigma
	}
	smoothed := make([]geodesy.Vec, len(pos))
	for i := range pos {
		v := origin.Add(geodesy.Vec{X: fit.Y[0][i], Y: fit.Y[1][i], Z: fit.Y[2][i]})
		smoothed[i] = onSurface(v, pos[i])
	}
	return smoothed, fit.Sigma
}

// headings returns the true direction of travel of each piece in degrees.
func headings(pos []geodesy.Vec) []float64 {
	h := make([]float64, len(pos)-1)
	for i := range h {
		h[i] = geodesy.Bearing(pos[i], pos[i+1])
	}
	return h
}

// curvatures returns the signed curvature at each node in 1/m, positive to the
// right: the turn between the mean headings of the stretches of curvatureReachM
// before and after the node, divided by the distance between their middles.
func curvatures(s, heading []float64) []float64 {
	turned := make([]float64, len(heading)) // heading without jumps of 360°
	for i := range heading {
		turned[i] = heading[i]
		if i > 0 {
			turned[i] = turned[i-1] + math.Remainder(heading[i]-heading[i-1], 360)
		}
	}
	sum := make([]float64, len(s)) // ∫ heading ds
	for i, h := range turned {
		sum[i+1] = sum[i] + float64(h*(s[i+1]-s[i]))
	}
	k := make([]float64, len(s))
	lo, hi := 0, 0
	for i := 1; i+1 < len(s); i++ {
		for lo+1 < i && s[i]-s[lo+1] >= curvatureReachM {
			lo++
		}
		for hi < i+1 || hi+1 < len(s) && s[hi]-s[i] < curvatureReachM {
			hi++
		}
		before := (sum[i] - sum[lo]) / (s[i] - s[lo])
		after := (sum[hi] - sum[i]) / (s[hi] - s[i])
		k[i] = (after - before) * math.Pi / 180 / ((s[hi] - s[lo]) / 2)
	}
	return k
}

// curvatureReachM is the length on either side of a node over which the heading is
// averaged for its curvature.
const curvatureReachM = 20
