package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestInverse multiplies random positive definite matrices with their inverses.
func TestInverse(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 12; n++ {
		m := newSymmetric(n)
		for range n + 3 {
			v := make([]float64, n)
			for i := range v {
				v[i] = rng.NormFloat64() * math.Pow(10, float64(i%4))
			}
			for i := range v {
				for j := range v {
					m.a[i*n+j] += v[i] * v[j]
				}
			}
		}
		inverse := symmetric{n, append([]float64(nil), m.a...)}
		if !inverse.invertScaled() {
			t.Fatalf("%d rows: not positive definite", n)
		}
		for i := range n {
			for j := range n {
				got, want := dot(m.row(i), inverse.row(j)), 0.0
				if i == j {
					want = 1
				}
				if scale := math.Sqrt(m.a[i*n+i] / m.a[j*n+j]); math.Abs(got-want) > 1e-9*scale {
					t.Errorf("%d rows: (m·m⁻¹)[%d][%d] = %v", n, i, j, got)
				}
			}
		}
	}
	if (symmetric{2, []float64{1, 2, 2, 1}}).invertScaled() {
		t.Error("an indefinite matrix was inverted")
	}
}
