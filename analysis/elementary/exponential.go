package elementary

import "math"

// The natural logarithm of 2 as a sum: the first 33 bits, whose product with an
// exponent is exact, and the rest.
const (
	ln2Head = 6.93147180369123816490e-01
	ln2Tail = 1.90821492927058770002e-10
)

var (
	exponentialTerms = [...]float64{1.66666666666666019037e-01, -2.77777777770155933842e-03, 6.61375632143793436117e-05, -1.65339022054652515390e-06, 4.13813679705723846039e-08}
	logarithmOdd     = [...]float64{6.666666666666735130e-01, 2.857142874366239149e-01, 1.818357216161805012e-01, 1.479819860511658591e-01}
	logarithmEven    = [...]float64{3.999999999940941908e-01, 2.222219843214978396e-01, 1.531383769920937332e-01}
)

// Arguments beyond which e to the power of them is infinite or 0.
const (
	overflows  = 709.782712893384
	underflows = -745.1332191019412
)

// Exp returns e to the power of x.
func Exp(x float64) float64 {
	switch {
	case math.IsNaN(x):
		return x
	case x > overflows:
		return math.Inf(1)
	case x < underflows:
		return 0
	}
	if -math.Ln2/2 < x && x < math.Ln2/2 { // most are, and then nothing is to be reduced
		return reducedExp(x, 0)
	}
	k := math.Round(x / math.Ln2)
	return scaled(reducedExp(x-float64(k*ln2Head), float64(k*ln2Tail)), int(k))
}

// reducedExp returns e to the power of head − tail, which is within ±ln 2/2.
func reducedExp(head, tail float64) float64 {
	r := head - tail
	z := float64(r * r)
	p := &exponentialTerms
	sum := float64(p[4]*z) + p[3]
	sum = float64(sum*z) + p[2]
	sum = float64(sum*z) + p[1]
	sum = float64(sum*z) + p[0]
	c := r - float64(z*sum)
	return 1 - ((tail - float64(r*c)/(2-c)) - head)
}

// scaled returns y·2ᵏ for y near 1.
func scaled(y float64, k int) float64 {
	if k <= -1022 || k >= 1023 {
		return math.Ldexp(y, k)
	}
	return float64(y * math.Float64frombits(uint64(k+1023)<<52))
}

// Log returns the natural logarithm of x: −Inf at 0, NaN below.
func Log(x float64) float64 {
	switch {
	case math.IsNaN(x) || math.IsInf(x, 1):
		return x
	case x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	}
	fraction, exponent := math.Frexp(x)
	if fraction < math.Sqrt2/2 {
		fraction, exponent = 2*fraction, exponent-1
	}
	f, k := fraction-1, float64(exponent)
	s := f / (2 + f)
	z := float64(s * s)
	w := float64(z * z)
	odd := float64(z * polynomial(w, logarithmOdd[:]))
	even := float64(w * polynomial(w, logarithmEven[:]))
	half := float64(0.5 * float64(f*f))
	return float64(k*ln2Head) - ((half - (float64(s*(half+odd+even)) + float64(k*ln2Tail))) - f)
}

// Atanh returns the inverse hyperbolic tangent of x, −1…1; where x is small its error is
// 10⁻¹⁶ in all.
func Atanh(x float64) float64 { return Log((1+x)/(1-x)) / 2 }

// Pow returns x to the power of y for x > 0; of larger powers the last digits are
// less certain, by a share of about |y·ln x|·10⁻¹⁶.
func Pow(x, y float64) float64 { return Exp(y * Log(x)) }
