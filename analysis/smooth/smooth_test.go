package smooth

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// randomPenta draws a diagonally dominant matrix as bands and in full.
func randomPenta(t *rapid.T) (penta, *mat.SymDense) {
	n := rapid.IntRange(1, 12).Draw(t, "n")
	entry := rapid.Float64Range(-1, 1)
	a, full := newPenta(n), mat.NewSymDense(n, nil)
	for i := range n {
		a.diag[i] = 4.5 + entry.Draw(t, "d")
		full.SetSym(i, i, a.diag[i])
		if i+1 < n {
			a.low1[i] = entry.Draw(t, "l1")
			full.SetSym(i, i+1, a.low1[i])
		}
		if i+2 < n {
			a.low2[i] = entry.Draw(t, "l2")
			full.SetSym(i, i+2, a.low2[i])
		}
	}
	return a, full
}

// The banded solver and the bands of the inverse agree with a dense one.
func TestPentaAgainstDense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, full := randomPenta(t)
		n := len(a.diag)
		b := make([]float64, n)
		for i := range b {
			b[i] = rapid.Float64Range(-10, 10).Draw(t, "b")
		}
		var want mat.VecDense
		var inverse mat.Dense
		if want.SolveVec(full, mat.NewVecDense(n, b)) != nil || inverse.Inverse(full) != nil {
			t.Fatal("the dense matrix is singular")
		}
		got, s := append([]float64(nil), b...), newPenta(n)
		a.factor()
		a.solve(got)
		a.inverse(&s)
		for i := range n {
			near(t, got[i], want.AtVec(i))
			near(t, s.diag[i], inverse.At(i, i))
			if i+1 < n {
				near(t, s.low1[i], inverse.At(i, i+1))
			}
			if i+2 < n {
				near(t, s.low2[i], inverse.At(i, i+2))
			}
		}
	})
}

func near(t *rapid.T, got, want float64) {
	if math.Abs(got-want) > 1e-10*(1+math.Abs(want)) {
		t.Fatalf("got %v, want %v", got, want)
	}
}

// uneven returns n abscissae about step apart.
func uneven(r *rand.Rand, n int, step float64) []float64 {
	x := make([]float64, n)
	for i := 1; i < n; i++ {
		x[i] = x[i-1] + step*(0.5+r.Float64())
	}
	return x
}

// A straight line comes back exactly, whatever the abscissae and weights.
func TestLineKeepsAStraightLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		x := uneven(r, rapid.IntRange(1, 200).Draw(t, "n"), 8)
		y, w := make([]float64, len(x)), make([]float64, len(x))
		for i := range x {
			y[i], w[i] = 300-0.07*x[i], 1
			if i%7 == 3 {
				y[i], w[i] = 0, 0 // not observed
			}
		}
		fit := lineThrough(t, Samples{X: x, Y: [][]float64{y}, W: w}, Options{})
		for i := range x {
			if len(x) >= 8 && math.Abs(fit.Y[0][i]-(300-0.07*x[i])) > 1e-6 {
				t.Fatalf("sample %d of %d: %v, want %v", i, len(x), fit.Y[0][i], 300-0.07*x[i])
			}
		}
	})
}

// The noise that was drawn is estimated to a twentieth, on lines with corners, for one component and
// for several, for short lines and for such that need a pilot fit.
func TestLineFindsTheNoise(t *testing.T) {
	for _, n := range []int{400, 6000} {
		for _, sigma := range []float64{0.1, 0.5, 2} {
			for components := 1; components <= 3; components += 2 {
				r := rand.New(rand.NewPCG(4, uint64(n)))
				s := Samples{X: uneven(r, n, 8), Y: make([][]float64, components)}
				sum := 0.0
				for k := range s.Y {
					s.Y[k] = make([]float64, n)
					for i, x := range s.X {
						e := sigma * r.NormFloat64()
						s.Y[k][i] = math.Abs(math.Mod(x, 1600)-800)*0.06 + e
						sum += e * e
					}
				}
				drawn := math.Sqrt(sum / float64(n*components))
				fit := lineThrough(t, s, Options{})
				t.Logf("%d samples, %d components: σ %.3f of %.3f, %.0f parameters, %d solutions", n, components, fit.Sigma, drawn, fit.Freedom, fit.Iterations)
				if math.Abs(fit.Sigma/drawn-1) > 0.05 {
					t.Errorf("%d samples, %d components: σ %.3f, want %.3f", n, components, fit.Sigma, drawn)
				}
			}
		}
	}
}

// A sharp corner stays sharp under noise: that is what the heavy tails are for.
func TestLineKeepsCorners(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	x := uneven(r, 600, 8)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = math.Max(0, x[i]-2400)*0.1 + 0.2*r.NormFloat64()
	}
	fit := lineThrough(t, Samples{X: x, Y: [][]float64{y}}, Options{})
	for i := range x {
		if want := math.Max(0, x[i]-2400) * 0.1; math.Abs(fit.Y[0][i]-want) > 0.2 {
			t.Errorf("at %.0f: %.2f, want %.2f", x[i], fit.Y[0][i], want)
		}
	}
}

// A line rounded to whole units comes back as a line, not as stairs.
func TestLineOfRoundedSamples(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	x := uneven(r, 2000, 3)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = math.Round(0.002*x[i] + 0.3)
	}
	fit := lineThrough(t, Samples{X: x, Y: [][]float64{y}}, Options{Rounding: 1})
	for i := range x {
		if want := 0.002*x[i] + 0.3; math.Abs(fit.Y[0][i]-want) > 0.35 {
			t.Errorf("at %.0f: %.2f, want %.2f", x[i], fit.Y[0][i], want)
		}
	}
}

// A given noise is kept.
func TestLineWithGivenNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	x := uneven(r, 300, 8)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = math.Sin(x[i]/200) + 0.1*r.NormFloat64()
	}
	if fit := lineThrough(t, Samples{X: x, Y: [][]float64{y}}, Options{Sigma: 1.5}); fit.Sigma != 1.5 {
		t.Errorf("σ %v, want 1.5", fit.Sigma)
	}
}

// truncated agrees with sums over the interval.
func TestTruncated(t *testing.T) {
	for _, c := range [][2]float64{{-1, 1}, {-0.3, 2}, {1, 1.5}, {-4, -3}, {3, 9}, {5.9, 6.4}, {-30, 0.1}, {-7, -6.1}, {6.5, 8}} {
		mean, variance := truncated(c[0], c[1])
		const n = 200_000
		var mass, first, second float64
		for i := range n {
			x := c[0] + (c[1]-c[0])*(float64(i)+0.5)/n
			p := math.Exp(-float64(x*x) / 2)
			mass, first, second = mass+p, first+p*x, second+p*x*x
		}
		m := first / mass
		v := second/mass - m*m
		if math.Abs(mean-m) > 0.01 || math.Abs(variance-v) > 0.02 {
			t.Errorf("%v: mean %.4f, variance %.4f, want %.4f, %.4f", c, mean, variance, m, v)
		}
	}
}

func BenchmarkLine12500(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 3))
	x := uneven(r, 12500, 8)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = 40*math.Sin(x[i]/500) + 0.3*r.NormFloat64()
	}
	for b.Loop() {
		lineThrough(b, Samples{X: x, Y: [][]float64{y}}, Options{})
	}
}

// Samples that are no line at all have a noise of hundreds of metres and are fitted by a
// straight line, not by none.
func TestLineOfChaosIsStraight(t *testing.T) {
	x := []float64{0, 149.3, 323.7, 586.7, 710.1, 833.5, 957.2, 1039.5, 1046.3, 1128.7, 1141.6, 1148.4}
	y := []float64{1233.6, 4.8, 1259.3, 1245.8, 4.8, 1233.6, -6.9, 1233.6, 1233.6, 1233.6, 1233.6, 824}
	f := lineThrough(t, Samples{X: x, Y: [][]float64{y}}, Options{})
	slope := (f.Y[0][11] - f.Y[0][0]) / (x[11] - x[0])
	for i, got := range f.Y[0] {
		if want := f.Y[0][0] + slope*(x[i]-x[0]); !(math.Abs(got-want) < 1) || !(f.Sigma > 100) {
			t.Fatalf("%v m at %v m, want %v m; noise %v m", got, x[i], want, f.Sigma)
		}
	}
}

// lineThrough fits a line that is waited for.
func lineThrough(t interface {
	Helper()
	Context() context.Context
	Fatal(args ...any)
}, s Samples, opt Options,
) Fit {
	t.Helper()
	f, err := Line(t.Context(), s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
