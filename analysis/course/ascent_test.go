package course

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// naiveTurns applies the definition of the turning-point filter as it is worded.
func naiveTurns(z []float64, threshold float64) []float64 {
	turns := []float64{}
	for i, v := range z { // turning points of the raw list
		n := len(turns)
		if n >= 2 && (turns[n-1]-turns[n-2])*(v-turns[n-1]) >= 0 {
			turns[n-1] = v
		} else if n == 0 || v != turns[n-1] || i == len(z)-1 {
			turns = append(turns, v)
		}
	}
	for len(turns) > 2 {
		k := 0 // the smallest leg, from turns[k] to turns[k+1]
		for i := range len(turns) - 1 {
			if math.Abs(turns[i+1]-turns[i]) < math.Abs(turns[k+1]-turns[k]) {
				k = i
			}
		}
		if math.Abs(turns[k+1]-turns[k]) >= threshold {
			break
		}
		switch {
		case k == 0:
			turns = slices.Delete(turns, 1, 2)
		case k == len(turns)-2:
			turns = slices.Delete(turns, k, k+1)
		default:
			turns = slices.Delete(turns, k, k+2)
		}
	}
	return turns
}

// elevations draws a list of whole decimetres, so that equal legs occur.
func elevations(t *rapid.T) []float64 {
	steps := rapid.SliceOfN(rapid.IntRange(-30, 30), 1, 60).Draw(t, "steps")
	z := []float64{100}
	for _, s := range steps {
		z = append(z, z[len(z)-1]+float64(s)/8)
	}
	return z
}

func totals(z []float64, threshold float64) (up, down float64) {
	a, d := cumulativeAscent(z, threshold)
	return a[len(z)-1], d[len(z)-1]
}

func TestAscentIsTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := elevations(t)
		h := float64(rapid.IntRange(0, 60).Draw(t, "h")) / 8
		up, _ := totals(z, h)
		if want := plainAscent(naiveTurns(z, h)); math.Abs(up-want) > 1e-9 {
			t.Fatalf("ascent of %v at %v: %v, want %v", z, h, up, want)
		}
	})
}

func TestAscentLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := elevations(t)
		h := float64(rapid.IntRange(0, 60).Draw(t, "h")) / 8
		up, down := totals(z, h)
		if rise := z[len(z)-1] - z[0]; math.Abs(up-down-rise) > 1e-9 {
			t.Fatalf("ascent %v − descent %v is not the rise %v", up, down, rise)
		}
		back := slices.Clone(z)
		slices.Reverse(back)
		if u, d := totals(back, h); math.Abs(u-down) > 1e-9 || math.Abs(d-up) > 1e-9 {
			t.Fatalf("reversed %v, %v, want %v, %v", u, d, down, up)
		}
		if more, _ := totals(z, h+0.5); more > up+1e-9 {
			t.Fatalf("a higher threshold raises the ascent from %v to %v", up, more)
		}
		a, d := cumulativeAscent(z, h)
		for i := 1; i < len(z); i++ {
			if a[i] < a[i-1] || d[i] < d[i-1] {
				t.Fatalf("ascent or descent falls at %d: %v, %v", i, a, d)
			}
		}
	})
}

func TestAscentOfFewSamples(t *testing.T) {
	for _, c := range []struct {
		z        []float64
		up, down float64
	}{
		{[]float64{5}, 0, 0},
		{[]float64{5, 5.4}, 0.4, 0},
		{[]float64{5, 4.6}, 0, 0.4},
		{[]float64{5, 5, 5, 5}, 0, 0},
		{[]float64{0, 0.6, 0}, 0, 0},
	} {
		if up, down := totals(c.z, 1); math.Abs(up-c.up) > 1e-12 || math.Abs(down-c.down) > 1e-12 {
			t.Errorf("%v: %v, %v, want %v, %v", c.z, up, down, c.up, c.down)
		}
	}
}
