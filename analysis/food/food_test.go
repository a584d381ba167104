package food

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// steady is a ride at a constant power in weather that isn't known.
func steady(powerW, timeS float64) Ride {
	return Ride{WorkJ: powerW * timeS, TimeS: timeS, GrossEfficiency: 0.22, TemperatureC: math.NaN()}
}

func TestHotIsHeatOrAHall(t *testing.T) {
	for _, c := range []struct {
		temperatureC float64
		indoor, hot  bool
	}{
		{math.NaN(), false, false}, {24.9, false, false}, {25, false, true}, {math.NaN(), true, true}, {15, true, true},
	} {
		ride := steady(200, 5000)
		ride.TemperatureC, ride.Indoor = c.temperatureC, c.indoor
		if got := Of(ride).Hot; got != c.hot {
			t.Errorf("%v °C, indoors %v: hot is %v", c.temperatureC, c.indoor, got)
		}
	}
}

// Thirst decides on short rides, and every duration has something said of it.
func TestShortRides(t *testing.T) {
	for timeS, low := range map[float64]float64{60: 0, 2699: 0, 2700: 0.4, 4499: 0.4, 1e6: 0.4} {
		n := Of(steady(250, timeS))
		if n.DrinkLPerH.Low != low || n.Note == "" {
			t.Errorf("%v s: %+v", timeS, n)
		}
	}
}

func TestTotalsAreRatesOverTime(t *testing.T) {
	n := Of(steady(230, 5400))
	if n.CarbohydrateG != (Range{45, 90}) {
		t.Errorf("%v g in an hour and a half at %v g/h", n.CarbohydrateG, n.CarbohydrateGPerH)
	}
	near(t, "l", n.DrinkL.High, 1.2, 1e-12)
}

// A gentle ride takes no more than it uses: 40 W for 5 h expend 182 J/s, 38.5 g/h as
// carbohydrate, and give 142 J/s of heat, 0.21 l/h of sweat.
func TestGentleRidesTakeLess(t *testing.T) {
	n := Of(steady(40, 5*3600))
	near(t, "g/h", n.CarbohydrateGPerH.High, 38.5, 0.05)
	near(t, "l/h", n.DrinkLPerH.High, 0.211, 5e-4)
}

func TestNeedsAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ride := Ride{
			TimeS:           rapid.Float64Range(1, 1e6).Draw(t, "time"),
			GrossEfficiency: rapid.Float64Range(0.05, 0.5).Draw(t, "efficiency"),
			TemperatureC:    rapid.Float64Range(-40, 55).Draw(t, "temperature"),
			Indoor:          rapid.Bool().Draw(t, "indoor"),
		}
		ride.WorkJ = rapid.Float64Range(0, 500).Draw(t, "power") * ride.TimeS
		n := Of(ride)
		eaten, drunk := n.CarbohydrateG, n.DrinkL
		for _, r := range []Range{n.CarbohydrateGPerH, n.DrinkLPerH, eaten, drunk} {
			if !(0 <= r.Low && r.Low <= r.High && !math.IsInf(r.High, 1)) {
				t.Fatalf("out of order: %+v", n)
			}
		}
		if e := eaten.High * joulesPerGram; e > n.EnergyJ*(1+1e-9) {
			t.Fatalf("%v J are eaten and %v J used", e, n.EnergyJ)
		}
		if e := drunk.High * joulesPerLitre; e > (n.EnergyJ-ride.WorkJ)*(1+1e-9) {
			t.Fatalf("%v l are drunk, more than can be sweated", drunk.High)
		}
	})
}
