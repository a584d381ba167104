package launch

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"parcours.example/analysis/ride"
	"parcours.example/internal/seeded"
)

// The stored launches are those of a solver that shares nothing with ours: see
// testdata/make.py.
func TestAgainstAnotherSolver(t *testing.T) {
	content, err := os.ReadFile("testdata/sprints.json")
	if err != nil {
		t.Fatal(err)
	}
	var stored struct {
		Sprints []struct {
			Name      string
			Stretches [][2]float64
			Mass      float64 `json:"mass_kg"`
			CdA       float64 `json:"cda_m2"`
			Critical  float64 `json:"critical_power_w"`
			WPrime    float64 `json:"w_prime_j"`
			Max       float64 `json:"max_power_w"`
			Balance   float64 `json:"balance_j"`
			Headwind  float64 `json:"headwind_mps"`
			Place     int
			Shelter   float64
			Speed     float64  `json:"speed_mps"`
			LaunchM   float64  `json:"launch_m"`
			TimeS     float64  `json:"time_s"`
			LostM     *float64 `json:"lost_m"`
			Launches  []struct {
				LaunchM float64 `json:"launch_m"`
				TimeS   float64 `json:"time_s"`
			}
		}
	}
	if err := json.Unmarshal(content, &stored); err != nil || len(stored.Sprints) < 8 {
		t.Fatal(err, len(stored.Sprints))
	}
	for _, x := range stored.Sprints {
		t.Run(x.Name, func(t *testing.T) {
			var road []stretch
			for _, s := range x.Stretches {
				road = append(road, stretch{s[0], s[1]})
			}
			s := sprinter(t, x.Mass-8, x.Critical, x.WPrime, x.Max)
			s.BalanceJ = x.Balance
			setup := unstated()
			setup.CdAM2 = x.CdA
			if s.Bike, err = ride.NewBike(s.Rider, setup, ride.Conditions{Shelter: 1}); err != nil {
				t.Fatal(err)
			}
			a := Approach{Pieces: piecesOf(t, x.Headwind, road...), SpeedMps: x.Speed, Place: x.Place, Shelter: x.Shelter}
			found := mustFind(t, a, s)
			near(t, "time at the line", found.TimeS, x.TimeS, 0.001)
			near(t, "launch", found.LaunchM, x.LaunchM, 2)
			if x.LostM != nil {
				near(t, "where the wheel is lost", found.LostM, *x.LostM, cellM)
			} else if !math.IsNaN(found.LostM) {
				t.Errorf("the wheel is lost at %v m", found.LostM)
			}
			f := following(t, a, s, cellM)
			for _, l := range x.Launches {
				if at := a.LengthM() - l.LaunchM; at <= f.latestM() {
					near(t, "time of another launch", f.sprint(at, nil).timeS, l.TimeS, 0.001)
				}
			}
		})
	}
}

// following is a rider behind the wheel, in steps of a length.
func following(t testing.TB, a Approach, s Sprinter, longestM float64) *follower {
	t.Helper()
	bike, err := head()
	if err != nil {
		t.Fatal(err)
	}
	p, err := lead(divide(a.Pieces, &s.Bike, &bike, longestM), &bike, a.SpeedMps, a.headPower(&bike)*bike.Efficiency)
	if err != nil {
		t.Fatal(err)
	}
	return follow(p, s, a.Place, a.Shelter)
}

// cases calls a check for riders and approaches drawn at random: roads in several stretches,
// in wind, behind wheels that can be held and that can't.
func cases(t *testing.T, full int, check func(t *testing.T, a Approach, s Sprinter)) {
	seed := seeded.First(t)
	for k := range seeded.Cases(full) {
		r := rand.New(rand.NewPCG(seed, uint64(k)))
		s := anySprinter(t, r)
		s.BalanceJ *= 0.4 + 0.6*r.Float64()
		gradient, headwind := -0.03+0.09*r.Float64(), 6*r.Float64()-3
		v := demanding(t, s, gradient, headwind, 0.4+0.5*r.Float64())
		length := v * (10 + 20*r.Float64())
		road := []stretch{{length / 3, gradient}, {length / 4, gradient + 0.04*r.Float64() - 0.02}, {length * 5 / 12, gradient + 0.04*r.Float64() - 0.02}}
		place := 1 + r.IntN(4)
		check(t, Approach{Pieces: piecesOf(t, headwind, road...), SpeedMps: v, Place: place, Shelter: PlaceShelter(place)}, s)
		if t.Failed() {
			t.Fatalf("case %d of seed %d", k, seed)
		}
	}
}

// No launch every half metre is better than the one found, by more than a tenth of a
// millisecond.
func TestNothingOnAFineGridIsBetter(t *testing.T) {
	cases(t, 400, func(t *testing.T, a Approach, s Sprinter) {
		found, f := mustFind(t, a, s), following(t, a, s, cellM)
		for at := 0.0; at <= f.latestM(); at += 0.5 {
			if timeS := f.sprint(at, nil).timeS; timeS < found.TimeS-1e-4 {
				t.Errorf("%.1f m before the line is %.6f s better than %.2f m", a.LengthM()-at, found.TimeS-timeS, found.LaunchM)
			}
		}
	})
}

func TestHalvingTheStepChangesNothing(t *testing.T) {
	cases(t, 400, func(t *testing.T, a Approach, s Sprinter) {
		coarse, fine := following(t, a, s, cellM), following(t, a, s, cellM/2)
		for share := range 5 {
			at := float64(share) / 4 * min(coarse.latestM(), fine.latestM())
			near(t, "time at the line", fine.sprint(at, nil).timeS, coarse.sprint(at, nil).timeS, 0.001)
		}
	})
}

// A slow sprint up a wall takes as long in steps of 4 m as in far shorter ones.
func TestSlowSprintsAreAsExact(t *testing.T) {
	s := sprinter(t, 60, 115, 2500, 330)
	a := Approach{Pieces: piecesOf(t, 0, stretch{40, 0}, stretch{80, 0.18}), SpeedMps: 7, Place: 2, Shelter: 0.6}
	coarse, fine := following(t, a, s, cellM), following(t, a, s, 0.1)
	near(t, "time at the line", coarse.sprint(0, nil).timeS, fine.sprint(0, nil).timeS, 0.001)
}

// The costs told are those of the sprints from there, and the range that counts as good is
// as wide as it costs.
func TestCostsOfLaunchingElsewhere(t *testing.T) {
	cases(t, 100, func(t *testing.T, a Approach, s Sprinter) {
		found, f := mustFind(t, a, s), following(t, a, s, cellM)
		for _, o := range found.Offsets {
			near(t, "cost", o.CostS, f.sprint(a.LengthM()-found.LaunchM-o.EarlierM, nil).timeS-found.TimeS, 1e-9)
			if o.CostS < -1e-6 {
				t.Errorf("%v m earlier is %v s better", o.EarlierM, -o.CostS)
			}
		}
		if found.EarliestM < found.LaunchM || found.LatestM > found.LaunchM {
			t.Errorf("%v m isn't between %v and %v", found.LaunchM, found.EarliestM, found.LatestM)
		}
		if found.LatestM > a.LengthM()-f.latestM()+0.1 {
			near(t, "cost of the latest", f.sprint(a.LengthM()-found.LatestM, nil).timeS-found.TimeS, FlatS, 0.001)
		}
		if found.EarliestM < a.LengthM()-0.1 {
			near(t, "cost of the earliest", f.sprint(a.LengthM()-found.EarliestM, nil).timeS-found.TimeS, FlatS, 0.001)
		}
	})
}

// Without resistance, at constant power, m·v³ grows by 3·P·x.
func TestConstantPowerWithoutResistance(t *testing.T) {
	s := sprinter(t, 70, 400, 1e6, 400)
	s.Bike.DragAreaM2, s.Bike.CdAM2, s.Bike.Crr, s.Bike.BearingN, s.Bike.BearingNsPerM = 0, 0, 0, 0, 0
	a := behind(t, 0, 0, 12)
	f := following(t, a, s, cellM)
	end := f.sprint(0, nil)
	cube := 12*12*12 + 3*400*s.Bike.Efficiency*a.LengthM()/s.Bike.InertiaKg
	near(t, "speed", f.speed(end), math.Cbrt(cube), 1e-7)
	// t = (v₁² − v₀²)·m/(2P)
	near(t, "time", end.timeS-f.behindS(), (math.Pow(cube, 2./3)-144)*s.Bike.InertiaKg/(2*400*s.Bike.Efficiency), 1e-6)
}

// The head of the line rides as package ride has it, and so does a sprinter in the open at
// constant power.
func TestMotionIsThatOfPredictions(t *testing.T) {
	stretches := []stretch{{150, 0.01}, {80, 0.05}, {120, -0.02}}
	road := roadOf(t, 1.5, stretches...)
	s := sprinter(t, 75, 500, 20000, 500)
	s.Rider.HeightM = 1.80
	a := Approach{Pieces: road.Stretch(0, road.LengthM()), SpeedMps: 13, Place: 1, Shelter: PlaceShelter(1)}
	f := following(t, a, s, cellM)
	ridden := func(powerW, shelter float64) float64 {
		road.Conditions.StartSpeedMps, road.Conditions.CoastAboveMps, road.Conditions.Shelter = 13, 1e3, shelter
		made, err := ride.Simulate(t.Context(), road, s.Rider, unstated(), ride.Effort{Kind: ride.ByPower, PowerW: powerW}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return made.TimeS
	}
	near(t, "the head", f.moments[len(f.cells)].timeS, ridden(f.wheelW/s.Bike.Efficiency, PlaceShelter(1)), 1e-5)
	near(t, "the sprinter", f.sprint(0, nil).timeS, ridden(500, 1), 1e-5)
}

func TestAStoppedSearchSaysSo(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	s := sprinter(t, 72, 300, 20000, 1200)
	a := behind(t, 0, 0, 16)
	if _, err := Find(ctx, a, s); !errors.Is(err, context.Canceled) {
		t.Errorf("Find: %v", err)
	}
	if _, err := Inclines(ctx, a, s, []float64{0}); !errors.Is(err, context.Canceled) {
		t.Errorf("Inclines: %v", err)
	}
	if _, err := Wheels(ctx, a, s, []int{2}); !errors.Is(err, context.Canceled) {
		t.Errorf("Wheels: %v", err)
	}
}

// The straight line of power over W′ is package ride's.
func TestPowerIsTheRidersLimit(t *testing.T) {
	s := sprinter(t, 72, 300, 20000, 1200)
	f := following(t, behind(t, 0, 0, 16), s, cellM)
	for _, balance := range []float64{0, 1, 7777, 20000} {
		near(t, "power", f.limit(balance), s.Rider.PowerLimitW(balance), 1e-9)
	}
}

func TestAWallIsRefused(t *testing.T) {
	s := sprinter(t, 72, 110, 9000, 500)
	a := Approach{Pieces: piecesOf(t, 0, stretch{30, 0}, stretch{120, 0.45}), SpeedMps: 8, Place: 2, Shelter: 0.6}
	var fault *ride.Error
	if _, err := Find(t.Context(), a, s); !errors.As(err, &fault) || fault.Code != ride.CodeCannotClimb {
		t.Errorf("%v", err)
	}
}

func BenchmarkFind(b *testing.B) {
	s := sprinter(b, 72, 300, 20000, 1200)
	a := behind(b, 0.01, 0, 16)
	for b.Loop() {
		if _, err := Find(b.Context(), a, s); err != nil {
			b.Fatal(err)
		}
	}
}
