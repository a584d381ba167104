package aid

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/ride"
	"parcours.example/internal/seeded"
)

// An aid that changes nothing gains exactly nothing, anywhere.
func TestNoChangeNoGain(t *testing.T) {
	s := scene(t, road(t, 12_000, hilly), 250)
	none := Aid{DragFactor: 1, WakeFactor: 1, DurationS: 30}
	f := found(t, s, none)
	for _, u := range f.Samples {
		if u.GainS != 0 || u.Follower != nil {
			t.Fatalf("%+v", u)
		}
	}
	if len(f.Best) != 0 {
		t.Errorf("best places of nothing: %+v", f.Best)
	}
}

// rolling is a random profile.
func rolling(r *rand.Rand) func(s float64) float64 {
	a, b, height := r.Float64(), r.Float64(), 5+40*r.Float64()
	return func(s float64) float64 {
		return 200 + height*(math.Sin(2*math.Pi*(s/3_100+a))+0.3*math.Sin(2*math.Pi*(s/900+b)))
	}
}

// aided is the set-up that rides as an aid has the all-round one do.
func aided(a Aid) ride.Setup {
	s := setup()
	const wheels = 0.0044
	s.CdAM2 = a.DragFactor*(0.32+wheels) - wheels
	s.MassKg = 8 + a.MassChangeKg
	return s
}

// fullRide is the time of a ride on which the aid works from one place to another.
func fullRide(t *testing.T, s *Scene, a Aid, fromM, toM float64) float64 {
	t.Helper()
	rider := rider(75)
	rider.CdAM2 = 0.32
	stints := []ride.Stint{
		{EndM: fromM, Setup: setup(), Shelter: unset},
		{EndM: toM, Setup: aided(a), Shelter: unset},
		{EndM: s.Road.LengthM(), Setup: setup(), Shelter: unset},
	}
	r, err := ride.SimulateStints(context.Background(), s.Road, rider, stints, s.Ride.Asked(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return r.TimeS
}

// A gain is that of a full ride with the aid, to 10⁻⁴ s.
func TestGainIsThatOfAFullRide(t *testing.T) {
	first := seeded.First(t)
	for seed := range seeded.Cases(200) {
		r := rand.New(rand.NewPCG(first+uint64(seed), 1))
		way := []func(testing.TB, float64, func(float64) float64) *ride.Road{road, outside}[seed%2]
		s := scene(t, way(t, 9_000, rolling(r)), 180+120*r.Float64())
		a := Aid{DragFactor: 0.6 + 0.6*r.Float64(), MassChangeKg: 14*r.Float64() - 8, WakeFactor: 1, DurationS: 5 + 50*r.Float64()}
		atM := 100 + 7_500*r.Float64()
		u := at(t, s, a, atM)
		near(t, "the gain", u.GainS, s.Ride.TimeS-fullRide(t, s, a, atM, u.EndsM), 1e-4)
	}
}

// At steady speed v on one slope a small change δ of drag for T seconds gains
// ∂v/∂CdA·δ·T/v: what is lost of it while the aid starts to work comes back after it.
func TestSmallGainsInClosedForm(t *testing.T) {
	for _, gradient := range []float64{-0.01, 0, 0.03, 0.08} {
		r := road(t, 8_000, func(s float64) float64 { return 400 + gradient*s })
		s := scene(t, r, 260)
		for _, forS := range []float64{10, 20} {
			a := Aid{DragFactor: 0.99, WakeFactor: 1, DurationS: forS}
			u := at(t, s, a, 4_000)
			less := -0.01 * s.Ride.Bike.DragAreaM2
			half := scene(t, r, 260, ride.Span{StartM: 4_000, EndM: 8_000})
			perM2 := half.Ride.Sensitivities(r).Splits[0].PerCdAM2 / half.Ride.Splits[0].TimeS // relative
			near(t, "the gain", u.GainS, -perM2*less*forS, 0.02*u.GainS)
		}
	}
}

// Twice the time gains twice as much where the speed is steady.
func TestTwiceTheTime(t *testing.T) {
	s := scene(t, road(t, 8_000, level), 260)
	once, twice := dragAid(), dragAid()
	once.DragFactor, twice.DragFactor = 0.98, 0.98
	twice.DurationS *= 2
	near(t, "twice the time", at(t, s, twice, 4_000).GainS, 2*at(t, s, once, 4_000).GainS, 0.01*at(t, s, once, 4_000).GainS)
}

// The best place is no worse than any sample, and within 1 % of the best on a grid of 20 m.
func TestNoPlaceIsBetter(t *testing.T) {
	first := seeded.First(t)
	for seed := range seeded.Cases(60) {
		r := rand.New(rand.NewPCG(first+uint64(seed), 2))
		s := scene(t, road(t, 20_000, rolling(r)), 180+120*r.Float64())
		for _, a := range []Aid{dragAid(), massAid()} {
			f := found(t, s, a)
			for _, u := range f.Samples {
				if u.GainS > f.Best[0].GainS {
					t.Errorf("seed %d, %s: %v s at %v m, but the best is %v s", seed, a.Name, u.GainS, u.AtM, f.Best[0].GainS)
				}
			}
			for x := 10.0; x < 20_000; x += 20 {
				if u := at(t, s, a, x); u.GainS > 1.01*f.Best[0].GainS {
					t.Errorf("seed %d, %s: %v s at %v m, but the best is %v s", seed, a.Name, u.GainS, x, f.Best[0].GainS)
				}
			}
		}
	}
}

// On a long course, sampled every 120 m, a best place is the best of all around it.
func TestBestPlacesAreRefined(t *testing.T) {
	s := scene(t, road(t, 60_000, rolling(rand.New(rand.NewPCG(5, 5)))), 240)
	for _, b := range found(t, s, dragAid()).Best {
		for x := max(b.AtM-60, 0); x <= b.AtM+60; x += 3 {
			if u := at(t, s, dragAid(), x); u.GainS > b.GainS+1e-3 {
				t.Errorf("%v s at %v m, told is %v s at %v m", u.GainS, x, b.GainS, b.AtM)
			}
		}
	}
}

// The gain is continuous along the course.
func TestGainIsContinuous(t *testing.T) {
	s := scene(t, road(t, 12_000, hilly), 250)
	for _, a := range []Aid{dragAid(), massAid(), wakeAid()} {
		for _, from := range []float64{3_700, 6_900, 9_700, 11_800} {
			last := at(t, s, a, from)
			for x := from; x < from+200; x += 0.5 {
				u := at(t, s, a, x)
				if math.Abs(u.Value()-last.Value()) > 0.02 {
					t.Errorf("%s: from %v s to %v s at %v m", a.Name, last.Value(), u.Value(), x)
				}
				last = u
			}
		}
	}
}

// An aid is had from its first pass on, and not at all where that comes after the line.
func TestUsesComeAfterThePass(t *testing.T) {
	s := scene(t, road(t, 12_000, hilly), 250, ride.Span{StartM: 4_000, EndM: 4_000})
	a := dragAid()
	a.EarnedM = []float64{3_000, 9_000}
	for _, u := range found(t, s, a).Samples {
		if u.AtM < 3_000 {
			t.Fatalf("used at %v m", u.AtM)
		}
	}
	s.LineM = 3_000
	if f := found(t, s, a); len(f.Samples) != 0 || len(f.Best) != 0 {
		t.Errorf("an aid before it is earned: %+v", f)
	}
}

// Time through a stretch counts what an aid gains on it, not what it gains before.
func TestGainThroughAStretch(t *testing.T) {
	stretch := ride.Span{StartM: 4_000, EndM: 7_000}
	s := scene(t, road(t, 12_000, hilly), 250, stretch)
	s.FromM, s.LineM = stretch.StartM, stretch.EndM
	if u := at(t, s, dragAid(), 1_000); u.GainS != 0 {
		t.Errorf("3 km before the stretch %v s are gained on it", u.GainS)
	}
	u := at(t, s, dragAid(), 3_900)
	whole := *s
	whole.FromM, whole.LineM = 0, 12_000
	if w := at(t, &whole, dragAid(), 3_900); !(u.GainS > 0 && u.GainS < w.GainS) {
		t.Errorf("%v s through the stretch, %v s in all", u.GainS, w.GainS)
	}
}
