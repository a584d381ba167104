package brief

import (
	"strings"

	"parcours.example/analysis/food"
	"parcours.example/analysis/wording"
)

const (
	// foodFromS is the time beyond which food is told: shorter rides need little.
	foodFromS = 3600
	// leastDrinkLPerH is what rounds to no drink: rides that take next to no work.
	leastDrinkLPerH = 0.05
)

// food tells what the rides of more than an hour take. It is one sentence, so that the
// figures are never told without their caution.
func (w writer) food() phrase {
	least, most := -1, -1
	var eaten, drunk food.Range
	for i, r := range w.in.Rides {
		if r.Food == nil || !(r.TimeS > foodFromS) || r.Food.DrinkLPerH.High < leastDrinkLPerH {
			continue
		}
		if least < 0 {
			least, most = i, i
			eaten, drunk = r.Food.CarbohydrateGPerH, r.Food.DrinkLPerH
		}
		if r.Food.EnergyJ < w.in.Rides[least].Food.EnergyJ {
			least = i
		}
		if r.Food.EnergyJ > w.in.Rides[most].Food.EnergyJ {
			most = i
		}
		eaten, drunk = eaten.And(r.Food.CarbohydrateGPerH), drunk.And(r.Food.DrinkLPerH)
	}
	if least < 0 {
		return phrase{}
	}
	return say("{}: about {}; general guidance is {} of carbohydrate and {} of drink an hour. "+
		"Try it in training; ask a physician or dietitian first.",
		strong(words("Food and drink")), w.energies(least, most), w.carbohydrate(eaten), w.drink(drunk))
}

// energies tells the energy that the rides take, from least to most.
func (w writer) energies(least, most int) phrase {
	energy := func(i int) phrase { return w.energy(rideFact(i)+".energy_expended_j", w.in.Rides[i].Food) }
	low, high := energy(least), energy(most)
	if low.text == high.text {
		return low
	}
	return say("{} ({}) to {} ({})", low, w.who(least), high, w.who(most))
}

// energy writes kilocalories.
func (f format) energy(name string, needs *food.Needs) phrase {
	return number(name, needs.EnergyJ, wording.Kilocalories(needs.EnergyKcal()))
}

// carbohydrate writes a range of grams.
func (f format) carbohydrate(r food.Range) phrase {
	return between("food.carbohydrate", "g_per_h", r, wording.Grams)
}

// drink writes a range of litres or fluid ounces.
func (f format) drink(r food.Range) phrase {
	return between("food.drink", "l_per_h", r, f.units().Drink)
}

// between writes a range of guidance, whose unit stands once: "60 to 90 g", "up to 30 g".
func between(what, unit string, r food.Range, text func(float64) string) phrase {
	bare, _, _ := strings.Cut(text(r.Low), " ")
	low := number(what+"_low_"+unit, r.Low, bare)
	high := number(what+"_high_"+unit, r.High, text(r.High))
	switch text(r.Low) {
	case text(r.High):
		return high
	case text(0):
		return say("up to {}", high)
	}
	return say("{} to {}", low, high)
}
