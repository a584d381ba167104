package course

import (
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// plane maps metres east and north of a point onto the ellipsoid; exact enough for
// a few kilometres.
func plane(east, north, z float64) track.Point {
	origin := geodesy.FromDegrees(47.3, 3.1)
	f := geodesy.FrameAt(origin)
	v := origin.Add(f.East.Scale(east)).Add(f.North.Scale(north))
	return track.Point{Pos: geodesy.FromDegrees(v.Degrees()), Elevation: z}
}

// recording adds noise as of a satellite receiver at 1 Hz: an Ornstein–Uhlenbeck
// process of 60 s and a white part.
func recording(r *rand.Rand, xy [][2]float64, correlated, white float64) *track.Track {
	t := &track.Track{}
	keep := math.Exp(-1.0 / 60)
	fresh := correlated * math.Sqrt(1-keep*keep)
	dx, dy := correlated*r.NormFloat64(), correlated*r.NormFloat64()
	for i, p := range xy {
		dx, dy = keep*dx+fresh*r.NormFloat64(), keep*dy+fresh*r.NormFloat64()
		x := p[0] + dx + white*r.NormFloat64()
		y := p[1] + dy + white*r.NormFloat64()
		t.Points = append(t.Points, plane(x, y, 200+20*math.Sin(float64(i)/90)+0.3*r.NormFloat64()))
	}
	return t
}

// straight returns points every step metres due north-east.
func straight(length, step float64) [][2]float64 {
	var xy [][2]float64
	for s := 0.0; s <= length; s += step {
		xy = append(xy, [2]float64{s * math.Sqrt2 / 2, s * math.Sqrt2 / 2})
	}
	return xy
}

func TestZZPos(t *testing.T) {
	for _, k := range []struct{ step, corr, white float64 }{{8, 0, 0}, {8, 0, 0.5}, {8, 8, 0.5}, {8, 3, 0.3}, {4, 8, 0.5}, {3, 4, 0.5}, {12, 8, 0.5}} {
		for seed := range uint64(3) {
			r := rand.New(rand.NewPCG(7, seed))
			tr := recording(r, straight(10000, k.step), k.corr, k.white)
			c, err := FromTrack(tr, Defaults())
			if err != nil {
				t.Fatal(err)
			}
			worst := 0.0
			for _, v := range c.Curvature {
				worst = max(worst, math.Abs(v))
			}
			t.Logf("%v: length %.1f as read %.1f σ %.2f sharpest radius %.0f", k, c.LengthM(), c.Quality.DistanceAsReadM, c.Quality.PositionNoiseM, 1/worst)
		}
	}
}

func TestZZHairpin(t *testing.T) {
	for _, white := range []float64{0, 0.1, 0.3, 0.5} {
		for seed := range uint64(3) {
			r := rand.New(rand.NewPCG(7, seed))
			var xy [][2]float64
			for s := 0.0; s < 300; s += 5 {
				xy = append(xy, [2]float64{s, 0})
			}
			for a := 0.0; a < math.Pi; a += 5.0 / 15 {
				xy = append(xy, [2]float64{300 + 15*math.Sin(a), 15 - 15*math.Cos(a)})
			}
			for s := 300.0; s > 0; s -= 5 {
				xy = append(xy, [2]float64{s, 30})
			}
			c, err := FromTrack(recording(r, xy, 0, white), Defaults())
			if err != nil {
				t.Fatal(err)
			}
			worst := 0.0
			for _, v := range c.Curvature {
				worst = max(worst, math.Abs(v))
			}
			t.Logf("white %.1f: length %.1f as read %.1f σ %.2f sharpest radius %.1f", white, c.LengthM(), c.Quality.DistanceAsReadM, c.Quality.PositionNoiseM, 1/worst)
		}
	}
}

func BenchmarkCondition100km(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 3))
	var xy [][2]float64
	for i := range 12500 {
		s := float64(i) * 8
		xy = append(xy, [2]float64{3000 * math.Sin(s/2900), 4000 * math.Sin(s/5100)})
	}
	tr := recording(r, xy, 4, 0.3)
	for b.Loop() {
		if _, err := FromTrack(tr, Defaults()); err != nil {
			b.Fatal(err)
		}
	}
}
