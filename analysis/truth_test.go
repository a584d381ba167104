package analysis_test

import (
	"context"
	"math"
	"os"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
	"parcours.example/internal/seeded"
)

// tally counts cases and what went wrong in them.
type tally struct {
	t     *testing.T
	cases int
	bad   int
}

// add counts a case; a bad one is reported, but fails nothing yet.
func (a *tally) add(ok bool, format string, args ...any) {
	a.t.Helper()
	a.cases++
	if !ok {
		a.bad++
		a.t.Logf(format, args...)
	}
}

// demand fails the test if more than a share of the cases was bad. Outside the full
// form there are few cases, and as many more may be as chance explains: three standard
// deviations.
func (a *tally) demand(what string, share float64) {
	a.t.Helper()
	a.t.Logf("%s: %d of %d cases bad", what, a.bad, a.cases)
	allowed := share * float64(a.cases)
	if os.Getenv("PARCOURS_FULL") != "1" {
		allowed += 3 * math.Sqrt(allowed)
	}
	if float64(a.bad) > allowed {
		a.t.Errorf("%s: %d of %d cases are bad, more than %.1f %%", what, a.bad, a.cases, 100*share)
	}
}

// conditioned makes the course of recorded points.
func conditioned(t *testing.T, points []track.Point, marks []coursegen.Mark) *course.Course {
	t.Helper()
	in := &track.Track{Points: points}
	for _, m := range marks {
		in.Marks = append(in.Marks, track.Mark{Name: m.Name, Kind: m.Kind, Pos: m.Pos})
	}
	c, err := course.FromTrack(context.Background(), in, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// positionAt returns the place of a position along the course.
func positionAt(c *course.Course, at float64) geodesy.Vec {
	i := c.PieceAt(at)
	f := (at - c.S[i]) / (c.S[i+1] - c.S[i])
	return c.Pos[i].Lerp(c.Pos[i+1], math.Min(math.Max(f, 0), 1))
}

// onGround returns where on the line a position of the course lies: the position
// along the line, within 400 m of the one that is expected, that is nearest to it among
// those passed in its direction.
func onGround(l coursegen.Line, c *course.Course, at, expected float64) float64 {
	pos, heading := positionAt(c, at), c.Heading[c.PieceAt(at)]
	nearest, least := math.Inf(1), math.Inf(1)
	for i := nodeAt(l, expected-400); i+1 < len(l.S) && l.S[i] < expected+400; i++ {
		piece := l.Pos[i+1].Sub(l.Pos[i])
		f := math.Min(math.Max(pos.Sub(l.Pos[i]).Dot(piece)/piece.Dot(piece), 0), 1)
		d := geodesy.Chord(pos, l.Pos[i].Lerp(l.Pos[i+1], f))
		if d < least && math.Abs(math.Remainder(heading-geodesy.Bearing(l.Pos[i], l.Pos[i+1]), 360)) < 90 {
			nearest, least = l.S[i]+f*(l.S[i+1]-l.S[i]), d
		}
	}
	return nearest
}

// nodeAt returns the first node of a line at or after a position.
func nodeAt(l coursegen.Line, at float64) int {
	lo, hi := 0, len(l.S)-1
	for lo < hi {
		if mid := (lo + hi) / 2; l.S[mid] < at {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// Defects of a recording change neither the laps nor the shape, nor the ascent by
// more than its bound, but for 3 % of the ascents: where points are taken out the
// elevations go with them, and a spike of 15 m between points 50 m apart is no steeper
// than a road.
func TestDefectsDoNotMatter(t *testing.T) {
	for _, d := range []struct {
		name  string
		noise coursegen.Noise
	}{
		{"elevation spikes, duplicates, stops and a gap", coursegen.Noise{ElevationSpikes: 4, Duplicates: 10, Stops: 2, GapM: 120}},
		{"position spikes", coursegen.Noise{PositionSpikes: 4}},
	} {
		t.Run(d.name, func(t *testing.T) { testDefects(t, d.noise) })
	}
}

func testDefects(t *testing.T, n coursegen.Noise) {
	seed := seeded.First(t)
	structure, ascents := &tally{t: t}, &tally{t: t}
	for _, kind := range coursegen.Kinds() {
		for i := range uint64(seeded.Cases(60)) {
			l, truth := coursegen.Random(kind, seed+i)
			n.IntervalS, n.PositionM, n.WhiteM, n.ElevationM, n.StartM = 1+float64(i%5), 4, 0.4, 0.3, 7
			c := conditioned(t, coursegen.Record(l, n, seed+i), nil)
			structure.add(c.Laps.Count == truth.Laps && (truth.Shape == "" || string(c.Shape) == truth.Shape),
				"kind %s, seed %d, every %.0f s: %s with %d laps, want %s with %d", kind, seed+i, n.IntervalS, c.Shape, c.Laps.Count, truth.Shape, truth.Laps)
			if kind == coursegen.Shuttle || kind == coursegen.BothWays {
				continue // turns recorded short take the climb to their tips with them
			}
			got := c.AscentM(0, c.LengthM())
			ascents.add(math.Abs(got-truth.AscentOver1M) <= ascentBound(truth.AscentOver1M, 0.3),
				"kind %s, seed %d, every %.0f s: ascent %.1f m on %.0f m, want %.1f m", kind, seed+i, n.IntervalS, got, truth.LengthM, truth.AscentOver1M)
		}
	}
	structure.demand("structure", 0.01)
	ascents.demand("ascent", 0.03)
}

// dissect returns the terrain of a course that is waited for.
func dissect(c *course.Course) *terrain.Terrain {
	t, err := terrain.Analyse(context.Background(), c)
	if err != nil {
		panic(err) // the context has no end
	}
	return t
}
