package launch

import (
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/internal/seeded"
)

// gradients are those at which a line is told elsewhere.
func gradients() []float64 { return []float64{-0.04, -0.02, 0, 0.02, 0.04, 0.06, 0.08} }

// sprinters calls a check for riders drawn at random.
func sprinters(t *testing.T, full int, check func(t *testing.T, r *rand.Rand, s Sprinter)) {
	seed := seeded.First(t)
	for k := range seeded.Cases(full) {
		r := rand.New(rand.NewPCG(seed, uint64(k)))
		check(t, r, anySprinter(t, r))
		if t.Failed() {
			t.Fatalf("case %d of seed %d", k, seed)
		}
	}
}

// The steeper the line, the nearer the launch, other things being equal.
func TestUphillLinesLaunchNearer(t *testing.T) {
	sprinters(t, 400, func(t *testing.T, r *rand.Rand, s Sprinter) {
		a := behind(t, 0, 0, demanding(t, s, 0, 0, 0.5+0.4*r.Float64()))
		found, err := Inclines(t.Context(), a, s, gradients())
		if err != nil || len(found) != len(gradients()) {
			t.Fatal(len(found), err)
		}
		for i := 1; i < len(found); i++ {
			if found[i].Best.LaunchM > found[i-1].Best.LaunchM+0.1 {
				t.Errorf("%.1f m at %v, %.1f m at %v", found[i-1].Best.LaunchM, found[i-1].Gradient, found[i].Best.LaunchM, found[i].Gradient)
			}
		}
		here := mustFind(t, a, s)
		near(t, "the line's own gradient", found[2].Best.TimeS, here.TimeS, 0.002)
	})
}

// At the same speed on arrival a line that goes up launches nearer, wherever the wheel can be
// held to it.
func TestUphillApproachesLaunchNearer(t *testing.T) {
	compared := 0
	sprinters(t, 400, func(t *testing.T, r *rand.Rand, s Sprinter) {
		share, gradient := 0.5+0.35*r.Float64(), 0.01+0.05*r.Float64()
		flat := mustFind(t, behind(t, 0, 0, demanding(t, s, 0, 0, share)), s)
		up := mustFind(t, behind(t, gradient, 0, demanding(t, s, 0, 0, share)), s)
		if flat.LostM >= 0 || up.LostM >= 0 {
			return
		}
		compared++
		if up.LaunchM > flat.LaunchM+0.1 {
			t.Errorf("%.1f m on the flat, %.1f m at %v", flat.LaunchM, up.LaunchM, gradient)
		}
	})
	if compared == 0 {
		t.Error("nothing compared")
	}
}

// Who lasts longer at the same powers launches earlier.
func TestLastingSprintersLaunchEarlier(t *testing.T) {
	sprinters(t, 400, func(t *testing.T, r *rand.Rand, s Sprinter) {
		a := behind(t, 0.04*r.Float64()-0.01, 0, demanding(t, s, 0, 0, 0.6+0.3*r.Float64()))
		lasting := s
		lasting.Rider.WPrimeJ *= 1.2
		lasting.BalanceJ = lasting.Rider.WPrimeJ
		short, long := mustFind(t, a, s), mustFind(t, a, lasting)
		if long.LaunchM < short.LaunchM-0.1 && short.LostM != short.LostM {
			t.Errorf("W′ %.0f J: %.1f m; %.0f J: %.1f m", s.Rider.WPrimeJ, short.LaunchM, lasting.Rider.WPrimeJ, long.LaunchM)
		}
	})
}

func TestWindMovesTheLaunch(t *testing.T) {
	sprinters(t, 400, func(t *testing.T, r *rand.Rand, s Sprinter) {
		v := demanding(t, s, 0, 0, 0.7+0.1*r.Float64())
		calm, with, against := mustFind(t, behind(t, 0, 0, v), s), mustFind(t, behind(t, 0, -1, v), s), mustFind(t, behind(t, 0, 1, v), s)
		if against.LostM >= 0 {
			return
		}
		if against.LaunchM > calm.LaunchM+0.1 || with.LaunchM < calm.LaunchM-0.1 {
			t.Errorf("headwind %.1f m, calm %.1f m, tailwind %.1f m", against.LaunchM, calm.LaunchM, with.LaunchM)
		}
	})
}

// Better shelter on the way never makes the line come later.
func TestShelterHelps(t *testing.T) {
	cases(t, 400, func(t *testing.T, a Approach, s Sprinter) {
		if a.Place == 1 {
			return
		}
		better := a
		better.Shelter *= 0.8
		if open, sheltered := mustFind(t, a, s), mustFind(t, better, s); sheltered.TimeS > open.TimeS+1e-4 {
			t.Errorf("%.4f s at %v, %.4f s at %v", open.TimeS, a.Shelter, sheltered.TimeS, better.Shelter)
		}
	})
}

// Equal riders get equal answers, and a rider who can't come past is told so.
func TestTooFastAWheelIsToldAsSuch(t *testing.T) {
	s := sprinter(t, 72, 300, 20000, 1200)
	slow, fast := mustFind(t, behind(t, 0, 0, 15), s), mustFind(t, behind(t, 0, 0, 19.5), s)
	if slow.AheadS <= 0 || fast.AheadS >= 0 {
		t.Errorf("ahead by %v s of 54 km/h, by %v s of 70 km/h", slow.AheadS, fast.AheadS)
	}
	if again := mustFind(t, behind(t, 0, 0, 15), s); again.TimeS != slow.TimeS || again.LaunchM != slow.LaunchM {
		t.Error("the same again differs")
	}
	if lost := mustFind(t, behind(t, 0.06, 0, 15), s); !(lost.LostM > 0) {
		t.Errorf("a wheel at 54 km/h up 6 %% is held: %v", lost.LostM)
	}
}

// The usual speed can be held to the line, and no rider asks for a faster wheel than 0.8 of
// what is above critical power.
func TestUsualSpeedCanBeHeld(t *testing.T) {
	sprinters(t, 200, func(t *testing.T, r *rand.Rand, s Sprinter) {
		gradient := 0.14*r.Float64() - 0.04
		a := behind(t, gradient, 0, 12)
		v := a.UsualSpeed(s, UsualDemand)
		a.SpeedMps = v
		if found := mustFind(t, a, s); found.LostM >= 0 {
			t.Errorf("%.2f m/s at %v is lost at %v m", v, gradient, found.LostM)
		}
		if most := demanding(t, s, gradient, 0, 0.8); v > most+0.01 {
			t.Errorf("%.2f m/s, above %.2f m/s", v, most)
		}
	})
}

func TestWheelsHoldTheApproachsOwn(t *testing.T) {
	s := sprinter(t, 72, 300, 20000, 1200)
	a := behind(t, 0.01, 0, 16)
	a.Shelter = 0.5
	found, err := Wheels(t.Context(), a, s, []int{1, 2, 3})
	if err != nil || len(found) != 3 {
		t.Fatal(len(found), err)
	}
	if own := mustFind(t, a, s); found[1].Best.TimeS != own.TimeS || found[1].Shelter != 0.5 {
		t.Errorf("%v s at %v, not %v s", found[1].Best.TimeS, found[1].Shelter, own.TimeS)
	}
}

// Where the wheel can't be held to the line, it can't at another gradient either, as fresh.
func TestALostWheelIsLostElsewhere(t *testing.T) {
	s := sprinter(t, 72, 300, 20000, 1200)
	found, err := Inclines(t.Context(), behind(t, 0.06, 0, 15), s, gradients())
	if err != nil || len(found) == 0 {
		t.Fatal(len(found), err)
	}
	for _, i := range found {
		if i.Best.LaunchM < 50 {
			t.Errorf("launched %.1f m before the line at %v", i.Best.LaunchM, i.Gradient)
		}
	}
}

// Gradients up which a wheel as undemanding would hardly move are left out.
func TestNoLineIsApproachedAtAWalk(t *testing.T) {
	s := sprinter(t, 72, 300, 20000, 1200)
	found, err := Inclines(t.Context(), behind(t, -0.05, 0, 10), s, gradients())
	if err != nil || len(found) == len(gradients()) {
		t.Fatal(len(found), err)
	}
	for _, i := range found {
		if i.SpeedMps < 3 {
			t.Errorf("%.1f m/s at %v", i.SpeedMps, i.Gradient)
		}
	}
	down := behind(t, -0.08, 0, 10)
	if power, err := down.HeadPowerW(); power != 0 || err != nil {
		t.Errorf("the head gives %v W down 8 %%, %v", power, err)
	}
}

// Whatever the contract takes is answered in finite numbers that fit together, or refused.
func TestExtremesStayFinite(t *testing.T) {
	seed := seeded.First(t)
	for k := range seeded.Cases(2000) {
		r := rand.New(rand.NewPCG(seed, uint64(k)))
		between := func(low, high float64) float64 { return low + (high-low)*r.Float64()*r.Float64() }
		critical := between(10, 1000)
		s := sprinter(t, between(20, 250), critical, between(500, 100_000), critical+between(0, 3000))
		s.BalanceJ *= r.Float64()
		length := between(50, 1000)
		steep := func() float64 { return between(-0.4, 0.4) * math.Copysign(1, r.Float64()-0.5) }
		a := Approach{
			Pieces:   piecesOf(t, between(-20, 20), stretch{length / 2, steep()}, stretch{length / 2, steep()}),
			SpeedMps: between(3, 25), Place: 1 + r.IntN(20), Shelter: r.Float64(),
		}
		found, err := Find(t.Context(), a, s)
		if err != nil {
			continue
		}
		for what, x := range map[string]float64{
			"launch": found.LaunchM, "seconds": found.LaunchS, "time": found.TimeS, "power": found.LinePowerW, "mean power": found.MeanPowerW,
			"balance": found.LineBalanceJ, "speed": found.LineSpeedMps, "peak": found.PeakSpeedMps - found.LineSpeedMps,
			"earliest": found.EarliestM - found.LaunchM, "latest": found.LaunchM - found.LatestM, "before the end": found.TimeS - found.LaunchS,
		} {
			if !(x >= -1e-6 && x < 1e6) {
				t.Fatalf("case %d of seed %d: %s is %v", k, seed, what, x)
			}
		}
		if _, err := Inclines(t.Context(), a, s, gradients()); err != nil {
			t.Fatalf("case %d of seed %d: %v", k, seed, err)
		}
	}
}
