package geodesy

import (
	"math"

	"parcours.example/analysis/elementary"
)

// vincenty returns the geodesic distance between two surface points in metres by
// T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid with
// application of nested equations, Survey Review 23 (1975), symbols as there.
// Nearly antipodal points, where the iteration does not converge, are left to
// antipodal.
func vincenty(a, b Vec) float64 {
	const (
		semiMinor     = equatorialRadius * (1 - flattening)
		tolerance     = 1e-13 // rad of longitude, 0.6 µm on the ground
		maxIterations = 50
	)
	lat1, lon1 := a.Degrees()
	lat2, lon2 := b.Degrees()
	sinU1, cosU1 := elementary.Sincos(elementary.Atan((1 - flattening) * elementary.Tan(lat1*math.Pi/180)))
	sinU2, cosU2 := elementary.Sincos(elementary.Atan((1 - flattening) * elementary.Tan(lat2*math.Pi/180)))
	l := math.Remainder((lon2-lon1)*math.Pi/180, 2*math.Pi)

	lambda := l
	for range maxIterations {
		sinLambda, cosLambda := elementary.Sincos(lambda)
		sinSigma := elementary.Hypot(cosU2*sinLambda, float64(cosU1*sinU2)-float64(sinU1*cosU2*cosLambda))
		cosSigma := float64(sinU1*sinU2) + float64(cosU1*cosU2*cosLambda)
		sigma := elementary.Atan2(sinSigma, cosSigma)
		if sinSigma == 0 {
			break
		}
		sinAlpha := cosU1 * cosU2 * sinLambda / sinSigma
		cos2Alpha := 1 - float64(sinAlpha*sinAlpha)
		cos2SigmaM := 0.0 // on the equator
		if cos2Alpha > 0 {
			cos2SigmaM = cosSigma - float64(2*sinU1*sinU2)/cos2Alpha
		}
		c := flattening / 16 * cos2Alpha * (4 + float64(flattening*(4-float64(3*cos2Alpha))))
		twice := float64(2*cos2SigmaM*cos2SigmaM) - 1
		next := l + float64((1-c)*flattening*sinAlpha*
			(sigma+float64(c*sinSigma*(cos2SigmaM+float64(c*cosSigma*twice)))))
		if math.Abs(next) > math.Pi {
			break // nearly antipodal
		}
		if math.Abs(next-lambda) > tolerance {
			lambda = next
			continue
		}
		u2 := cos2Alpha * (equatorialRadius*equatorialRadius/(semiMinor*semiMinor) - 1)
		capA := 1 + float64(u2/16384*(4096+float64(u2*(-768+float64(u2*(320-float64(175*u2)))))))
		capB := u2 / 1024 * (256 + float64(u2*(-128+float64(u2*(74-float64(47*u2))))))
		deltaSigma := capB * sinSigma * (cos2SigmaM + float64(capB/4*
			(float64(cosSigma*twice)-
				float64(capB/6*cos2SigmaM*(float64(4*sinSigma*sinSigma)-3)*(float64(4*cos2SigmaM*cos2SigmaM)-3)))))
		return semiMinor * capA * (sigma - float64(deltaSigma))
	}
	return antipodal(a, b)
}
