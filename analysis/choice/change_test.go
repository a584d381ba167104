package choice

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/ride"
)

// flatThenClimb is a case of a smooth and a light set-up on a flat of 15 km and a climb, with
// a change of the one for the other at its foot.
func flatThenClimb(t rapid.TB, lengthM, gradient, powerW float64, c Change) Case {
	t.Helper()
	road := mustRoad(t, profile([]float64{0, 15_000, 15_000 + lengthM}, []float64{50, 50, 50 + gradient*lengthM}), conditions())
	c.From, c.To, c.Spots = 0, 1, []Spot{{"the foot", 15_000}}
	k := Case{
		Road: road, Rider: rider(72), Doubt: doubtful(road), Ambitions: []Ambition{finish(road)}, Changes: []Change{c},
		Setups: []ride.Setup{setup("smooth", 10, -0.06), setup("light", 6.8, 0)},
	}
	k.Rider.CriticalPowerW, k.Rider.WPrimeJ = 280, 20_000
	return k.at(t, powerW)
}

// A change of nothing changes nothing.
func TestAChangeWithoutAStopOntoTheSameBike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, 2)
		c.Setups[1], c.Rides[1] = c.Setups[0], c.Rides[0]
		c.Changes = []Change{{From: 0, To: 1, Spots: []Spot{{"a place", c.Road.LengthM() * rapid.Float64Range(0.1, 0.9).Draw(t, "place")}}}}
		c = c.at(t, c.Rides[0].MeanPowerW)
		trial := decide(t, c).Changes[0].Trials[0]
		if trial.TimeS != c.Rides[0].TimeS || trial.Gain != (Gap{Tied: true}) || trial.LostS != 0 || trial.OpenedS > 1e-6 {
			t.Fatalf("%v s became %+v", c.Rides[0].TimeS, trial)
		}
	})
}

// What is lost has its parts, what is won less it is the gain, and a rider who stands as
// long as breaks even takes as long as one who doesn't change.
func TestTheBooksOfAChangeBalance(t *testing.T) {
	for _, change := range []Change{{Stops: true, StandingS: 15}, {Stops: true, StandingS: 8, AloneM: 1200, AloneShelter: 1}, {}} {
		c := flatThenClimb(t, 6000, 0.07, 250, change)
		c.Road.Conditions.Shelter = 0.7
		c = c.at(t, 250)
		trial := decide(t, c).Changes[0].Trials[0]
		near(t, "gain", trial.Gain.S, c.Rides[0].TimeS-trial.TimeS, 1e-9)
		near(t, "gain of its parts", trial.Gain.S, trial.WonS-trial.StandingS-trial.GoingS-trial.AloneS, 1e-9)
		// The speed that is braked away would have carried the rider up the foot of the climb.
		if carried := carriedS(c.Rides[0], 15_000); change.Stops && !(trial.GoingS > 0.7*carried && trial.GoingS < 1.1*carried) {
			t.Errorf("%v s for braking and getting up to speed; at the foot the speed is worth %v s", trial.GoingS, carried)
		}
		if change.AloneM > 0 && !(trial.AloneS > 1) {
			t.Errorf("%v s for lost shelter", trial.AloneS)
		}
		if !change.Stops || trial.BreakEvenS < 0 {
			continue
		}
		change.StandingS = trial.BreakEvenS
		even := flatThenClimb(t, 6000, 0.07, 250, change)
		even.Road.Conditions.Shelter = 0.7
		even = even.at(t, 250)
		near(t, "gain at break-even", decide(t, even).Changes[0].Trials[0].Gain.S, 0, 1e-6)
	}
}

// carriedS is the time in which the rider does as much work as the motion holds at a place.
func carriedS(r *ride.Ride, atM float64) float64 {
	i, _ := slices.BinarySearch(r.Trace.DistanceM, atM)
	v := r.Trace.SpeedMps[i]
	return 0.5 * r.Bike.InertiaKg * v * v / (r.Bike.Efficiency * r.MeanPowerW)
}

// The gap to those who ride on is what was lost until the other bike wins it back.
func TestTheGapThatAChangeOpens(t *testing.T) {
	c := flatThenClimb(t, 9000, 0.08, 280, Change{Stops: true, StandingS: 15})
	trial := decide(t, c).Changes[0].Trials[0]
	if !(trial.OpenedS > 15+2 && trial.OpenedS <= trial.LostS+1) || !(trial.OpenedAtM >= 15_000 && trial.OpenedAtM < 15_500) {
		t.Errorf("%v s at %v m, %v s lost", trial.OpenedS, trial.OpenedAtM, trial.LostS)
	}
	if !(trial.Gain.S > 0 && trial.LevelAtM > trial.OpenedAtM && trial.LevelAtM < c.Road.LengthM()) {
		t.Errorf("gains %v s, level at %v m", trial.Gain.S, trial.LevelAtM)
	}
	near(t, "what it saves against the fastest", trial.OverBestS, min(c.Rides[0].TimeS, c.Rides[1].TimeS)-trial.TimeS, 1e-9)
	if !(trial.OverBestS > 0) {
		t.Errorf("the change is faster than either bike by %v s", trial.OverBestS)
	}
	if !(trial.OpenedM > 5*trial.OpenedS/2 && trial.OpenedM < 12*trial.OpenedS) {
		t.Errorf("%v s are %v m", trial.OpenedS, trial.OpenedM)
	}
	if !(trial.Balance.EndJ > c.Rides[0].Balance.EndJ) {
		t.Errorf("W′ doesn't recover standing: %+v, without a change %+v", trial.Balance, c.Rides[0].Balance)
	}
}

// The best of several places is the one that takes the least time.
func TestTheBestPlaceOfAChange(t *testing.T) {
	c := flatThenClimb(t, 9000, 0.08, 280, Change{Stops: true, StandingS: 15})
	c.Changes[0].Spots = []Spot{{"a", 3000}, {"b", 9000}, {"c", 15_000}, {"d", 20_000}}
	changed := decide(t, c.at(t, 280)).Changes[0]
	for _, trial := range changed.Trials {
		if trial.TimeS < changed.Trials[changed.Best].TimeS {
			t.Errorf("%v m takes %v s, the best %v s", trial.AtM, trial.TimeS, changed.Trials[changed.Best].TimeS)
		}
	}
	if changed.Best != 2 {
		t.Errorf("best at %v m, not at the foot", changed.Trials[changed.Best].AtM)
	}
}

// A rider who can't go on from a stop on a wall is told so.
func TestAChangeOntoAWall(t *testing.T) {
	c := flatThenClimb(t, 800, 0.02, 100, Change{Stops: true})
	c.Setups[1].MassKg = 990
	c.Rides[1] = nil
	changed := decide(t, c).Changes[0]
	if changed.Best != -1 || changed.Trials[0].Halt == nil {
		t.Errorf("%+v", changed)
	}
}
