package course

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// The list of heights that primers on total climbing hand round, worked by hand for
// a turning-point filter; the plain sum of its rises and of its falls is 13 each.
// [computed]
func TestAscentOfTheToyList(t *testing.T) {
	z := []float64{12, 17, 15, 20, 22, 18, 15, 16, 14, 12}
	for _, c := range []struct{ threshold, want float64 }{{0, 13}, {1, 13}, {2, 12}, {3, 10}, {4, 10}, {5, 10}, {6, 10}} {
		up, down := totals(z, c.threshold)
		if up != c.want || down != c.want {
			t.Errorf("threshold %v: %v up, %v down, want %v", c.threshold, up, down, c.want)
		}
	}
}

// White noise of standard deviation s on a level road climbs s/√π = 0.5642·s per
// sample: the mean positive part of a difference of two normal variables. [computed]
func TestAscentOfWhiteNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	z := make([]float64, 400_000)
	for i := range z {
		z[i] = 2 * r.NormFloat64()
	}
	perStep := plainAscent(z) / float64(len(z)-1) / 2
	t.Logf("%.4f s per step", perStep)
	if math.Abs(perStep-1/math.Sqrt(math.Pi)) > 0.003 {
		t.Errorf("%.4f s per step, want 0.5642", perStep)
	}
}

// A sine road of amplitude 10 m and wavelength 1 km climbs 20 m per wave; what is
// left of the 200 m of 10 km depends on the sampling, from phase 0. [computed]
func TestAscentOfASampledSine(t *testing.T) {
	for _, c := range []struct{ spacing, want float64 }{
		{10, 200}, {50, 200}, {125, 200}, {250, 200}, {100, 190.21}, {200, 190.21}, {400, 153.88}, {500, 0},
	} {
		var z []float64
		for s := 0.0; s <= 10000; s += c.spacing {
			z = append(z, 10*math.Sin(2*math.Pi*s/1000))
		}
		up, _ := totals(z, 0)
		if math.Abs(up-c.want) > 0.01 {
			t.Errorf("every %v m: %.2f m, want %v", c.spacing, up, c.want)
		}
	}
}

// A finishing climb of 6–7 % can hold three sections with pitches of 17–19 %, and a
// smoother that loses those is wrong. [common practice, no source]
func TestPitchesOfAFinishingClimbSurvive(t *testing.T) {
	var p profile
	for _, p = range profiles(rand.New(rand.NewPCG(1, 1))) {
		if p.name == "finishing climb" {
			break
		}
	}
	for seed := range uint64(10) {
		r := rand.New(rand.NewPCG(11, seed))
		s, z, _ := p.sample(r, 8, spoil{white: 0.1})
		c, err := FromProfile(context.Background(), s, z, Defaults())
		if err != nil {
			t.Fatal(err)
		}
		for _, pitch := range []struct{ at, length, gradient float64 }{{2900, 120, 0.17}, {3520, 80, 0.19}, {4300, 100, 0.18}} {
			got := (c.ElevationAt(pitch.at+pitch.length) - c.ElevationAt(pitch.at)) / pitch.length
			if math.Abs(got-pitch.gradient) > 0.01 {
				t.Errorf("seed %d: the pitch at %v m has %.3f, want %.3f", seed, pitch.at, got, pitch.gradient)
			}
		}
	}
}
