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
	a.noteOf(fmt.Sprintf("#/riders/%d", rider), setup, used)
}

// noteOf is note for a rider who stands at a pointer.
func (a *assumed) noteOf(rider string, setup int, used []ride.Assumption) {
	for _, u := range used {
		pointer := map[ride.Owner]string{
			ride.OfRider:         rider + "/",
			ride.OfSetup:         fmt.Sprintf("#/setups/%d/", setup),
			ride.OfConditions:    "#/conditions/",
			ride.OfUncertainties: "#/uncertainties/",
		}[u.Of] + u.Name
		a.add(Assumption{Pointer: pointer, Value: u.Value, Unit: u.Unit, Source: u.Source})
	}
}

// add adds an assumption unless its place has one.
func (a *assumed) add(one Assumption) {
	if a.seen == nil {
		a.seen = map[string]bool{}
	}
	if !a.seen[one.Pointer] {
		a.seen[one.Pointer] = true
		a.list = append(a.list, one)
	}
}
