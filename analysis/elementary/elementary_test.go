package elementary

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// ulps returns by how many units in the last place of the larger two values differ.
func ulps(a, b float64) float64 {
	if a == b || math.IsNaN(a) && math.IsNaN(b) {
		return 0
	}
	larger := max(math.Abs(a), math.Abs(b))
	return math.Abs(a-b) / (math.Nextafter(larger, math.Inf(1)) - larger)
}

// The package math is within 1 ulp of the truth, so two such results are within 2. Its
// tangents of less than 0.01 are further off.
func TestAgainstMath(t *testing.T) {
	for _, f := range []struct {
		name         string
		ours, theirs func(x float64) float64
		from, to     float64
		within       float64
	}{
		{"sine", func(x float64) float64 { s, _ := Sincos(x); return s }, math.Sin, -7, 7, 2},
		{"cosine", func(x float64) float64 { _, c := Sincos(x); return c }, math.Cos, -7, 7, 2},
		{"sine of many turns", func(x float64) float64 { s, _ := Sincos(x); return s }, math.Sin, -1e5, 1e5, 2},
		{"tangent", Tan, math.Tan, 0.01, 1.57, 4},
		{"arctangent", Atan, math.Atan, -5, 5, 2},
		{"arctangent of large", Atan, math.Atan, -1e9, 1e9, 2},
		{"exponential", Exp, math.Exp, -740, 709, 2},
		{"exponential of small", Exp, math.Exp, -1, 1, 2},
		{"logarithm", Log, math.Log, 1e-300, 10, 2},
		{"logarithm of large", Log, math.Log, 1e-300, 1e300, 2},
		{"inverse hyperbolic tangent", Atanh, math.Atanh, 0.5, 0.999, 8},
		{"power", func(x float64) float64 { return Pow(x, 5.25588) }, func(x float64) float64 { return math.Pow(x, 5.25588) }, 0.3, 3, 20},
		{"complementary error function", Erfc, math.Erfc, -7, 26, 4},
		{"complementary error function around 0", Erfc, math.Erfc, -3, 3, 4},
	} {
		t.Run(f.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				x := rapid.Float64Range(f.from, f.to).Draw(t, "x")
				if got, want := f.ours(x), f.theirs(x); ulps(got, want) > f.within {
					t.Fatalf("f(%v) = %v, want %v: %.1f ulp", x, got, want, ulps(got, want))
				}
			})
		})
	}
}

func TestAngleOfPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := rapid.Float64Range(-1e7, 1e7).Draw(t, "x"), rapid.Float64Range(-1e7, 1e7).Draw(t, "y")
		if got, want := Atan2(y, x), math.Atan2(y, x); ulps(got, want) > 4 && x != 0 && y != 0 {
			t.Fatalf("%v, want %v", got, want)
		}
		if got, want := Hypot(x, y), math.Hypot(x, y); ulps(got, want) > 2 && want > 1e-100 {
			t.Fatalf("√ %v, want %v", got, want)
		}
	})
}

func TestEdges(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	sinOfInf, sinOfNaN := first(Sincos(inf)), first(Sincos(nan))
	for i, c := range []struct{ got, want float64 }{
		{Atan2(0, 1), 0},
		{Atan2(0, -1), math.Pi},
		{Atan2(1, 0), math.Pi / 2},
		{Atan2(-1, 0), -math.Pi / 2},
		{Atan2(0, 0), 0},
		{Atan2(1, 1), math.Pi / 4},
		{Atan2(-1, -1), -3 * math.Pi / 4},
		{Atan(inf), math.Pi / 2},
		{Atan(-inf), -math.Pi / 2},
		{Atan(nan), nan},
		{Exp(0), 1},
		{Exp(inf), inf},
		{Exp(-inf), 0},
		{Exp(nan), nan},
		{Exp(1), math.E},
		{Exp(-800), 0},
		{Exp(800), inf},
		{Log(1), 0},
		{Log(0), -inf},
		{Log(-1), nan},
		{Log(inf), inf},
		{Log(nan), nan},
		{Log(5e-324), -744.4400719213812},
		{Pow(2, 10), 1024},
		{Erfc(0), 1},
		{Erfc(inf), 0},
		{Erfc(-inf), 2},
		{Erfc(nan), nan},
		{Erfc(30), 0},
		{Erfc(-30), 2},
		{sinOfInf, nan},
		{sinOfNaN, nan},
		{first(Sincos(math.Pi)), math.Sin(math.Pi)},
		{second(Sincos(math.Pi / 2)), math.Cos(math.Pi / 2)},
		{first(Sincos(0)), 0},
	} {
		if ulps(c.got, c.want) > 8 || math.IsNaN(c.got) != math.IsNaN(c.want) {
			t.Errorf("case %d: %v, want %v", i, c.got, c.want)
		}
	}
}

func first(a, _ float64) float64  { return a }
func second(_, b float64) float64 { return b }
