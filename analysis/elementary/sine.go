package elementary

import "math"

// π/2 as a sum: twice 33 bits, whose products with a small whole number are exact, and
// the rest.
const (
	halfPiHead = 1.57079632673412561417e+00
	halfPiNext = 6.07710050630396597660e-11
	halfPiTail = 2.02226624879595063154e-21
)

// farthest is the argument beyond which whole turns are taken off first.
const farthest = 1e5

var (
	sineTerms   = [...]float64{8.33333333332248946124e-03, -1.98412698298579493134e-04, 2.75573137070700676789e-06, -2.50507602534068634195e-08, 1.58969099521155010221e-10}
	cosineTerms = [...]float64{4.16666666666666019037e-02, -1.38888888888741095749e-03, 2.48015872894767294178e-05, -2.75573143513906633035e-07, 2.08757232129817482790e-09, -1.13596475577881948265e-11}
)

const sineTerm3 = -1.66666666666666324348e-01

// Sincos returns the sine and the cosine of x radians, NaN for those of no finite
// angle. Beyond 10⁵ radians whole turns are taken off in the precision of x.
func Sincos(x float64) (sin, cos float64) {
	if math.Abs(x) > farthest || math.IsNaN(x) {
		x = math.Remainder(x, 2*math.Pi)
	}
	quarter := math.Round(x * (2 / math.Pi))
	whole := x - float64(quarter*halfPiHead)
	next := float64(quarter * halfPiNext)
	head := whole - next
	tail := float64(quarter*halfPiTail) - ((whole - head) - next)
	r := head - tail
	rest := (head - r) - tail
	s, c := kernels(r, rest)
	switch int(quarter) & 3 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// kernels returns the sine and the cosine of r + rest, |r| ≤ π/4.
func kernels(r, rest float64) (sin, cos float64) {
	z := float64(r * r)
	v := float64(z * r)
	p := float64(v * polynomial(z, sineTerms[:]))
	sin = r - ((float64(z*(float64(0.5*rest)-p)) - rest) - float64(v*sineTerm3))
	half := 0.5 * z
	w := 1 - half
	q := float64(z * float64(z*polynomial(z, cosineTerms[:])))
	cos = w + (((1 - w) - half) + (q - float64(r*rest)))
	return sin, cos
}

// Tan returns the tangent of x radians, of the domain of Sincos.
func Tan(x float64) float64 {
	sin, cos := Sincos(x)
	return sin / cos
}
