package engine

import (
	"fmt"

	"parcours.example/analysis/ride"
)

// Assumption is a default that was used, with its place in a request: posted
// there, it gives the same numbers.
type Assumption struct {
	// Pointer is the place in a JSON request, "#/setups/0/crr".
	Pointer string
	Value   float64
	Unit    string
	Source  string
}

// assumed lists assumptions, each place once, in the order in which they were
// noted.
type assumed struct {
	list []Assumption
	seen map[string]bool
}

// note adds the assumptions for a rider on a set-up in the conditions.
func (a *assumed) note(rider, setup int, used []ride.Assumption) {
	if a.seen == nil {
		a.seen = map[string]bool{}
	}
	for _, u := range used {
		pointer := map[ride.Owner]string{
			ride.OfRider:         fmt.Sprintf("#/riders/%d/", rider),
			ride.OfSetup:         fmt.Sprintf("#/setups/%d/", setup),
			ride.OfConditions:    "#/conditions/",
			ride.OfUncertainties: "#/uncertainties/",
		}[u.Of] + u.Name
		if !a.seen[pointer] {
			a.seen[pointer] = true
			a.list = append(a.list, Assumption{Pointer: pointer, Value: u.Value, Unit: u.Unit, Source: u.Source})
		}
	}
}
