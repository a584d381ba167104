package engine

import (
	"cmp"
	"slices"

	"parcours.example/analysis/food"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

// Food is what a ride takes of energy, food and drink.
type Food struct {
	food.Needs
	// Stages lead from the start over every pass of a feed to the end, at positions on
	// the course; empty where there is no feed on the way.
	Stages []Stage
}

// Stage is a stretch on which a rider lives off what is carried.
type Stage struct {
	StartM, EndM, TimeS float64
	// CarbohydrateG and DrinkL are the stretch's part of the ride's.
	CarbohydrateG, DrinkL food.Range
}

// foodOf returns what a ride over a stretch of the course takes. The splits are of the
// ride's own axis, the spans and the stretch of the course's.
func foodOf(r *ride.Ride, conditions ride.Conditions, spans []Span, from, to float64) *Food {
	f := &Food{
		Needs: food.Of(food.Ride{
			WorkJ: r.WorkJ, TimeS: r.TimeS, GrossEfficiency: r.Bike.GrossEfficiency,
			TemperatureC: conditions.TemperatureC, Indoor: conditions.Indoor,
		}),
		Stages: stages(r, spans, from, to),
	}
	for i := range f.Stages {
		s := &f.Stages[i]
		s.CarbohydrateG, s.DrinkL = f.CarbohydrateGPerH.Over(s.TimeS), f.DrinkLPerH.Over(s.TimeS)
	}
	return f
}

// stages cuts a ride at its feeds. Feeds at an end, and two in one place, cut nothing.
func stages(r *ride.Ride, spans []Span, from, to float64) []Stage {
	type passage struct{ atM, clockS float64 }
	var feeds []passage
	for i, s := range spans {
		if s.Of == FeatureMark && s.Kind == string(track.Feed) {
			feeds = append(feeds, passage{s.StartM, r.Splits[i].ClockS})
		}
	}
	slices.SortStableFunc(feeds, func(a, b passage) int { return cmp.Compare(a.atM, b.atM) })
	var out []Stage
	last := passage{from, 0}
	for _, f := range feeds {
		if f.atM-last.atM >= minStretchM && to-f.atM >= minStretchM {
			out = append(out, Stage{StartM: last.atM, EndM: f.atM, TimeS: f.clockS - last.clockS})
			last = f
		}
	}
	if len(out) == 0 {
		return nil
	}
	return append(out, Stage{StartM: last.atM, EndM: to, TimeS: r.TimeS - last.clockS})
}
