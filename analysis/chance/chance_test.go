package chance_test

import (
	"math"
	"testing"

	"parcours.example/analysis/chance"
)

func TestAStreamIsNamedByItsSeedAndPurpose(t *testing.T) {
	first := func(seed uint64, names ...uint64) float64 { s := chance.New(seed, names...); return s.Uniform() }
	if first(7, 1, 2) != first(7, 1, 2) {
		t.Error("the same stream differs")
	}
	seen := map[float64]bool{}
	for seed := range uint64(20) {
		for a := range uint64(20) {
			seen[first(seed)], seen[first(seed, a)] = true, true
			for b := range uint64(5) {
				seen[first(seed, a, b)] = true
			}
		}
	}
	if len(seen) != 20+400+2000 {
		t.Errorf("%d different numbers of %d", len(seen), 20+400+2000)
	}
	if chance.Name("Nour") == chance.Name("Bram") {
		t.Error("two names are one")
	}
}

// Means, spreads and the independence of two streams, each within four standard errors.
func TestMomentsAndIndependence(t *testing.T) {
	const n = 200_000
	var sum, squares, uniform, product, tail float64
	a, b := chance.New(1, 1), chance.New(1, 2)
	for range n {
		x, y := a.Normal(), b.Normal()
		sum += x
		squares += x * x
		product += x * y
		if math.Abs(x) > 1.959964 {
			tail++
		}
		u := a.Uniform()
		if u < 0 || u >= 1 {
			t.Fatal("outside [0, 1):", u)
		}
		uniform += u
	}
	for _, c := range []struct {
		what       string
		got, want  float64
		sdOfAnyOne float64
	}{
		{"mean", sum / n, 0, 1},
		{"variance", squares / n, 1, math.Sqrt2},
		{"covariance of two streams", product / n, 0, 1},
		{"beyond 1.96", tail / n, 0.05, math.Sqrt(0.05 * 0.95)},
		{"mean of uniform", uniform / n, 0.5, math.Sqrt(1. / 12)},
	} {
		if math.Abs(c.got-c.want) > 4*c.sdOfAnyOne/math.Sqrt(n) {
			t.Errorf("%s: %v, not %v", c.what, c.got, c.want)
		}
	}
}
