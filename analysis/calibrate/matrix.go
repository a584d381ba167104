package calibrate

import "math"

// symmetric is a symmetric matrix of n rows, of which the lower triangle counts.
type symmetric struct {
	n int
	a []float64
}

func newSymmetric(n int) symmetric { return symmetric{n: n, a: make([]float64, n*n)} }

func (m symmetric) row(i int) []float64 { return m.a[i*m.n : (i+1)*m.n] }

// dot is the scalar product, in four sums so that the processor need not wait.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += float64(a[i] * b[i])
		s1 += float64(a[i+1] * b[i+1])
		s2 += float64(a[i+2] * b[i+2])
		s3 += float64(a[i+3] * b[i+3])
	}
	for ; i < len(a); i++ {
		s0 += float64(a[i] * b[i])
	}
	return (s0 + s1) + (s2 + s3)
}

// factor puts the Cholesky root L, with L·Lᵀ = m, in the place of a positive definite
// matrix, and reports whether it is one.
func (m symmetric) factor() bool {
	for i := range m.n {
		row := m.row(i)
		for j := range i {
			row[j] = (row[j] - dot(row[:j], m.row(j)[:j])) / m.a[j*m.n+j]
		}
		d := row[i] - dot(row[:i], row[:i])
		if !(d > 0) {
			return false
		}
		row[i] = math.Sqrt(d)
	}
	return true
}

// invert puts the inverse in the place of a positive definite matrix, whole, and reports
// whether it is one.
func (m symmetric) invert() bool {
	if !m.factor() {
		return false
	}
	// The rows of L⁻¹ turned round: u[j][i] = (L⁻¹)[i][j] for i ≥ j, so that products run
	// along rows.
	n := m.n
	u := newSymmetric(n)
	for j := range n {
		column := u.row(j)
		column[j] = 1 / m.a[j*n+j]
		for i := j + 1; i < n; i++ {
			column[i] = -dot(m.row(i)[j:i], column[j:i]) / m.a[i*n+i]
		}
	}
	for i := range n {
		for j := range i + 1 {
			v := dot(u.row(i)[i:], u.row(j)[i:])
			m.a[i*n+j], m.a[j*n+i] = v, v
		}
	}
	return true
}

// times returns the product of a whole matrix with a vector.
func (m symmetric) times(v []float64) []float64 {
	out := make([]float64, m.n)
	for i := range out {
		out[i] = dot(m.row(i), v)
	}
	return out
}

// invertScaled inverts a positive definite matrix whose rows have different units.
func (m symmetric) invertScaled() bool {
	scale := make([]float64, m.n)
	for i := range scale {
		d := m.a[i*m.n+i]
		if !(d > 0) {
			return false
		}
		scale[i] = 1 / math.Sqrt(d)
	}
	rescale := func() {
		for i := range m.n {
			row := m.row(i)
			for j := range row {
				row[j] *= scale[i] * scale[j]
			}
		}
	}
	rescale()
	for i := range m.n {
		if !(m.a[i*m.n+i] > 0) {
			return false
		}
	}
	if !m.invert() {
		return false
	}
	rescale()
	return true
}
