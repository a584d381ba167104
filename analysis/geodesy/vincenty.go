package geodesy

import "math"

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
	sinU1, cosU1 := math.Sincos(math.Atan((1 - flattening) * math.Tan(lat1*math.Pi/180)))
	sinU2, cosU2 := math.Sincos(math.Atan((1 - flattening) * math.Tan(lat2*math.Pi/180)))
	l := math.Remainder((lon2-lon1)*math.Pi/180, 2*math.Pi)

	lambda := l
	for range maxIterations {
		sinLambda, cosLambda := math.Sincos(lambda)
		sinSigma := math.Hypot(cosU2*sinLambda, cosU1*sinU2-sinU1*cosU2*cosLambda)
		cosSigma := sinU1*sinU2 + cosU1*cosU2*cosLambda
		sigma := math.Atan2(sinSigma, cosSigma)
		if sinSigma == 0 {
			break
		}
		sinAlpha := cosU1 * cosU2 * sinLambda / sinSigma
		cos2Alpha := 1 - sinAlpha*sinAlpha
		cos2SigmaM := 0.0 // on the equator
		if cos2Alpha > 0 {
			cos2SigmaM = cosSigma - 2*sinU1*sinU2/cos2Alpha
		}
		c := flattening / 16 * cos2Alpha * (4 + flattening*(4-3*cos2Alpha))
		next := l + (1-c)*flattening*sinAlpha*
			(sigma+c*sinSigma*(cos2SigmaM+c*cosSigma*(2*cos2SigmaM*cos2SigmaM-1)))
		if math.Abs(next) > math.Pi {
			break // nearly antipodal
		}
		if math.Abs(next-lambda) > tolerance {
			lambda = next
			continue
		}
		u2 := cos2Alpha * (equatorialRadius*equatorialRadius/(semiMinor*semiMinor) - 1)
		capA := 1 + u2/16384*(4096+u2*(-768+u2*(320-175*u2)))
		capB := u2 / 1024 * (256 + u2*(-128+u2*(74-47*u2)))
		deltaSigma := capB * sinSigma * (cos2SigmaM + capB/4*
			(cosSigma*(2*cos2SigmaM*cos2SigmaM-1)-
				capB/6*cos2SigmaM*(4*sinSigma*sinSigma-3)*(4*cos2SigmaM*cos2SigmaM-3)))
		return semiMinor * capA * (sigma - deltaSigma)
	}
	return antipodal(a, b)
}
