package terrain

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// finer returns the same polyline with more nodes, unevenly.
func (p profile) finer(t *rapid.T) profile {
	var q profile
	for i := range p.s {
		q.s, q.z = append(q.s, p.s[i]), append(q.z, p.z[i])
		if i+1 == len(p.s) {
			break
		}
		for range rapid.IntRange(0, 3).Draw(t, "more") {
			last := q.s[len(q.s)-1]
			x := last + rapid.Float64Range(0.1, 0.6).Draw(t, "share")*(p.s[i+1]-last)
			q.s, q.z = append(q.s, x), append(q.z, p.at(x))
		}
	}
	return q
}

// What is told depends on the road, not on where its nodes lie: windows, sums and means
// are over distance.
func TestNodesDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		a, b := dissect(p.course()), dissect(p.finer(t).course())
		if len(a.Climbs) != len(b.Climbs) || len(a.Descents) != len(b.Descents) || len(a.Climbing.FalseFlats) != len(b.Climbing.FalseFlats) {
			t.Fatalf("%d climbs, %d descents, %d false flats became %d, %d, %d", len(a.Climbs), len(a.Descents), len(a.Climbing.FalseFlats), len(b.Climbs), len(b.Descents), len(b.Climbing.FalseFlats))
		}
		numbers := func(t *Terrain) []float64 {
			r := t.Climbing.Rolling
			all := []float64{r.RisesPerKm, r.MeanRiseM, r.LargestRiseM, r.AscentMPerKm, r.LongestSteady.StartM, r.LongestSteady.EndM}
			for _, c := range t.Climbs {
				all = append(all, c.StartM, c.EndM, c.GainM, c.MaxGradientPct, c.Difficulty.H2Index)
			}
			for _, w := range t.Steepest {
				all = append(all, w.GradientPct)
			}
			for _, band := range t.GradientBands {
				all = append(all, band.LengthM)
			}
			for _, f := range t.Climbing.FalseFlats {
				all = append(all, f.StartM, f.EndM, f.MaxGradientPct)
			}
			return all
		}
		if x, y := numbers(a), numbers(b); !slices.EqualFunc(x, y, func(x, y float64) bool { return math.Abs(x-y) < 1e-5 }) {
			t.Fatalf("%v became %v", x, y)
		}
	})
}

// Approaches are measured on each pass: what doesn't fit before the first is left out,
// and one that starts on the lap before runs across the line.
func TestApproachesOnEachPass(t *testing.T) {
	lap := ramps(50, ramp{300, 5}, ramp{1400, 0}, ramp{300, -5}).every(10)
	c := lap.laps(3)
	c.Marks = []course.Mark{{Name: "Old wall", Kind: track.Sprint, At: []float64{400, 2400, 4400}}}
	got := dissect(c).Marks[0].Passes
	for i, p := range got {
		if want := []int{1, 3, 3}[i]; len(p.Approach) != want {
			t.Fatalf("pass %d: %+v", i+1, p.Approach)
		}
		for _, a := range p.Approach {
			// 100 m level, before it 300 m at 5 %, before the line 300 m at −5 %.
			want := map[float64]float64{1000: 0, 500: 100 * (15 - 5) / 500.0, 200: 2.5}[a.DistanceM]
			if math.Abs(a.MeanGradientPct-want) > 1e-9 || a.Bends != 0 || a.SharpestRadiusM != 0 {
				t.Errorf("pass %d: %+v, want a mean of %g %%", i+1, a, want)
			}
		}
		if p.Lap != i+1 || math.Abs(p.GradientPct) > 1e-9 {
			t.Errorf("pass %d: %+v", i+1, p)
		}
	}
}

// Rolling ground of a known number of hills of a known size.
func TestRollers(t *testing.T) {
	for _, h := range []struct{ amplitude, wavelength float64 }{{2, 400}, {3, 700}, {4, 1200}, {1.4, 300}} {
		const hills = 12
		var p profile
		for s := 0.0; s <= hills*h.wavelength; s += 10 {
			p.s, p.z = append(p.s, s), append(p.z, 100-h.amplitude*math.Cos(2*math.Pi*s/h.wavelength))
		}
		g := dissect(p.course())
		r := g.Climbing.Rolling
		perKm, rise := 1000/h.wavelength, 2*h.amplitude
		if rise < rollingRiseM {
			if r.RisesPerKm != 0 || math.Abs(r.AscentMPerKm-perKm*rise) > 0.02*perKm*rise {
				t.Errorf("hills of %g m: %+v", rise, r)
			}
			continue
		}
		if len(g.Climbs) != 0 || math.Abs(r.RisesPerKm-perKm) > 1e-6 || math.Abs(r.MeanRiseM-rise) > 0.02*rise ||
			math.Abs(r.LargestRiseM-rise) > 0.02*rise || math.Abs(r.AscentMPerKm-perKm*rise) > 0.02*perKm*rise {
			t.Errorf("hills of %g m every %g m: %d climbs, %+v", rise, h.wavelength, len(g.Climbs), r)
		}
	}
}

// The smallest courses there are, with elevation and without.
func TestTwoNodes(t *testing.T) {
	for _, p := range []profile{ramps(0, ramp{0.3, 5}), ramps(0, ramp{10, -20}), ramps(0, ramp{2000, 7})} {
		got := dissect(p.course())
		climbs := 0
		if p.z[1] > 100 {
			climbs = 1
		}
		if len(got.Climbs) != climbs || len(got.GradientBands) == 0 {
			t.Errorf("%v: %+v", p, got)
		}
		bare := p.course()
		bare.Z, bare.AscentTo, bare.DescentTo = nil, nil, nil
		if got := dissect(bare); got.Climbs != nil || got.Climbing.FalseFlats != nil || !math.IsNaN(got.Climbing.Rolling.AscentMPerKm) {
			t.Errorf("without elevation: %+v", got)
		}
	}
}
