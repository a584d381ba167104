package analysis_test

import (
	"fmt"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/terrain"
)

// ascentBound is the error that an ascent may have: the larger of 2 % (3 % at noise
// of 1 m) and 5 m.
func ascentBound(trueM, noiseM float64) float64 {
	share := 0.02
	if noiseM >= 1 {
		share = 0.03
	}
	return math.Max(5, share*trueM)
}

// Ascent: within its bound in 99 % of cases at white noise of 0.1 and 0.3 m and at steps
// of 1 m, in 97 % at white noise of 1 m: on gentle ground rises of 1 to 3 m, which count,
// drown in it.
func TestAscentOfRandomCourses(t *testing.T) {
	seed := firstSeed(t)
	kinds := coursegen.Kinds()
	for _, n := range []coursegen.Noise{{}, {ElevationM: 0.1}, {ElevationM: 0.3}, {ElevationM: 1}, {ElevationM: 0.3, RoundM: 1}} {
		size := n.ElevationM
		if n.RoundM > 0 {
			size = n.RoundM
		}
		t.Run(fmt.Sprintf("white %.1f m, steps %.0f m", n.ElevationM, n.RoundM), func(t *testing.T) {
			ascents := &tally{t: t}
			for i := range uint64(cases(400)) {
				kind := kinds[int(i)%len(kinds)]
				l, truth := coursegen.Random(kind, seed+i)
				n.SpacingM, n.PositionM, n.WhiteM = 5+float64(i%4)*5, 2, 0.2
				c := conditioned(t, coursegen.Record(l, n, seed+i), nil)
				got := c.AscentM(0, c.LengthM())
				ascents.add(math.Abs(got-truth.AscentOver1M) <= ascentBound(truth.AscentOver1M, size),
					"kind %d, seed %d, every %.0f m: %.1f m on %.0f m, want %.1f m (%+.1f %%)", kind, seed+i, n.SpacingM, got, truth.LengthM, truth.AscentOver1M, 100*(got/truth.AscentOver1M-1))
			}
			share := 0.01
			if n.ElevationM >= 1 {
				share = 0.03
			}
			ascents.demand("ascent", share)
		})
	}
}

// Marks: found on every pass within 20 m on the ground, in 99 % of cases.
func TestMarksOfRandomCourses(t *testing.T) {
	seed := firstSeed(t)
	count, place := &tally{t: t}, &tally{t: t}
	for _, kind := range coursegen.Kinds() {
		for i := range uint64(cases(100)) {
			l, truth := coursegen.Random(kind, seed+i)
			c := conditioned(t, coursegen.Record(l, coursegen.RandomNoise(seed+i), seed+i), truth.Marks)
			for _, want := range truth.Marks {
				got := markNamed(c, want.Name)
				ok := len(got.At) == len(want.At)
				count.add(ok, "kind %d, seed %d: %s is passed at %.0f, want %.0f", kind, seed+i, want.Name, got.At, want.At)
				for k := 0; ok && k < len(want.At); k++ {
					off := math.Abs(onGround(l, c, got.At[k], want.At[k]) - want.At[k])
					place.add(off <= 20, "kind %d, seed %d: %s is off by %.0f m on pass %d", kind, seed+i, want.Name, off, k+1)
				}
			}
		}
	}
	count.demand("passes of marks", 0.01)
	place.demand("places of marks", 0.01)
}

func markNamed(c *course.Course, name string) course.Mark {
	for _, m := range c.Marks {
		if m.Name == name {
			return m
		}
	}
	return course.Mark{}
}

// decided reports whether a climb is far enough from the definition's thresholds, a
// score of 8 m and a mean of 3 %, to be found or left out without doubt.
func decided(s coursegen.Stretch) bool {
	length := s.EndM - s.StartM
	return s.GainM-0.02*length > 12 && s.GainM > 0.035*length
}

// overlap is the length that two stretches share over the length that they cover.
func overlap(a, b coursegen.Stretch) float64 {
	shared := math.Min(a.EndM, b.EndM) - math.Max(a.StartM, b.StartM)
	return math.Max(0, shared) / (math.Max(a.EndM, b.EndM) - math.Min(a.StartM, b.StartM))
}

// climbsFound returns all passes of the outer climbs of a course, brought to the
// line's length.
func climbsFound(c *course.Course, lengthM float64) []coursegen.Stretch {
	scale := lengthM / c.LengthM()
	var found []coursegen.Stretch
	for _, climb := range terrain.Analyse(c).Climbs {
		if climb.ParentID != "" {
			continue
		}
		for _, p := range climb.Passes {
			found = append(found, coursegen.Stretch{StartM: p.StartM * scale, EndM: p.EndM * scale, GainM: c.ElevationAt(p.EndM) - c.ElevationAt(p.StartM)})
		}
	}
	return found
}

// matched reports whether a stretch has one among others that is nearly the same.
func matched(s coursegen.Stretch, others []coursegen.Stretch) bool {
	for _, o := range others {
		if overlap(s, o) >= 0.8 {
			return true
		}
	}
	return false
}

// Climbs: by the stated definition on the noise-free profile, each is found on each
// pass, and none is invented, in 97 % of cases at elevation noise of up to 0.3 m. Two
// rises with a dip between them that is hardly worth crossing may join by a hair.
func TestClimbsOfRandomCourses(t *testing.T) {
	seed := firstSeed(t)
	missed, invented := &tally{t: t}, &tally{t: t}
	for _, kind := range coursegen.Kinds() {
		for i := range uint64(cases(60)) {
			l, truth := coursegen.Random(kind, seed+i)
			noise := coursegen.Noise{SpacingM: 10, PositionM: 2, WhiteM: 0.2, ElevationM: 0.1 * float64(i%4)}
			found := climbsFound(conditioned(t, coursegen.Record(l, noise, seed+i), nil), truth.LengthM)
			for _, s := range truth.Climbs {
				if decided(s) {
					missed.add(matched(s, found), "kind %d, seed %d: the climb %.0f–%.0f m, %.0f m up, is not found", kind, seed+i, s.StartM, s.EndM, s.GainM)
				}
			}
			for _, s := range found {
				if decided(s) {
					invented.add(matched(s, truth.Climbs), "kind %d, seed %d: %.0f–%.0f m, %.0f m up, is not a climb", kind, seed+i, s.StartM, s.EndM, s.GainM)
				}
			}
		}
	}
	missed.demand("climbs missed", 0.03)
	invented.demand("climbs invented", 0.03)
}
