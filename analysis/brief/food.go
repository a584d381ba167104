package brief

import (
	"math"

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

// energy writes kilocalories to ten.
func (f format) energy(name string, needs *food.Needs) phrase {
	return number(name, needs.EnergyJ, wording.Rounded(math.Round(needs.EnergyKcal()/10)*10, 0)+" kcal")
}

// carbohydrate writes grams to five.
func (f format) carbohydrate(r food.Range) phrase {
	text := func(g float64) string { return wording.Rounded(math.Round(g/5)*5, 0) }
	return between("food.carbohydrate", "g_per_h", r, text, " g")
}

// litresPerFluidOunce is the customary ounce of the United States.
const litresPerFluidOunce = 0.0295735295625

// drink writes litres to one decimal, or whole fluid ounces.
func (f format) drink(r food.Range) phrase {
	if f.imperial {
		text := func(l float64) string { return wording.Rounded(l/litresPerFluidOunce, 0) }
		return between("food.drink", "l_per_h", r, text, " fl oz")
	}
	return between("food.drink", "l_per_h", r, func(l float64) string { return wording.Rounded(l, 1) }, " l")
}

// between writes a range of guidance: "60 to 90 g", "up to 30 g".
func between(what, unit string, r food.Range, text func(float64) string, suffix string) phrase {
	low := number(what+"_low_"+unit, r.Low, text(r.Low))
	high := number(what+"_high_"+unit, r.High, text(r.High)+suffix)
	switch low.text {
	case text(r.High):
		return high
	case text(0):
		return say("up to {}", high)
	}
	return say("{} to {}", low, high)
}
