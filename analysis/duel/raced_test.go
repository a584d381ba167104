package duel_test

import (
	"context"
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/duel"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
)

// raced is the gap at the end of a road of two who race without shelter.
func raced(t *rapid.T, r *ride.Road, heavier, lighter duel.Contestant) float64 {
	rules := race.Defaults()
	rules.Alone, rules.FormPct = true, 0
	var field []race.Entrant
	for _, c := range []duel.Contestant{heavier, lighter} {
		c.Rider.CriticalPowerW, c.Rider.WPrimeJ = 4*c.Rider.MassKg, 20_000 // which changes nothing
		field = append(field, race.Entrant{Rider: c.Rider, Setup: c.Setup, Steps: c.Steps})
	}
	both, err := race.New(r, field, []float64{r.LengthM()}, rules)
	if err != nil {
		t.Fatal(err)
	}
	var run race.Run
	if err := both.Ride(context.Background(), 0, &run); err != nil {
		t.Fatal(err)
	}
	return run.CrossingS[1] - run.CrossingS[0]
}

// Raced at the values that tip the duel, the two cross the line together.
func TestTippingValuesTipARace(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, climb := rolling(rt)
		r := road(t, c)
		heavier, lighter := duelists(rt)
		a := ridden(t, r, duel.Question{Heavier: heavier, Lighter: lighter, LastClimb: &climb})
		stronger, grown := lighter, lighter
		stronger.Steps = timesFactor(lighter.Steps, a.Power.Factor)
		grown.Rider.MassKg = a.Mass.Value
		grown.Steps = timesFactor(lighter.Steps, a.Mass.Factor)
		for what, c := range map[string]duel.Contestant{"power": stronger, "mass": grown} {
			if gap := raced(rt, r, heavier, c); !(math.Abs(gap) < 0.2) {
				rt.Errorf("raced at the %s that tips, the gap is %.3f s", what, gap)
			}
		}
		if gap := raced(rt, r, heavier, lighter); !(math.Abs(gap-a.GapS) < 0.4) {
			rt.Errorf("raced as given, the gap is %.3f s, in the duel %.3f s", gap, a.GapS)
		}
	})
}
