package elementary

import "math"

// arctangents are places at which the arctangent is known, as the sum of two numbers:
// those of ½, 1, 1½ and ∞.
var arctangents = [...]struct{ head, tail float64 }{
	{4.63647609000806093515e-01, 2.26987774529616870924e-17},
	{7.85398163397448278999e-01, 3.06161699786838301793e-17},
	{9.82793723247329054082e-01, 1.39033110312309984516e-17},
	{1.57079632679489655800e+00, 6.12323399573676603587e-17},
}

var arctangentTerms = [...]float64{
	3.33333333333329318027e-01, -1.99999999998764832476e-01, 1.42857142725034663711e-01, -1.11111104054623557880e-01,
	9.09088713343650656196e-02, -7.69187620504482999495e-02, 6.66107313738753120669e-02, -5.83357013379057348645e-02,
	4.97687799461593236017e-02, -3.65315727442169155270e-02, 1.62858201153657823623e-02,
}

// Atan returns the arctangent of x in radians, −π/2…π/2.
func Atan(x float64) float64 {
	return math.Copysign(arctangent(math.Abs(x)), x)
}

// arctangent returns that of x ≥ 0, from the nearest of the places where it is known.
func arctangent(x float64) float64 {
	var t float64
	var from int
	switch {
	case x < 7.0/16:
		return x - reduced(x)
	case x < 11.0/16:
		t, from = (float64(2*x)-1)/(2+x), 0
	case x < 19.0/16:
		t, from = (x-1)/(x+1), 1
	case x < 39.0/16:
		t, from = (x-1.5)/(1+float64(1.5*x)), 2
	default:
		t, from = -1/x, 3
	}
	known := arctangents[from]
	return known.head - ((reduced(t) - known.tail) - t)
}

// reduced returns t − atan(t) for |t| < 7/16.
func reduced(t float64) float64 {
	z := float64(t * t)
	return float64(t * float64(z*polynomial(z, arctangentTerms[:])))
}

// Atan2 returns the angle of the point (x, y) in radians, −π…π; 0 of the origin.
func Atan2(y, x float64) float64 {
	switch {
	case x == 0 && y == 0:
		return 0
	case math.Abs(y) > math.Abs(x): // from the nearer axis, where no ratio overflows
		return math.Copysign(math.Pi/2, y) - Atan(x/y)
	case x > 0:
		return Atan(y / x)
	}
	return math.Copysign(math.Pi, y) + Atan(y/x)
}
