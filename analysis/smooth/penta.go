package smooth

// penta is a symmetric positive definite matrix of bandwidth 2, kept as its lower
// bands: diag[i] = A[i,i], low1[i] = A[i+1,i], low2[i] = A[i+2,i]. After factor it
// holds D and the bands of the unit lower triangle L of A = L·D·Lᵀ.
type penta struct{ diag, low1, low2 []float64 }

func newPenta(n int) penta {
	return penta{make([]float64, n), make([]float64, n), make([]float64, n)}
}

// clear sets all entries to 0.
func (a *penta) clear() {
	clear(a.diag)
	clear(a.low1)
	clear(a.low2)
}

// factor replaces A by its factors D and L (Golub & Van Loan, Matrix Computations,
// 4th ed., section 4.3.6, for bandwidth 2).
func (a *penta) factor() {
	n := len(a.diag)
	d, l1, l2 := a.diag, a.low1[:n], a.low2[:n]
	for i := range n {
		inv := 1 / d[i]
		c1, c2 := l1[i], l2[i]
		l1[i], l2[i] = float64(c1*inv), float64(c2*inv)
		if i+1 < n {
			d[i+1] -= float64(l1[i] * c1)
			l1[i+1] -= float64(l1[i] * c2)
		}
		if i+2 < n {
			d[i+2] -= float64(l2[i] * c2)
		}
	}
}

// solve overwrites b with A⁻¹·b; a must be factored.
func (a *penta) solve(b []float64) {
	n := len(a.diag)
	d, l1, l2 := a.diag, a.low1[:n], a.low2[:n]
	b = b[:n]
	var p1, p2 float64 // what the two rows above hand down
	for i := range b {
		x := b[i] - p1
		b[i] = x / d[i]
		p1 = p2 + float64(l1[i]*x)
		p2 = float64(l2[i] * x)
	}
	var x1, x2 float64 // the two rows below
	for i := n - 1; i >= 0; i-- {
		x := b[i] - float64(l1[i]*x1) - float64(l2[i]*x2)
		b[i] = x
		x1, x2 = x, x1
	}
}

// inverse writes the bands of A⁻¹ into s; a must be factored. The recursion runs
// from the last row up and needs the bands only (Hutchinson & de Hoog, Smoothing
// noisy data with spline functions, Numer. Math. 47, 1985).
func (a *penta) inverse(s *penta) {
	n := len(a.diag)
	var s11, s12, s22 float64 // A⁻¹ at (i+1,i+1), (i+1,i+2), (i+2,i+2)
	for i := n - 1; i >= 0; i-- {
		l1, l2 := a.low1[i], a.low2[i]
		s02 := -float64(l1*s12) - float64(l2*s22)
		s01 := -float64(l1*s11) - float64(l2*s12)
		s00 := 1/a.diag[i] - float64(l1*s01) - float64(l2*s02)
		s.diag[i], s.low1[i], s.low2[i] = s00, s01, s02
		s11, s12, s22 = s00, s01, s11
	}
}
