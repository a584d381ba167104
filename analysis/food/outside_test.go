package food

import (
	"math"
	"testing"
)

// Checks against the world. "Computed" marks values worked out from the stated equation
// elsewhere, "from memory" values whose source wasn't at hand.

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}

// Kilocalories expended per kilojoule of work, 1/(4.184·efficiency), for efficiencies from
// untrained to world-class riders (computed); one to one at 23.9 %.
func TestKilocaloriesPerKilojoule(t *testing.T) {
	for efficiency, kcal := range map[float64]float64{
		0.18: 1.328, 0.198: 1.207, 0.20: 1.195, 0.22: 1.086, 0.239: 1.000, 0.245: 0.976, 0.25: 0.956,
	} {
		n := Of(Ride{WorkJ: 1000, TimeS: 3600, GrossEfficiency: efficiency})
		near(t, "kcal per kJ", n.EnergyKcal(), kcal, 5e-4)
	}
	near(t, "kcal of 2,000 kJ at 22 %", Of(Ride{WorkJ: 2e6, TimeS: 9000, GrossEfficiency: 0.22}).EnergyKcal(), 2173, 0.5)
}

// Jeukendrup 2014, Sports Med. 44 Suppl. 1:S25–S33 (abstract): small amounts for about an
// hour, up to 60 g/h for 2 to 3 h, about 90 g/h for the longest. General guidance gives
// 60 to 90 g/h for long rides (from memory).
func TestCarbohydrateByDuration(t *testing.T) {
	for hours, want := range map[float64]Range{0.5: {}, 1: {0, 30}, 2: {30, 60}, 2.4: {30, 60}, 4: {60, 90}, 7: {60, 90}} {
		n := Of(steady(220, hours*3600))
		if n.CarbohydrateGPerH != want {
			t.Errorf("%v h: %v g/h, want %v", hours, n.CarbohydrateGPerH, want)
		}
	}
}

// Sawka et al. 2007, Med. Sci. Sports Exerc. 39:377–390: 0.4 to 0.8 l/h to start from
// (as quoted by Fudge & Pitsiladis 2009), and never more than is sweated. Smith et al.
// 2013, Med. Sci. Sports Exerc. 45:336–341, gave cyclists 1 l/h.
func TestDrinkByHeat(t *testing.T) {
	ride := steady(220, 7200)
	if got := Of(ride).DrinkLPerH; got != (Range{0.4, 0.8}) {
		t.Errorf("%v l/h of drink", got)
	}
	ride.TemperatureC = 33
	if got := Of(ride).DrinkLPerH; !(got.Low > 0.4 && got.High == 1) {
		t.Errorf("%v l/h of drink in heat", got)
	}
}

// Monteith 1972, Nature New Biol. 236:96: the latent heat of water is 2,501 J/g at 0 °C
// and 2,406 J/g at 40 °C; skin is at about 35 °C.
func TestLatentHeatOfSweat(t *testing.T) {
	near(t, "J/g", joulesPerLitre/1000, 2501-(2501-2406)*35/40.0, 2)
}
