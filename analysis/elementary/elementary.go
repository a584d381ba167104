// Package elementary holds the elementary functions that the analysis needs, with the
// same bits as result on every processor and in every build.
//
// Those of the package math do not promise that: where the processor has a fused
// multiply-add, the compiler or an assembly routine may use it, and the last bit
// changes. A threshold that happens to lie there then decides differently. Here every
// product is rounded before it is added.
//
// The methods and coefficients are those of Sun Microsystems' fdlibm 5.3 (K. C. Ng),
// which carries this notice: Copyright (C) 1993 by Sun Microsystems, Inc. All rights
// reserved. Developed at SunPro, a Sun Microsystems, Inc. business. Permission to use,
// copy, modify, and distribute this software is freely granted, provided that this
// notice is preserved. Results are within 1 ulp, of Tan, Atan2, Erfc and Pow within a
// few.
package elementary

import "math"

// polynomial returns c[0] + c[1]·z + c[2]·z² + ….
func polynomial(z float64, c []float64) float64 {
	sum := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		sum = float64(sum*z) + c[i]
	}
	return sum
}

// Hypot returns √(x² + y²) for values whose squares are in range.
func Hypot(x, y float64) float64 {
	return math.Sqrt(float64(x*x) + float64(y*y))
}
