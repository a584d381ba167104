package aid

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// together finds the best joint use.
func together(t testing.TB, s *Scene, aids ...Aid) *Joint {
	t.Helper()
	var all []*Found
	for _, a := range aids {
		all = append(all, found(t, s, a))
	}
	j, err := Together(t.Context(), s, aids, all)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// Uses far apart gain together what they gain alone.
func TestFarUsesAdd(t *testing.T) {
	s := scene(t, road(t, 40_000, func(x float64) float64 {
		return hilly(math.Mod(x, 12_000)) * math.Min(1, math.Max(0, (36_000-x)/1_000))
	}), 250)
	a := dragAid()
	a.EarnedM = []float64{100, 12_100, 24_100}
	j := together(t, s, a)
	if len(j.Uses) != 3 {
		t.Fatalf("%+v", j.Uses)
	}
	near(t, "the gain", j.GainS, j.AloneS(), 1e-3)
}

// Uses that follow each other closely are ridden as one ride with both.
func TestCloseUsesAreOneRide(t *testing.T) {
	s := scene(t, road(t, 9_000, rolling(rand.New(rand.NewPCG(1, 1)))), 250)
	a := dragAid()
	u := at(t, s, a, 4_000)
	twice := a
	twice.DurationS *= 2
	long := at(t, s, twice, 4_000)
	got, err := rideAll(t.Context(), s, []Aid{a}, []Planned{{AtM: 4_000}, {AtM: u.EndsM}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the gain", got, long.GainS, 1e-5)
}

// One is held at a time: who keeps an aid past a gate earns none there.
func TestOneIsHeld(t *testing.T) {
	s := scene(t, road(t, 12_000, level), 250)
	a := dragAid()
	a.EarnedM = []float64{2_000, 2_010, 11_900}
	j := together(t, s, a)
	if len(j.Uses) != 3 || j.Uses[0].AtM > 2_010 || j.Uses[0].EarnedM != 2_000 || j.Uses[1].EarnedM != 2_010 {
		t.Errorf("%+v", j.Uses)
	}
	for i, u := range j.Uses[1:] {
		if u.AtM < u.EarnedM || u.AtM < j.Uses[i].AtM {
			t.Errorf("%+v", j.Uses)
		}
	}
}

// A gate that offers two aids gives the one that suits; those from the start come beside.
func TestAGateOffersOne(t *testing.T) {
	s := scene(t, road(t, 12_000, hilly), 250)
	drag, mass, start := dragAid(), massAid(), massAid()
	drag.EarnedM, mass.EarnedM = []float64{5_000}, []float64{5_000}
	j := together(t, s, drag, mass, start)
	if len(j.Uses) != 2 || !slices.ContainsFunc(j.Uses, func(u Planned) bool { return u.Aid == 0 }) ||
		!slices.ContainsFunc(j.Uses, func(u Planned) bool { return u.Aid == 2 && math.IsNaN(u.EarnedM) }) {
		t.Errorf("%+v", j.Uses)
	}
}

// most is the most that can be gained, by trying everything in turn.
func most(aids []Aid, uses [][]Use, atM float64, held int, given []bool) float64 {
	// What comes next: the first pass or use at or after atM.
	type next struct {
		m    float64
		pass bool
	}
	var all []next
	for k := range aids {
		for _, m := range aids[k].EarnedM {
			all = append(all, next{m, true})
		}
		for _, u := range uses[k] {
			all = append(all, next{u.AtM, false})
		}
	}
	slices.SortFunc(all, func(a, b next) int {
		if c := cmp.Compare(a.m, b.m); c != 0 {
			return c
		}
		return map[bool]int{true: -1, false: 1}[a.pass]
	})
	all = slices.Compact(all)
	var try func(i, held int, busyM float64) float64
	try = func(i, held int, busyM float64) float64 {
		if i == len(all) {
			return 0
		}
		e := all[i]
		if e.pass {
			if held >= 0 {
				return try(i+1, held, busyM)
			}
			best := math.Inf(-1)
			for k := range aids {
				if slices.Contains(aids[k].EarnedM, e.m) {
					best = max(best, try(i+1, k, busyM))
				}
			}
			return best
		}
		best := try(i+1, held, busyM)
		for k := range aids {
			for _, u := range uses[k] {
				if u.AtM != e.m || u.AtM < busyM || u.GainS <= 0 {
					continue
				}
				switch {
				case len(aids[k].EarnedM) == 0 && given[k]:
					given[k] = false
					best = max(best, u.GainS+try(i+1, held, u.EndsM))
					given[k] = true
				case held == k:
					best = max(best, u.GainS+try(i+1, -1, u.EndsM))
				}
			}
		}
		return best
	}
	return try(0, held, atM)
}

// The choice is the best of all that the rules allow.
func TestChoiceIsTheBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3).Draw(t, "aids")
		aids, finds, uses, given := make([]Aid, n), make([]*Found, n), make([][]Use, n), make([]bool, n)
		for k := range aids {
			given[k] = true
			for _, m := range rapid.SliceOfNDistinct(rapid.IntRange(0, 20), 0, 3, rapid.ID[int]).Draw(t, "passes") {
				aids[k].EarnedM = append(aids[k].EarnedM, float64(m))
			}
			slices.Sort(aids[k].EarnedM)
			for _, m := range rapid.SliceOfNDistinct(rapid.IntRange(0, 20), 0, 4, rapid.ID[int]).Draw(t, "uses") {
				gainS := float64(rapid.IntRange(-2, 9).Draw(t, "gain"))
				uses[k] = append(uses[k], Use{AtM: float64(m), EndsM: float64(m) + rapid.Float64Range(0.1, 6).Draw(t, "length"), GainS: gainS})
			}
			finds[k] = &Found{Samples: uses[k]}
		}
		c := newChoice(aids, finds)
		if err := c.solve(context.Background()); err != nil {
			t.Fatal(err)
		}
		j := Joint{Uses: c.uses()}
		if want := most(aids, uses, math.Inf(-1), -1, given); math.Abs(j.AloneS()-want) > 1e-9 {
			t.Fatalf("%v s by %+v, the best is %v s", j.AloneS(), j.Uses, want)
		}
		busyM := math.Inf(-1)
		for _, u := range j.Uses {
			i := slices.IndexFunc(uses[u.Aid], func(v Use) bool { return v.AtM == u.AtM })
			if u.AtM < busyM || u.EarnedM > u.AtM {
				t.Fatalf("%+v", j.Uses)
			}
			busyM = uses[u.Aid][i].EndsM
		}
	})
}

func TestJointStops(t *testing.T) {
	s := scene(t, road(t, 12_000, level), 250)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	a := dragAid()
	if _, err := Find(ctx, s, &a); err == nil {
		t.Error("a cancelled search goes on")
	}
	if _, err := Together(ctx, s, []Aid{a}, []*Found{found(t, s, a)}); err == nil {
		t.Error("a cancelled choice goes on")
	}
}
