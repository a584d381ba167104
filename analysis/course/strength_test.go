package course

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// Every strength of smoothing keeps a pitch of 16 % over 40 m that the noise it stands
// for can't hide, and takes out the noise that it stands for.
func TestStrengthsOfSmoothing(t *testing.T) {
	pitch := pieces("pitch", 200, 4000, [2]float64{2000, 6}, [2]float64{40, 16}, [2]float64{2000, 6})
	wavy := profile{"wavy", 10000, func(s float64) float64 { return 300 + 25*math.Sin(s/700) }, false}
	for _, tt := range []struct {
		strength Smoothing
		noise    float64 // of the samples, in m
		steepest float64 // the least gradient of the pitch in %; 14.9 is left by the sampling
		rmse     float64 // the greatest error of gradients over 100 m, in points
	}{
		{Auto, 0, 14.8, 0.01},
		{Auto, 0.1, 14, 0.1},
		{Auto, 0.3, 12, 0.2},
		{Auto, 1, 6, 0.3},
		{None, 0, 14.8, 0.01},
		{Light, 0, 14.8, 0.01},
		{Light, 0.1, 14, 0.1},
		{Light, 0.3, 12, 0.2},
		{Light, 1, 11, 2},
		{Strong, 0, 6, 0.1},
		{Strong, 0.3, 6, 0.1},
		{Strong, 1.5, 6, 0.3},
	} {
		opt := Defaults()
		opt.Smoothing = tt.strength
		steepest, rmse := math.Inf(1), 0.0
		for seed := range uint64(5) {
			r := rand.New(rand.NewPCG(8, seed))
			n := spoil{white: tt.noise, window: 100}
			c := smoothedProfile(t, pitch, r, n, opt)
			steepest = min(steepest, 100*(c.ElevationAt(2040)-c.ElevationAt(2000))/40)
			c = smoothedProfile(t, wavy, r, n, opt)
			fs, fz := wavy.fine()
			rmse = max(rmse, rmsePct(figuresOf(c.S, c.Z, n, [2]float64{}, 5), figuresOf(fs, fz, n, [2]float64{}, 5)))
		}
		t.Logf("%s, noise %.1f m: pitch %.1f %%, error %.2f points over 100 m", tt.strength, tt.noise, steepest, rmse)
		if steepest < tt.steepest || rmse > tt.rmse {
			t.Errorf("%s, noise %.1f m: pitch %.1f %%, want %.1f %%; error %.2f points, want %.2f", tt.strength, tt.noise, steepest, tt.steepest, rmse, tt.rmse)
		}
	}
}

func smoothedProfile(t *testing.T, p profile, r *rand.Rand, n spoil, opt Options) *Course {
	t.Helper()
	s, z, _ := p.sample(r, 8, n)
	c, err := FromProfile(context.Background(), s, z, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
