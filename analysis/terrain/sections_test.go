package terrain

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func TestSectionsOfKnownRamps(t *testing.T) {
	for _, tc := range []struct {
		name string
		of   []ramp
	}{
		{"one gradient", []ramp{{2000, 7}}},
		{"a rest", []ramp{{400, 8}, {150, 1}, {600, 9}}},
		{"a pitch", []ramp{{900, 6}, {120, 15}, {800, 6}}},
		{"steeper and steeper", []ramp{{700, 4}, {700, 7}, {700, 11}}},
		{"six", []ramp{{500, 4}, {400, 10}, {500, 3}, {600, 9}, {500, 5}, {300, 12}}},
		{"a long climb", []ramp{{5000, 6}, {2000, 2}, {6000, 9}, {3000, 7}}},
	} {
		for _, spacing := range []float64{5, 10} {
			p := ramps(300, tc.of...).every(spacing)
			got := sections(p, 25)
			if len(got) != len(tc.of) {
				t.Errorf("%s at %g m: got %+v", tc.name, spacing, got)
				continue
			}
			at := 0.0
			for i, r := range tc.of {
				if math.Abs(got[i].StartM-at) > 20 || math.Abs(got[i].MeanGradientPct-r.pct) > 0.5 {
					t.Errorf("%s at %g m, section %d: got %+v, want from %g at %g %%", tc.name, spacing, i, got[i], at, r.pct)
				}
				at += r.lengthM
			}
		}
	}
}

func TestSectionsOfARestlessRoad(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	p := ramps(300, ramp{1000, 5}, ramp{600, 10}, ramp{1000, 5}).every(10)
	for i, d := 0, 0.0; i < len(p.z); i++ {
		// Gradient that wanders by a point within about 50 m.
		d = 0.8*d + 0.006*rng.NormFloat64()
		if i > 0 {
			p.z[i] += d
		}
	}
	got := sections(p, 25)
	if len(got) != 3 || math.Abs(got[1].StartM-1000) > 30 || math.Abs(got[1].EndM-1600) > 30 {
		t.Errorf("got %+v", got)
	}
}

// Sections follow each other from foot to top, are few and long enough, and their
// mean gradients add up to the climb.
func TestSectionsCoverTheClimb(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		if rapid.Bool().Draw(t, "resampled") {
			p = p.every(10)
		}
		got := sections(p, 25)
		at, rise := 0.0, 0.0
		for _, s := range got {
			if s.StartM != at || s.MaxGradientPct < s.MeanGradientPct-1e-6 {
				t.Fatalf("got %+v", got)
			}
			if len(got) > 1 && s.LengthM() < max(minSectionM, minSectionShare*p.lengthM())-1e-6 {
				t.Fatalf("too short: %+v", s)
			}
			at = s.EndM
			rise += s.MeanGradientPct / 100 * s.LengthM()
		}
		if at != p.endM() || len(got) > maxSections || math.Abs(rise-(p.z[len(p.z)-1]-p.z[0])) > 1e-6 {
			t.Fatalf("got %+v", got)
		}
	})
}

// The boundaries are the best there are: none of all choices of boundaries of a
// short climb costs less.
func TestPartitionIsOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProfile(t)
		p.s, p.z = p.s[:min(len(p.s), 11)], p.z[:min(len(p.z), 11)]
		cost, nodes := newSectionCost(p), thinned(p)
		last := len(nodes) - 1
		penalty := max(sectionPenaltyM, sectionPenaltyShare*cost.of(0, last))
		total := func(bounds []int) float64 {
			sum := -penalty
			for k := 1; k < len(bounds); k++ {
				sum += cost.of(bounds[k-1], bounds[k]) + penalty
			}
			return sum
		}
		best := total([]int{0, last})
		for set := range 1 << max(0, last-1) {
			bounds := []int{0}
			ok := true
			for i := 1; i <= last; i++ {
				if i < last && set&(1<<(i-1)) == 0 {
					continue
				}
				ok = ok && p.s[i]-p.s[bounds[len(bounds)-1]] >= 200
				bounds = append(bounds, i)
			}
			if ok && len(bounds) <= maxSections+1 {
				best = min(best, total(bounds))
			}
		}
		if got := total(partition(cost, nodes, 200)); math.Abs(got-best) > 1e-8 {
			t.Fatalf("got %v, best is %v", got, best)
		}
	})
}

func TestCostOfASection(t *testing.T) {
	// 100 m at 4 % and 300 m at 8 %: mean 7 %, so 100·0.03² + 300·0.01².
	cost := newSectionCost(ramps(0, ramp{50, -3}, ramp{100, 4}, ramp{300, 8}))
	if got := cost.of(1, 3); math.Abs(got-0.12) > 1e-12 {
		t.Errorf("got %g", got)
	}
}
