// Package geodesy holds positions on the WGS 84 ellipsoid and the distances
// between them.
//
// Positions are kept as Earth-centred, Earth-fixed vectors: they have no seam at
// the antimeridian and no singularity at the poles, can be averaged and smoothed
// component by component, and their chord is the geodesic to 10⁻⁹ of its length at
// 1 km before correction.
package geodesy

import (
	"math"

	"parcours.example/analysis/elementary"
)

// WGS 84 defining constants (NIMA TR8350.2): equatorial radius in metres and
// flattening.
const (
	equatorialRadius = 6378137.0
	flattening       = 1 / 298.257223563
	eccentricity2    = flattening * (2 - flattening)
)

// chordLimit is the chord in metres up to which the corrected chord stands for
// the geodesic; beyond it Vincenty's inverse formula is used.
const chordLimit = 1000.0

// Vec is a position in Earth-centred, Earth-fixed coordinates, in metres.
type Vec struct{ X, Y, Z float64 }

// FromDegrees returns the point of the ellipsoid's surface at a latitude and a
// longitude in degrees.
func FromDegrees(lat, lon float64) Vec {
	sinLat, cosLat := elementary.Sincos(lat * math.Pi / 180)
	sinLon, cosLon := elementary.Sincos(lon * math.Pi / 180)
	n := equatorialRadius / math.Sqrt(1-float64(eccentricity2*float64(sinLat*sinLat)))
	return Vec{n * cosLat * cosLon, n * cosLat * sinLon, n * (1 - eccentricity2) * sinLat}
}

// Degrees returns the latitude (−90…90) and longitude (−180…180) in degrees of
// the surface point on the ray from the Earth's centre through v. For a point of
// the surface that is v itself; for one h metres off it, it is up to 3·10⁻⁸·h
// degrees from the foot of its plumb line. The origin is taken for latitude 0,
// longitude 0.
func (v Vec) Degrees() (lat, lon float64) {
	// tan φ = Z / ((1 − e²)·p) for a point of the surface.
	p := elementary.Hypot(v.X, v.Y)
	lat = elementary.Atan2(v.Z, (1-eccentricity2)*p) * 180 / math.Pi
	return lat, elementary.Atan2(v.Y, v.X) * 180 / math.Pi
}

// Add returns v + w.
func (v Vec) Add(w Vec) Vec { return Vec{v.X + w.X, v.Y + w.Y, v.Z + w.Z} }

// Sub returns v − w.
func (v Vec) Sub(w Vec) Vec { return Vec{v.X - w.X, v.Y - w.Y, v.Z - w.Z} }

// Scale returns f·v.
func (v Vec) Scale(f float64) Vec { return Vec{float64(f * v.X), float64(f * v.Y), float64(f * v.Z)} }

// Dot returns the scalar product of v and w.
func (v Vec) Dot(w Vec) float64 {
	return float64(v.X*w.X) + float64(v.Y*w.Y) + float64(v.Z*w.Z)
}

// Norm returns the length of v in metres.
func (v Vec) Norm() float64 { return math.Sqrt(v.Dot(v)) }

// Lerp returns the point at fraction f (0…1) of the chord from v to w.
func (v Vec) Lerp(w Vec, f float64) Vec { return v.Add(w.Sub(v).Scale(f)) }

// Chord returns the straight distance from a to b in metres.
func Chord(a, b Vec) float64 { return b.Sub(a).Norm() }

// Distance returns the geodesic distance in metres between two points of the
// ellipsoid's surface. Up to 1 km it is the chord corrected for the arc of the
// mean radius (relative error below 10⁻⁹ for points exactly on the surface);
// above, Vincenty's inverse formula, and for nearly antipodal points its least sum
// over a point between them. The tests hold all three against Karney's geodesic (C. F. F.
// Karney, Algorithms for geodesics, J. Geodesy 87, 2013).
func Distance(a, b Vec) float64 {
	c := Chord(a, b)
	if c > chordLimit {
		return vincenty(a, b)
	}
	const meanRadius = 6371008.8
	// s = 2R·asin(c/2R) = c·(1 + c²/24R² + …).
	return c * (1 + c*c/(24*meanRadius*meanRadius))
}

// Frame is the local level frame at a point: unit vectors to the east and to the
// north.
type Frame struct{ East, North Vec }

// FrameAt returns the level frame at v. At a pole "east" is the Y axis.
func FrameAt(v Vec) Frame {
	lat, lon := v.Degrees()
	sinLat, cosLat := elementary.Sincos(lat * math.Pi / 180)
	sinLon, cosLon := elementary.Sincos(lon * math.Pi / 180)
	return Frame{
		East:  Vec{-sinLon, cosLon, 0},
		North: Vec{-sinLat * cosLon, -sinLat * sinLon, cosLat},
	}
}

// Bearing returns the true bearing in degrees (0 north, 90 east, in [0, 360)) in
// which b is seen from a, for points up to a few kilometres apart; 0 for equal
// points.
func Bearing(a, b Vec) float64 {
	f := FrameAt(a)
	d := b.Sub(a)
	deg := elementary.Atan2(d.Dot(f.East), d.Dot(f.North)) * 180 / math.Pi
	if deg < 0 {
		deg += 360
	}
	if deg >= 360 { // rounded up from just below 0
		return 0
	}
	return deg
}
