package elementary

import "math"

// quotient is a rational function.
type quotient struct{ above, below []float64 }

func (q quotient) at(z float64) float64 {
	return polynomial(z, q.above) / polynomial(z, q.below)
}

// The error function by ranges of |x|: near 0 that of (erf(x) − x)/x in x², around 1
// that of erf(x) − erfOne in |x| − 1, beyond that of ln(x·erfc(x)) + x² + 9/16 in 1/x².
var (
	erfNear = quotient{
		above: []float64{
			1.28379167095512558561e-01, -3.25042107247001499370e-01, -2.84817495755985104766e-02, -5.77027029648944159157e-03,
			-2.37630166566501626084e-05,
		},
		below: []float64{
			1, 3.97917223959155352819e-01, 6.50222499887672944485e-02, 5.08130628187576562776e-03,
			1.32494738004321644526e-04, -3.96022827877536812320e-06,
		},
	}
	erfAroundOne = quotient{
		above: []float64{
			-2.36211856075265944077e-03, 4.14856118683748331666e-01, -3.72207876035701323847e-01, 3.18346619901161753674e-01,
			-1.10894694282396677476e-01, 3.54783043256182359371e-02, -2.16637559486879084300e-03,
		},
		below: []float64{
			1, 1.06420880400844228286e-01, 5.40397917702171048937e-01, 7.18286544141962662868e-02,
			1.26171219808761642112e-01, 1.36370839120290507362e-02, 1.19844998467991074170e-02,
		},
	}
	erfcFar = quotient{
		above: []float64{
			-9.86494403484714822705e-03, -6.93858572707181764372e-01, -1.05586262253232909814e+01, -6.23753324503260060396e+01,
			-1.62396669462573470355e+02, -1.84605092906711035994e+02, -8.12874355063065934246e+01, -9.81432934416914548592e+00,
		},
		below: []float64{
			1, 1.96512716674392571292e+01, 1.37657754143519042600e+02, 4.34565877475229228821e+02,
			6.45387271733267880336e+02, 4.29008140027567833386e+02, 1.08635005541779435134e+02, 6.57024977031928170135e+00,
			-6.04244152148580987438e-02,
		},
	}
	erfcFarthest = quotient{
		above: []float64{
			-9.86494292470009928597e-03, -7.99283237680523006574e-01, -1.77579549177547519889e+01, -1.60636384855821916062e+02,
			-6.37566443368389627722e+02, -1.02509513161107724954e+03, -4.83519191608651397019e+02,
		},
		below: []float64{
			1, 3.03380607434824582924e+01, 3.25792512996573918826e+02, 1.53672958608443695994e+03,
			3.19985821950859553908e+03, 2.55305040643316442583e+03, 4.74528541206955367215e+02, -2.24409524465858183362e+01,
		},
	}
)

// erfOne is about the error function of 1.
const erfOne = 8.45062911510467529297e-01

// Erfc returns the complementary error function of x, 1 − erf(x): 2 at −∞, 0 at +∞.
func Erfc(x float64) float64 {
	a := math.Abs(x)
	switch {
	case math.IsNaN(x):
		return x
	case a < 0.84375:
		erf := x + float64(x*erfNear.at(float64(x*x)))
		return 0.5 + (0.5 - erf)
	case a < 1.25:
		erf := math.Copysign(erfOne+erfAroundOne.at(a-1), x)
		return 1 - erf
	case a > 28:
		return 1 - math.Copysign(1, x)
	}
	if x < 0 {
		return 2 - erfcTail(a)
	}
	return erfcTail(a)
}

// erfcTail returns erfc of x, 1.25 ≤ x ≤ 28. The square of x is taken as that of its
// first bits, which is exact, and the rest.
func erfcTail(x float64) float64 {
	q := erfcFar
	if x >= 1/0.35 {
		q = erfcFarthest
	}
	bits := math.Float64frombits(math.Float64bits(x) &^ 0xffffffff)
	rest := float64((bits-x)*(bits+x)) + q.at(1/(x*x))
	return Exp(-float64(bits*bits)-0.5625) * Exp(rest) / x
}
