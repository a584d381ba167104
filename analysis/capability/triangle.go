package capability

import "math"

// triangle is the upper factor R of a matrix A = Q·R of two or three columns.
type triangle [3][3]float64

// dependent is the share of a column's length that must be left of it once the columns
// before are taken out, or it depends on them.
const dependent = 1e-9

// decompose factors the matrix with the given columns, which it turns into the
// orthonormal ones of Q (modified Gram–Schmidt). It reports whether the columns are
// independent.
func decompose(columns [][]float64) (r triangle, ok bool) {
	for j, a := range columns {
		whole := math.Sqrt(dot(a, a))
		for i, q := range columns[:j] {
			r[i][j] = dot(q, a)
			for k := range a {
				a[k] -= float64(r[i][j] * q[k])
			}
		}
		r[j][j] = math.Sqrt(dot(a, a))
		if !(r[j][j] > dependent*whole) {
			return r, false
		}
		for k := range a {
			a[k] /= r[j][j]
		}
	}
	return r, true
}

// inverseNorm2 returns gᵀ(RᵀR)⁻¹g.
func (r *triangle) inverseNorm2(g []float64) float64 {
	var z [3]float64
	sum := 0.0
	for j := range g {
		rest := g[j]
		for i := range j {
			rest -= float64(r[i][j] * z[i])
		}
		z[j] = rest / r[j][j]
		sum += float64(z[j] * z[j])
	}
	return sum
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += float64(x * b[i])
	}
	return sum
}
