package geodesy

import (
	"math"

	"parcours.example/analysis/elementary"
)

// antipodal returns the geodesic distance in metres between two points nearly
// opposite each other, up to 50 km from being so. Every way from a to b crosses
// the plane through the Earth's centre that the chord from a to b is perpendicular
// to, some 90° from both, where Vincenty's formula is at its best. The shortest
// way crosses it where the sum of the two distances is least.
func antipodal(a, b Vec) float64 {
	u := b.Sub(a).Scale(1 / Chord(a, b))
	e := perpendicular(u)
	f := cross(u, e)
	through := func(theta float64) float64 {
		sin, cos := elementary.Sincos(theta)
		lat, lon := e.Scale(cos).Add(f.Scale(sin)).Degrees()
		m := FromDegrees(lat, lon)
		return vincenty(a, m) + vincenty(m, b)
	}
	// The sum has a minimum on either side of the Earth, and they may differ by
	// little: the samples find the one, and both are searched. It is flat there:
	// 10⁻³ rad off is 3 cm too long at most.
	const samples = 8
	const step = 2 * math.Pi / samples
	best, least := 0.0, math.Inf(1)
	for i := range samples {
		if d := through(float64(i) * step); d < least {
			best, least = float64(i)*step, d
		}
	}
	near := goldenSection(through, best-step, best+step)
	far := goldenSection(through, best+math.Pi-step, best+math.Pi+step)
	return min(least, through(near), through(far))
}

// goldenSection returns the place of the minimum of f between lo and hi to 10⁻³,
// for an f with one minimum there (J. Kiefer, Sequential minimax search for a
// maximum, Proc. AMS 4, 1953).
func goldenSection(f func(float64) float64, lo, hi float64) float64 {
	const ratio = 1 / math.Phi
	x1, x2 := hi-float64(ratio*(hi-lo)), lo+float64(ratio*(hi-lo))
	f1, f2 := f(x1), f(x2)
	for hi-lo > 1e-3 {
		if f1 < f2 {
			hi, x2, f2 = x2, x1, f1
			x1 = hi - float64(ratio*(hi-lo))
			f1 = f(x1)
		} else {
			lo, x1, f1 = x1, x2, f2
			x2 = lo + float64(ratio*(hi-lo))
			f2 = f(x2)
		}
	}
	return (lo + hi) / 2
}

// cross returns the vector product of v and w.
func cross(v, w Vec) Vec {
	return Vec{
		float64(v.Y*w.Z) - float64(v.Z*w.Y),
		float64(v.Z*w.X) - float64(v.X*w.Z),
		float64(v.X*w.Y) - float64(v.Y*w.X),
	}
}

// perpendicular returns a unit vector at right angles to the unit vector u.
func perpendicular(u Vec) Vec {
	axis := Vec{Z: 1}
	if math.Abs(u.Z) > 0.9 {
		axis = Vec{X: 1}
	}
	p := cross(u, axis)
	return p.Scale(1 / p.Norm())
}
