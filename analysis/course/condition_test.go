package course

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

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

func sharpest(c *Course) float64 {
	worst := 0.0
	for _, k := range c.Curvature {
		worst = max(worst, math.Abs(k))
	}
	return 1 / worst
}

// hairpin is a street, a half circle of radius 15 m to the left, and a street back.
func hairpin() (xy [][2]float64, length float64) {
	for s := 0.0; s < 300; s += 5 {
		xy = append(xy, [2]float64{s, 0})
	}
	for a := 0.0; a < math.Pi; a += 5.0 / 15 {
		xy = append(xy, [2]float64{300 + 15*math.Sin(a), 15 - 15*math.Cos(a)})
	}
	for s := 300.0; s > 0; s -= 5 {
		xy = append(xy, [2]float64{s, 30})
	}
	return xy, 300 + 15*math.Pi + 295
}

func mustTrack(t *testing.T, tr *track.Track, opt Options) *Course {
	t.Helper()
	c, err := FromTrack(context.Background(), tr, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A receiver's wander must not bend a straight road, nor its white noise lengthen it.
func TestStraightRoadStaysStraight(t *testing.T) {
	for _, k := range []struct{ step, correlated, white, longer float64 }{
		{8, 0, 0, 0}, {8, 0, 0.5, 0.001}, {8, 3, 0.3, 0.002}, {8, 8, 0.5, 0.01}, {4, 8, 0.5, 0.03}, {12, 8, 0.5, 0.006}, {3, 8, 0.5, 0.06}, {2, 3, 0.3, 0.06},
	} {
		for seed := range uint64(4) {
			c := mustTrack(t, recording(rand.New(rand.NewPCG(7, seed)), straight(10000, k.step), k.correlated, k.white), Defaults())
			t.Logf("%+v: %.0f m of %.0f m as read, σ %.2f m, sharpest radius %.0f m", k, c.LengthM(), c.Quality.DistanceAsReadM, c.Quality.PositionNoiseM, sharpest(c))
			if r := sharpest(c); r < 100 {
				t.Errorf("%+v, seed %d: a bend of %.0f m", k, seed, r)
			}
			if longer := c.LengthM()/10000 - 1; math.Abs(longer) > k.longer+0.0005 {
				t.Errorf("%+v, seed %d: the length is off by %.4f", k, seed, longer)
			}
		}
	}
}

func TestHairpinKeepsItsRadius(t *testing.T) {
	xy, length := hairpin()
	for _, white := range []float64{0, 0.1, 0.3, 0.5} {
		for seed := range uint64(4) {
			c := mustTrack(t, recording(rand.New(rand.NewPCG(7, seed)), xy, 0, white), Defaults())
			if r := sharpest(c); math.Abs(r/15-1) > 0.3 {
				t.Errorf("noise %.1f m, seed %d: radius %.1f m, want 15 m", white, seed, r)
			}
			if math.Abs(c.LengthM()/length-1) > 0.01 {
				t.Errorf("noise %.1f m, seed %d: length %.1f m, want %.1f m", white, seed, c.LengthM(), length)
			}
			if turn := c.Curvature[len(c.S)/2]; turn >= 0 {
				t.Errorf("a bend to the left has curvature %v", turn)
			}
		}
	}
}

// A drawn route, whatever its spacing, keeps its points and its corners.
func TestDrawnRouteStays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		longest := rapid.SampledFrom([]float64{8, 20, 60, 300}).Draw(t, "longest step")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		tr := &track.Track{}
		x, y, heading := 0.0, 0.0, 0.0
		for range 300 {
			d := 3 + longest*r.Float64()
			if r.IntN(3) == 0 {
				heading += 0.3 * r.NormFloat64()
			}
			if r.IntN(20) == 0 {
				heading += math.Pi / 2
			}
			x, y = x+d*math.Sin(heading), y+d*math.Cos(heading)
			tr.Points = append(tr.Points, plane(x, y, 100+x/50))
		}
		c, err := FromTrack(context.Background(), tr, Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(c.LengthM()-c.Quality.DistanceAsReadM) > 1e-6 {
			t.Fatalf("length %v m, as read %v m", c.LengthM(), c.Quality.DistanceAsReadM)
		}
	})
}

// Without smoothing the course is the polyline through the points.
func TestNoSmoothingKeepsEveryVertex(t *testing.T) {
	s := []float64{7, 17, 27.5, 40, 300, 301}
	z := []float64{5, 6, 4, 9, 9, 9.5}
	c, err := FromProfile(context.Background(), s, z, Options{Smoothing: None, AscentThresholdM: 0})
	if err != nil {
		t.Fatal(err)
	}
	for i := range s {
		if c.S[i] != s[i]-7 || c.Z[i] != z[i] {
			t.Errorf("node %d is (%v, %v), want (%v, %v)", i, c.S[i], c.Z[i], s[i]-7, z[i])
		}
	}
	if up := c.AscentM(0, c.LengthM()); math.Abs(up-6.5) > 1e-12 {
		t.Errorf("ascent %v m, want 6.5 m", up)
	}
}

// Nodes are evenly spaced with an exact end at every spacing.
func TestNodesEndExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		opt := Defaults()
		opt.SpacingM = rapid.Float64Range(2, 100).Draw(t, "spacing")
		length := rapid.Float64Range(1, 5000).Draw(t, "length")
		c, err := FromProfile(context.Background(), []float64{3, 3 + length/3, 3 + length}, []float64{1, 2, 1}, opt)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(c.LengthM()-length) > 1e-9 {
			t.Fatalf("length %v, want %v", c.LengthM(), length)
		}
		for i := 1; i < len(c.S); i++ {
			if math.Abs(c.S[i]-c.S[i-1]-c.Quality.SpacingM) > 1e-9 {
				t.Fatalf("step %d is %v, want %v", i, c.S[i]-c.S[i-1], c.Quality.SpacingM)
			}
		}
	})
}

func TestRefusals(t *testing.T) {
	here := plane(0, 0, 1)
	_, err := FromTrack(context.Background(), &track.Track{Points: []track.Point{here, here}}, Defaults())
	wantCode(t, err, "too-short")
	_, err = FromProfile(context.Background(), []float64{0, 5, 5}, []float64{1, 2, 3}, Defaults())
	wantCode(t, err, "axis-not-increasing")
	_, err = FromProfile(context.Background(), []float64{0, math.NaN()}, []float64{1, 2}, Defaults())
	wantCode(t, err, "axis-not-increasing")
	laps := Defaults()
	laps.Laps = 3
	_, err = FromTrack(context.Background(), &track.Track{Points: []track.Point{here, plane(500, 0, 1)}}, laps)
	wantCode(t, err, "laps-do-not-close")
	_, err = FromProfile(context.Background(), []float64{0, 1000, 2000}, []float64{0, 50, 100}, laps)
	wantCode(t, err, "laps-do-not-close")
}

func wantCode(t *testing.T, err error, code string) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) || e.Code != code {
		t.Errorf("error %v, want code %q", err, code)
	}
}

// Every defect of a recording is told, with its place where it has one.
func TestWarnings(t *testing.T) {
	base := func() *track.Track {
		return recording(rand.New(rand.NewPCG(5, 5)), straight(4000, 8), 0, 0.3)
	}
	for _, c := range []struct {
		code  string
		spoil func(*track.Track) *track.Track
	}{
		{"elevation-missing", func(tr *track.Track) *track.Track {
			for i := range tr.Points {
				tr.Points[i].Elevation = math.NaN()
			}
			return tr
		}},
		{"elevation-missing", func(tr *track.Track) *track.Track {
			for i := 100; i < 140; i++ {
				tr.Points[i].Elevation = math.NaN()
			}
			return tr
		}},
		{"spikes-repaired", func(tr *track.Track) *track.Track { tr.Points[200].Elevation += 60; return tr }},
		{"spikes-repaired", func(tr *track.Track) *track.Track { tr.Points[200] = plane(9000, 0, 200); return tr }},
		{"elevation-quantised", func(tr *track.Track) *track.Track {
			for i := range tr.Points {
				tr.Points[i].Elevation = math.Round(tr.Points[i].Elevation)
			}
			return tr
		}},
		{"gap", func(tr *track.Track) *track.Track { tr.Points = slices.Delete(tr.Points, 100, 140); return tr }},
		{"sparse-points", func(tr *track.Track) *track.Track {
			return recording(rand.New(rand.NewPCG(5, 5)), straight(40000, 150), 0, 0)
		}},
		{"points-dropped", func(tr *track.Track) *track.Track {
			p := tr.Points[250]
			tr.Points = slices.Insert(tr.Points, 250, slices.Repeat([]track.Point{p}, 200)...)
			return tr
		}},
	} {
		got := mustTrack(t, c.spoil(base()), Defaults())
		if !slices.ContainsFunc(got.Quality.Warnings, func(w Warning) bool { return w.Code == c.code }) {
			t.Errorf("no warning %q among %v", c.code, got.Quality.Warnings)
		}
		if math.Abs(got.LengthM()/4000-1) > 0.02 && c.code != "sparse-points" {
			t.Errorf("%s: length %.0f m, want 4000 m", c.code, got.LengthM())
		}
	}
	if w := mustTrack(t, base(), Defaults()).Quality.Warnings; len(w) > 0 {
		t.Errorf("warnings of a sound recording: %v", w)
	}
}

// A spike that no jump betrays, for the samples are far apart, still goes.
func TestSpikeAmongSparseSamplesGoes(t *testing.T) {
	var s, z []float64
	for at := 0.0; at <= 5000; at += 25 {
		s, z = append(s, at), append(z, 200+30*math.Sin(at/400))
	}
	z[100] += 15
	c, err := FromProfile(context.Background(), s, z, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if got, want := c.ElevationAt(2500), 200+30*math.Sin(2500.0/400); math.Abs(got-want) > 1 {
		t.Errorf("elevation %.1f m at the spike, want %.1f m", got, want)
	}
}

// Declared laps are equal, and a lap's gap and misfit are mended and told.
func TestDeclaredLapsAreEqual(t *testing.T) {
	tr := &track.Track{}
	for a := 0.0; a < 2*math.Pi-0.02; a += 0.02 {
		tr.Points = append(tr.Points, plane(400*math.Sin(a), 400*math.Cos(a), 100+20*math.Sin(a)+a))
	}
	opt := Defaults()
	opt.Laps = 3
	c := mustTrack(t, tr, opt)
	n := (len(c.S) - 1) / 3
	for i := range n {
		for lap := 1; lap < 3; lap++ {
			if c.Z[i] != c.Z[i+lap*n] || c.Pos[i] != c.Pos[i+lap*n] {
				t.Fatalf("node %d differs on lap %d", i, lap+1)
			}
		}
	}
	if math.Abs(c.LengthM()/(3*2*math.Pi*400)-1) > 0.002 {
		t.Errorf("length %.1f m", c.LengthM())
	}
	for _, k := range c.Curvature[3 : len(c.Curvature)-3] {
		if math.Abs(k*400-1) > 0.3 {
			t.Errorf("curvature %v, want 1/400 m to the right", k)
			break
		}
	}
}

// Reversing the travel mirrors the course.
func TestReverseMirrors(t *testing.T) {
	tr := recording(rand.New(rand.NewPCG(8, 8)), straight(3000, 8), 0, 0)
	there := mustTrack(t, tr, Defaults())
	opt := Defaults()
	opt.Reverse = true
	back := mustTrack(t, tr, opt)
	n := len(there.S) - 1
	for i := range there.S {
		if math.Abs(there.Z[i]-back.Z[n-i]) > 1e-3 {
			t.Fatalf("elevation at node %d: %v there, %v back", i, there.Z[i], back.Z[n-i])
		}
	}
	if math.Abs(there.AscentTo[n]-back.DescentTo[n]) > 0.01 {
		t.Errorf("ascent %v there, descent %v back", there.AscentTo[n], back.DescentTo[n])
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
		if _, err := FromTrack(context.Background(), tr, Defaults()); err != nil {
			b.Fatal(err)
		}
	}
}
