package course

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"parcours.example/analysis/track"
)

// stopped is a recording of 4 km straight on with a stop of 300 points half way.
func stopped(seed uint64, wander, white float64) *track.Track {
	r := rand.New(rand.NewPCG(6, seed))
	xy := straight(4000, 8)
	standing := recording(r, slices.Repeat(xy[250:251], 300), wander, white)
	tr := recording(r, xy, 0, 0.2)
	tr.Points = slices.Insert(tr.Points, 250, standing.Points...)
	return tr
}

// Standing about makes no distance and no bends, however far the receiver wanders
// meanwhile.
func TestStopsMakeNoWay(t *testing.T) {
	for _, k := range []struct{ wander, white float64 }{{4, 0.5}, {4, 2}, {8, 0.5}, {8, 2}, {10, 1}} {
		for seed := range uint64(4) {
			c := mustTrack(t, stopped(seed, k.wander, k.white), Defaults())
			t.Logf("%+v: %.0f m, %.0f m as read, %d points dropped, sharpest radius %.0f m", k, c.LengthM(), c.Quality.DistanceAsReadM, c.Quality.PointsDropped, sharpest(c))
			if c.Quality.DistanceAsReadM < 4200 {
				t.Fatalf("%.0f m as read: the stop makes too little way to test anything", c.Quality.DistanceAsReadM)
			}
			if math.Abs(c.LengthM()-4000) > 5*k.wander {
				t.Errorf("%+v, seed %d: length %.0f m of %.0f m as read, want 4000 m", k, seed, c.LengthM(), c.Quality.DistanceAsReadM)
			}
			if r := sharpest(c); r < 10 {
				t.Errorf("%+v, seed %d: a bend of %.0f m", k, seed, r)
			}
		}
	}
}

// Laps of a small track are no stop; within less than stopRadiusM nobody can tell.
func TestSmallCirclesAreNoStops(t *testing.T) {
	for _, radius := range []float64{15, 20, 40} {
		var points sketch
		for a := 0.0; a < 10*math.Pi; a += 5 / radius {
			points = append(points, [2]float64{radius * math.Cos(a), radius * math.Sin(a)})
		}
		tr := &track.Track{Points: points.points(47, 11, 0)}
		if got := mustTrack(t, tr, Defaults()).LengthM() / (10 * math.Pi * radius); math.Abs(got-1) > 0.02 {
			t.Errorf("radius %.0f m: %.3f of the length", radius, got)
		}
	}
}

// A block of points in the wrong place is told, a gap is not taken for one.
func TestPointsOutOfOrder(t *testing.T) {
	points := straight(6000, 10)
	swapped := slices.Concat(points[:200], points[300:400], points[200:300], points[400:])
	gap := slices.Concat(points[:200], points[300:])
	for name, tt := range map[string]struct {
		xy     [][2]float64
		warned bool
	}{"in order": {points, false}, "two blocks swapped": {swapped, true}, "a gap": {gap, false}} {
		for _, s := range smoothings {
			opt := Defaults()
			opt.Smoothing = s
			c := mustTrack(t, recording(rand.New(rand.NewPCG(1, 1)), tt.xy, 0, 0.2), opt)
			if codesOf(c)["points-out-of-order"] != tt.warned {
				t.Errorf("%s, %s: %v", name, s, c.Quality.Warnings)
			}
		}
	}
}

// Points far off the line go where the line is even, and stay and are told without
// smoothing.
func TestStraysAreToldWithoutSmoothing(t *testing.T) {
	tr := recording(rand.New(rand.NewPCG(5, 5)), straight(4000, 8), 0, 0.3)
	tr.Points[200] = plane(1500, 1200, 200)
	opt := Defaults()
	opt.Smoothing = None
	c := mustTrack(t, tr, opt)
	if !codesOf(c)["position-spikes"] || len(c.Pos) != len(tr.Points) || c.LengthM() != c.Quality.DistanceAsReadM {
		t.Errorf("%d of %d points, %.0f m, %v", len(c.Pos), len(tr.Points), c.LengthM(), c.Quality.Warnings)
	}
	if codes := codesOf(mustTrack(t, tr, Defaults())); !codes["spikes-repaired"] {
		t.Errorf("%v", codes)
	}
}

// A line that a slow recording makes too long is told, by about how much.
func TestWanderIsTold(t *testing.T) {
	for _, k := range []struct {
		step, correlated float64
		warned           bool
	}{{8, 0, false}, {8, 3, false}, {4, 8, true}, {3, 8, true}} {
		c := mustTrack(t, recording(rand.New(rand.NewPCG(7, 1)), straight(10000, k.step), k.correlated, 0.5), Defaults())
		if codesOf(c)["position-wander"] != k.warned {
			t.Errorf("steps of %v m, wander %v m, %.0f m too long: %v", k.step, k.correlated, c.LengthM()-10000, c.Quality.Warnings)
		}
	}
}
