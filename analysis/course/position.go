package course

import (
	"context"
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
// deviation of that noise in metres per level direction. A line that shows none is
// returned as it is.
func smoothPositions(ctx context.Context, at []float64, pos []geodesy.Vec, opt Options) ([]geodesy.Vec, float64, error) {
	if opt.Smoothing == None || len(pos) < minSmoothed || medianStep(at) > denseStepM {
		return pos, 0, nil
	}
	origin := pos[len(pos)/2]
	y := [][]float64{make([]float64, len(pos)), make([]float64, len(pos)), make([]float64, len(pos))}
	for i, p := range pos {
		d := p.Sub(origin)
		y[0][i], y[1][i], y[2][i] = d.X, d.Y, d.Z
	}
	fit, err := smooth.Line(ctx, smooth.Samples{X: at, Y: y}, smooth.Options{})
	if err != nil {
		return nil, 0, err
	}
	sigma := fit.Sigma * math.Sqrt(1.5) // two of the three directions are level
	if sigma < leastPositionNoiseM {
		return pos, sigma, nil
	}
	smoothed := make([]geodesy.Vec, len(pos))
	for i := range pos {
		v := origin.Add(geodesy.Vec{X: fit.Y[0][i], Y: fit.Y[1][i], Z: fit.Y[2][i]})
		smoothed[i] = onSurface(v, pos[i])
	}
	return smoothed, sigma, nil
}

// headings returns the true direction of travel of each piece in degrees.
func headings(pos []geodesy.Vec) []float64 {
	h := make([]float64, len(pos)-1)
	for i := range h {
		h[i] = geodesy.Bearing(pos[i], pos[i+1])
	}
	return h
}
