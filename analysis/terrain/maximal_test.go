package terrain

import (
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// bruteMaximal finds the maximal-scoring stretches by their recursive definition:
// the best-scoring stretch of all, then the same on what is left on both sides.
func bruteMaximal(p profile, g0 float64, from, to int) [][2]int {
	var best [2]int
	bestScore := 0.0
	for i := from; i < to; i++ {
		for j := i + 1; j <= to; j++ {
			if score := p.z[j] - p.z[i] - g0*(p.s[j]-p.s[i]); score > bestScore+1e-9 {
				best, bestScore = [2]int{i, j}, score
			}
		}
	}
	if bestScore == 0 {
		return nil
	}
	all := bruteMaximal(p, g0, from, best[0])
	all = append(all, best)
	return append(all, bruteMaximal(p, g0, best[1], to)...)
}

func TestMaximalStretchesAreThoseOfTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		scale := rapid.SampledFrom([]float64{0.02, 1}).Draw(t, "scale")
		for i := range p.s {
			p.s[i], p.z[i] = scale*p.s[i], scale*p.z[i]
		}
		g0 := rapid.SampledFrom([]float64{climbThreshold, minMeanGradient, innerThreshold}).Draw(t, "g0")
		got, want := maximalStretches(p, g0), bruteMaximal(p, g0, 0, len(p.s)-1)
		if len(got) != len(want) {
			t.Fatalf("got %v, want %v", got, want)
		}
		for i := range got {
			if got[i] != want[i] {
				t.Fatalf("got %v, want %v", got, want)
			}
		}
	})
}

// Every maximal stretch that may be called a climb is reported, with the bounds of
// the definition, and nothing else but climbs within a gentle rise.
func TestClimbsAreThoseOfTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		want := map[float64]float64{}
		gentle := cover{}
		for _, r := range bruteMaximal(p, climbThreshold, 0, len(p.s)-1) {
			s := span{p.s[r[0]], p.s[r[1]]}
			gain := p.z[r[1]] - p.z[r[0]]
			switch {
			case gain-climbThreshold*s.length() < minScoreM:
			case gain < minMeanGradient*s.length():
				gentle.add(s)
			default:
				want[s.start] = s.end
			}
		}
		for _, c := range dissect(p.course()).Climbs {
			s := span{c.StartM, c.EndM}
			if c.GainM-climbThreshold*c.LengthM() < minScoreM-1e-5 || c.MeanGradientPct < 3-1e-5 {
				t.Fatalf("%+v is no climb", c.Stretch)
			}
			if c.ParentID != "" || gentle.holds(s) {
				continue
			}
			if want[s.start] != s.end {
				t.Fatalf("%+v is not among %v", s, want)
			}
			delete(want, s.start)
		}
		if len(want) > 0 {
			t.Fatalf("not reported: %v", want)
		}
	})
}

func TestRises(t *testing.T) {
	for _, tc := range []struct {
		name string
		p    profile
		want []span
	}{
		{"level", ramps(0, ramp{5000, 0}), nil},
		{"below the threshold", ramps(0, ramp{20000, 2}), nil},
		{"too little score", ramps(0, ramp{1000, 0}, ramp{250, 5}, ramp{1000, 0}), nil},
		{"enough score", ramps(0, ramp{1000, 0}, ramp{300, 5}, ramp{1000, 0}), []span{{1000, 1300}}},
		{"a drag of 2.5 % is none", ramps(0, ramp{4000, 2.5}), nil},
		{"joined across a dip", ramps(0, ramp{500, 0}, ramp{1000, 6}, ramp{200, -5}, ramp{1000, 6}), []span{{500, 2700}}},
		{"parted by a valley", ramps(0, ramp{1000, 6}, ramp{1000, -5}, ramp{1000, 6}), []span{{0, 1000}, {2000, 3000}}},
		// The whole rises 210 m over 8 km and scores 50 m, but is no climb.
		{"a climb in a gentle rise", ramps(0, ramp{3500, 2.2}, ramp{1000, 6}, ramp{3500, 2.1}), []span{{3500, 4500}}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := rises(tc.p)
			if len(got) != len(tc.want) {
				t.Fatalf("got %v, want %v", got, tc.want)
			}
			for i := range got {
				if got[i] != tc.want[i] {
					t.Errorf("got %v, want %v", got, tc.want)
				}
			}
		})
	}
}

func TestSteepPartOfAClimb(t *testing.T) {
	p := ramps(0, ramp{1000, 0}, ramp{3000, 4}, ramp{1000, 12}, ramp{1000, 4}, ramp{500, -3})
	c := p.every(10).course()
	c.Marks = []course.Mark{
		{Name: "Hart Hill", Kind: track.Summit, At: []float64{6010}},
		{Name: "Chapel Bank", Kind: track.Summit, At: []float64{5010}},
	}
	climbs := dissect(c).Climbs
	if len(climbs) != 2 {
		t.Fatalf("got %d climbs", len(climbs))
	}
	outer, inner := climbs[0], climbs[1]
	if outer.Name != "Hart Hill" || inner.Name != "Chapel Bank" {
		t.Errorf("named %q and %q", outer.Name, inner.Name)
	}
	c.Marks = []course.Mark{{Name: "Hart Hill", Kind: track.Summit, At: []float64{5000, 6000}}}
	if again := dissect(c).Climbs; again[0].Name != "Hart Hill" || again[1].Name != "" {
		t.Errorf("named %q and %q", again[0].Name, again[1].Name)
	}
	if outer.ID != "climb-1" || inner.ID != "climb-2" || inner.ParentID != "climb-1" {
		t.Errorf("got %q and %q in %q", outer.ID, inner.ID, inner.ParentID)
	}
	if outer.StartM != 1000 || outer.EndM != 6000 || inner.StartM != 4000 || inner.EndM != 5000 {
		t.Errorf("got %+v and %+v", outer.Stretch, inner.Stretch)
	}
}
