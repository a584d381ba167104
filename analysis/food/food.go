// Package food says roughly what a ride takes: the energy it costs, and the food and
// drink that general guidance would have a rider take on the way.
//
// Only the energy follows from the ride. The rest is guidance from position stands and
// reviews for healthy adults, by duration and heat, kept below what the ride can use.
// It is no medical or dietary advice, knows nothing of the rider who reads it, and says
// nothing of sodium, of the days before or of the hours after: what is eaten and drunk in
// a race is tried in training first, and a physician or dietitian comes before any table.
package food

import "math"

const (
	// joulesPerKcal defines the thermochemical calorie.
	joulesPerKcal = 4184.0
	// joulesPerGram is what a gram of carbohydrate gives: the labelling factor of
	// Regulation (EU) No 1169/2011, Annex XIV (from memory).
	joulesPerGram = 17_000.0
	// joulesPerLitre is what a litre of sweat takes with it when all of it evaporates
	// from skin at 35 °C: the latent heat of water falls from 2,501 J/g at 0 °C to 2,406 J/g
	// at 40 °C (Monteith 1972, Nature New Biol. 236:96).
	joulesPerLitre = 2.418e6

	secondsPerHour = 3600.0
)

// Source names where the guidance comes from.
const Source = "carbohydrate: Jeukendrup 2014, Sports Med. 44 Suppl. 1:S25–S33, its durations and lower ends from memory of " +
	"Thomas, Erdman, Burke 2016, Med. Sci. Sports Exerc. 48:543–568; drink: Sawka et al. 2007, Med. Sci. Sports Exerc. " +
	"39:377–390, for heat common practice"

// Ride is what a ride asks of the body.
type Ride struct {
	// WorkJ is the work at the pedals, ≥ 0, done in TimeS, > 0.
	WorkJ, TimeS float64
	// GrossEfficiency is the work over the energy expended, 0…1, neither included.
	GrossEfficiency float64
	// TemperatureC is the air's; NaN where it isn't known, which counts as not hot.
	TemperatureC float64
	// Indoor is a ride on the spot: no wind of travel cools the rider.
	Indoor bool
}

// Range goes from low to high, both ≥ 0.
type Range struct{ Low, High float64 }

// Over returns the amounts that rates per hour come to in a time.
func (r Range) Over(timeS float64) Range {
	hours := timeS / secondsPerHour
	return Range{r.Low * hours, r.High * hours}
}

// And returns the range that holds both.
func (r Range) And(s Range) Range {
	return Range{min(r.Low, s.Low), max(r.High, s.High)}
}

// capped returns the range with nothing in it above a limit.
func (r Range) capped(limit float64) Range {
	return Range{min(r.Low, limit), min(r.High, limit)}
}

// Needs are a ride's needs, and what general guidance says of them.
type Needs struct {
	// EnergyJ is the energy expended: work over gross efficiency.
	EnergyJ float64
	// CarbohydrateGPerH and DrinkLPerH are rates per hour of the ride.
	CarbohydrateGPerH, DrinkLPerH Range
	// CarbohydrateG and DrinkL are what they come to over the ride.
	CarbohydrateG, DrinkL Range
	// Hot says that the drink is for heat: 25 °C or more, or a hall.
	Hot bool
	// Note says what the carbohydrate is for, in a sentence.
	Note string
}

// EnergyKcal returns the energy expended in kilocalories of 4,184 J.
func (n Needs) EnergyKcal() float64 { return n.EnergyJ / joulesPerKcal }

// Of returns a ride's needs.
//
// Carbohydrate goes by duration and not by body mass, and up to what the ride's whole
// energy would take as carbohydrate: the guidance is to be lowered for gentle rides
// (Jeukendrup 2014).
//
// Drink is 0.4 to 0.8 l/h (Sawka et al. 2007), in heat 0.6 to 1.0 l/h (common practice).
// It never exceeds the sweat whose evaporation would carry off all the heat the ride
// makes: drinking more than is sweated is the greater danger on long, gentle rides.
func Of(r Ride) Needs {
	n := Needs{
		EnergyJ: r.WorkJ / r.GrossEfficiency,
		Hot:     r.Indoor || r.TemperatureC >= hotC,
	}
	b := bandOf(r.TimeS)
	hours := r.TimeS / secondsPerHour
	heatJ := n.EnergyJ - r.WorkJ
	n.Note = b.note
	n.CarbohydrateGPerH = b.carbohydrateGPerH.capped(n.EnergyJ / joulesPerGram / hours)
	n.DrinkLPerH = drink(b, n.Hot).capped(heatJ / joulesPerLitre / hours)
	n.CarbohydrateG, n.DrinkL = n.CarbohydrateGPerH.Over(r.TimeS), n.DrinkLPerH.Over(r.TimeS)
	return n
}

// hotC is from where the weather counts as hot (common practice).
const hotC = 25.0

// drink returns litres per hour; on short rides thirst alone decides.
func drink(b band, hot bool) Range {
	r := Range{0.4, 0.8}
	if hot {
		r = Range{0.6, 1.0}
	}
	if b.short {
		r.Low = 0
	}
	return r
}

// band is the guidance for rides of up to a duration.
type band struct {
	untilS            float64
	short             bool
	carbohydrateGPerH Range
	note              string
}

// bandOf returns the guidance for a duration: the amounts of Jeukendrup 2014 with the
// durations and lower ends of Thomas et al. 2016 (from memory). What "small amounts" are,
// is taken to be up to where the next band starts.
func bandOf(timeS float64) band {
	const minute = 60
	for _, b := range []band{
		{45 * minute, true, Range{}, "Under 45 minutes the body's own stores last: nothing need be eaten."},
		{75 * minute, false, Range{0, 30}, "Around an hour small amounts of carbohydrate can help hard efforts; many need none."},
		{150 * minute, false, Range{30, 60}, "From 75 minutes to two and a half hours any carbohydrate that sits well will do."},
	} {
		if timeS < b.untilS {
			return b
		}
	}
	const beyond = "Beyond two and a half hours: mixed glucose and fructose above 60 g/h, and only as much as training has shown to sit well."
	return band{math.Inf(1), false, Range{60, 90}, beyond}
}
