package brief

import (
	"math"
	"strings"
	"testing"

	"parcours.example/analysis/food"
)

// fed is a course with rides that take so much.
func fed(rides ...Ride) Input {
	in := hilltop()
	in.Rides = rides
	return in
}

// eats is a ride of a time at a power.
func eats(rider string, timeS, powerW float64) Ride {
	r := Ride{
		Rider: rider, TimeS: timeS, MeanSpeedMps: 9, MeanPowerW: powerW,
		MassKg: math.NaN(), RunsDryAtM: math.NaN(), StopsAtM: math.NaN(),
	}
	r.Food = needs(r)
	return r
}

// hot is a ride whose drink is for heat.
func hot(r Ride) Ride {
	r.Food.DrinkLPerH = food.Range{Low: 0.6, High: 1}
	return r
}

func TestFoodOfLongRides(t *testing.T) {
	for _, tc := range []struct {
		name  string
		in    Input
		units Units
		want  string // none is told where empty
	}{
		{"an hour", fed(eats("Ada", 3600, 250)), Metric, ""},
		{"above it", fed(eats("Ada", 3700, 250)), Metric, "about 1000 kcal; general guidance is up to 30 g of carbohydrate and 0.4 to 0.8 l of drink an hour."},
		{"imperial", fed(eats("Ada", 7200, 250)), Imperial, "about 1960 kcal; general guidance is 30 to 60 g of carbohydrate and 14 to 27 fl oz of drink an hour."},
		{"gentle", fed(eats("Ada", 18_000, 40)), Metric, "about 780 kcal; general guidance is 40 g of carbohydrate and 0.2 l of drink an hour."},
		{"two", fed(eats("Ada", 8900, 250), eats("Bo", 9100, 200)), Metric, "about 1980 kcal (Bo) to 2420 kcal (Ada); general guidance is 30 to 90 g of carbohydrate"},
		{"in a hall", fed(hot(eats("Ada", 7200, 250)), eats("Bo", 7200, 200)), Metric, "0.4 to 1.0 l of drink"},
		{"alike", fed(eats("Ada", 9300, 200), eats("Bo", 9300, 200)), Metric, "about 2020 kcal; general guidance is 60 to 90 g of carbohydrate"},
		{"no work", fed(eats("Ada", 7200, 0)), Metric, ""},
		{"not known", fed(Ride{TimeS: 7200}), Metric, ""},
	} {
		tc.in.Units = tc.units
		got := Write(tc.in).Text
		if told := strings.Contains(got, "Food and drink"); told != (tc.want != "") || !strings.Contains(got, tc.want) {
			t.Errorf("%s: want %q in\n%s", tc.name, tc.want, got)
		}
	}
}

// TestFoodIsNeverWithoutItsCaution holds it at every limit.
func TestFoodIsNeverWithoutItsCaution(t *testing.T) {
	in, told := hilltop(), false
	for limit := MinChars; limit < 4000; limit += 20 {
		in.MaxChars = limit
		text := Write(in).Text
		if strings.Contains(text, "carbohydrate") {
			told = true
			if !strings.Contains(text, "ask a physician or dietitian first") {
				t.Errorf("within %d code points:\n%s", limit, text)
			}
		}
	}
	if !told {
		t.Error("food is told at no limit")
	}
}

// TestFoodStandsForWhatTheRideTakes holds its facts against the ride.
func TestFoodStandsForWhatTheRideTakes(t *testing.T) {
	in := hilltop()
	want := map[string]float64{
		"prediction-1.energy_expended_j": in.Rides[0].Food.EnergyJ, "prediction-2.energy_expended_j": in.Rides[1].Food.EnergyJ,
		"food.carbohydrate_low_g_per_h": 30, "food.carbohydrate_high_g_per_h": 60, "food.drink_low_l_per_h": 0.4, "food.drink_high_l_per_h": 0.8,
	}
	for _, f := range Write(in).Facts {
		if v, ok := want[f.Name]; ok && v == f.Value {
			delete(want, f.Name)
		}
	}
	if len(want) > 0 {
		t.Errorf("not among the facts: %v", want)
	}
}
