package duel_test

import (
	"strings"
	"testing"

	"parcours.example/analysis/duel"
	"parcours.example/analysis/ride"
)

// lapsAndClimb is 8 km of flat road, 3 km at a gradient, and 1 km of flat.
func lapsAndClimb(t *testing.T, gradient float64) (*ride.Road, *ride.Span) {
	c := onto(12_000, make([]float64, 13)...)
	for i := 9; i <= 12; i++ {
		c.Z[i] = 1000 * gradient * float64(min(i, 11)-8)
	}
	return road(t, c), &ride.Span{StartM: 8000, EndM: 11_000}
}

func TestWordsFollowTheFacts(t *testing.T) {
	heavy := contestant("Bram", 80, 3.6)
	tired := contestant("Nour", 60, 4)
	tired.Rider.CriticalPowerW, tired.Rider.WPrimeJ = 245, 3000
	for name, c := range map[string]struct {
		lighter  duel.Contestant
		gradient float64
		climb    bool
		want     string
	}{
		"equal power per mass": {contestant("Nour", 60, 3.6), 0.08, true, "Each alone, Bram (80.0 kg, 3.60 W/kg) finishes 1:22 ahead of Nour (60.0 kg, 3.60 W/kg): Nour is 47 s behind at the foot of the last climb and loses 29 s on it. They would finish together with Nour at 3.89 W/kg throughout, 8.0 % more, or at 80.0 kg with the same power per mass; to be level at the top by the last climb alone takes 4.01 W/kg there instead of 3.60."},
		"comes back in part":   {contestant("Nour", 60, 3.8), 0.08, true, "Each alone, Bram (80.0 kg, 3.60 W/kg) finishes 24 s ahead of Nour (60.0 kg, 3.80 W/kg): Nour is 32 s behind at the foot of the last climb and gains 11 s on it. They would finish together with Nour at 3.89 W/kg throughout, 2.3 % more, or at 65.1 kg with the same power per mass; to be level at the top by the last climb alone takes 3.91 W/kg there instead of 3.80."},
		"comes back":           {contestant("Nour", 60, 4.05), 0.08, true, "Each alone, Nour (60.0 kg, 4.05 W/kg) finishes 41 s ahead of Bram (80.0 kg, 3.60 W/kg): Nour is 13 s behind at the foot of the last climb and gains 55 s on it. They would finish together with Nour at 3.89 W/kg throughout, 4.0 % less, or at 52.2 kg with the same power per mass."},
		"can't be told":        {contestant("Nour", 60, 3.87), 0.08, true, "Each alone, Bram (80.0 kg, 3.60 W/kg) finishes 4.7 s ahead of Nour (60.0 kg, 3.87 W/kg): Nour is 26 s behind at the foot of the last climb and gains 24 s on it. They would finish together with Nour at 3.89 W/kg throughout, 0.5 % more, or at 61.0 kg with the same power per mass; to be level at the top by the last climb alone takes 3.88 W/kg there instead of 3.87. That is within a power meter's error of 1 to 2 %, so who of the two is faster can't be told."},
		"W′ doesn't last":      {tired, 0.02, true, "Each alone, Bram (80.0 kg, 3.60 W/kg) finishes 18 s ahead of Nour (60.0 kg, 4.00 W/kg): Nour is 17 s behind at the foot of the last climb and gains 0.9 s on it. They would finish together with Nour at 4.14 W/kg throughout, 3.5 % more, which critical power and W′ don't allow, or at 64.3 kg with the same power per mass; to be level at the top by the last climb alone takes 4.37 W/kg there instead of 4.00, which critical power and W′ don't allow."},
		"no climb":             {contestant("Nour", 60, 3.8), 0, false, "Each alone, Bram (80.0 kg, 3.60 W/kg) finishes 48 s ahead of Nour (60.0 kg, 3.80 W/kg): Nour loses 48 s on the level. They would finish together with Nour at 4.26 W/kg throughout, 12.0 % more, or at 72.8 kg with the same power per mass."},
		"out of reach":         {contestant("Nour", 60, 0.6), 0, false, "Each alone, Bram (80.0 kg, 3.60 W/kg) finishes 22:10 ahead of Nour (60.0 kg, 0.60 W/kg): Nour loses 22:10 on the level. No power from 0.20 to 1.80 W/kg brings Nour level; no mass from 30.0 kg to 150.0 kg does at the same power per mass."},
	} {
		r, climb := lapsAndClimb(t, c.gradient)
		if !c.climb {
			climb = nil
		}
		if got := ridden(t, r, duel.Question{Heavier: heavy, Lighter: c.lighter, LastClimb: climb}).Words(); got != c.want {
			t.Errorf("%s:\n%s\nnot\n%s", name, got, c.want)
		}
	}
}

func TestWordsOfTwoOfAKind(t *testing.T) {
	r, climb := lapsAndClimb(t, 0.08)
	got := ridden(t, r, duel.Question{Heavier: contestant("Bram", 70, 4), Lighter: contestant("Nour", 70, 4), LastClimb: climb}).Words()
	if !strings.Contains(got, "finish together") {
		t.Error(got)
	}
}
