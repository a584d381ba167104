package engine

import (
	"errors"
	"fmt"
	"math"

	"parcours.example/analysis/field"
)

// DrawnGroup is riders to be drawn.
type DrawnGroup struct {
	// Group is what they are drawn from: NaN where not given.
	field.Group
	Count int
	// Like is what they have in common: team, set-up, height, effort and orders.
	Like Contender
}

// UnstatedGroup is a group of which nothing is given.
func UnstatedGroup() field.Group {
	nan := math.NaN()
	unknown := field.Normal{Mean: nan, SD: nan}
	return field.Group{
		MassKg: unknown, WPerKg: unknown, MaxWPerKg: unknown, WPrimeJ: unknown,
		Correlations: field.Correlations{MassWPerKg: nan, MassWPrime: nan, WPerKgWPrime: nan},
	}
}

// Drawn is what is told of a group beside its riders.
type Drawn struct {
	Name string
	Cut  field.Cut
}

// The highest powers that a request may give a rider.
const mostCriticalW, mostMaxW = 1000.0, 4000.0

// draw draws the riders of a group, which stands at a pointer.
func (s *scenario) draw(g DrawnGroup, at string) ([]Contender, error) {
	source, err := field.New(s.completeGroup(g.Group, at))
	var fault *field.Error
	if errors.As(err, &fault) {
		if fault.Quantity == "correlations" {
			fault.Quantity = "mass_w_per_kg_correlation"
		}
		return nil, &Error{Code: CodeNotComputable, Pointer: at + "/" + fault.Quantity, Detail: fault.Detail}
	}
	s.drawn = append(s.drawn, Drawn{g.Name, source.Cut()})
	out := make([]Contender, g.Count)
	for i := range out {
		out[i] = g.Like
		out[i].Rider = source.Rider(uint64(s.rules.Seed), i)
		out[i].HeightM, out[i].pointer = g.Like.HeightM, at
		if r := out[i].Rider; r.CriticalPowerW > mostCriticalW || r.MaxPowerW > mostMaxW {
			return nil, &Error{
				Code: CodeNotComputable, Pointer: at,
				Detail: fmt.Sprintf("%s would have a critical power of %v W and a maximal one of %v W; at most %v W and %v W are taken.", r.Name, r.CriticalPowerW, r.MaxPowerW, mostCriticalW, mostMaxW),
			}
		}
	}
	return out, nil
}

// completeGroup fills in what trained amateurs are, and notes it.
func (s *scenario) completeGroup(g field.Group, at string) field.Group {
	plain := field.Trained()
	const source = "trained amateurs; from memory"
	normal := func(name, unit string, value *field.Normal, otherwise field.Normal) {
		value.Mean = s.assume(at+"/"+name+"/mean", value.Mean, otherwise.Mean, unit, source)
		value.SD = s.assume(at+"/"+name+"/sd", value.SD, otherwise.SD, unit, source)
	}
	normal("mass_kg", "kg", &g.MassKg, plain.MassKg)
	normal("w_per_kg", "W/kg", &g.WPerKg, plain.WPerKg)
	normal("w_prime_j", "J", &g.WPrimeJ, plain.WPrimeJ)
	normal("max_w_per_kg", "W/kg", &g.MaxWPerKg, plain.MaxWPerKg)
	for _, c := range []struct {
		name      string
		value     *float64
		otherwise float64
	}{
		{"mass_w_per_kg", &g.Correlations.MassWPerKg, plain.Correlations.MassWPerKg},
		{"mass_w_prime", &g.Correlations.MassWPrime, plain.Correlations.MassWPrime},
		{"w_per_kg_w_prime", &g.Correlations.WPerKgWPrime, plain.Correlations.WPerKgWPrime},
	} {
		*c.value = s.assume(at+"/"+c.name+"_correlation", *c.value, c.otherwise, "1", source)
	}
	return g
}
