package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/choice"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
	"parcours.example/internal/shortform"
)

// mostDefaultClimbs bounds the climbs that are ambitions where none are asked for; those
// with the largest gain are taken.
const mostDefaultClimbs = 30

// ambitionsOf returns the asked ambitions, or the default ones, with the finish among
// them, and where it stands.
func ambitionsOf(c *Course, from, to float64, asked []Ambition) (all []ToldAmbition, finish int, err error) {
	for i, a := range asked {
		passes, err := a.At.Passes(c, from, to, fmt.Sprintf("#/ambitions/%d/at", i))
		if err != nil {
			return nil, 0, err
		}
		all = append(all, toldAmbition(a.Name, passes))
	}
	if len(asked) == 0 {
		all = defaultAmbitions(c, from, to)
	}
	finish = slices.IndexFunc(all, func(a ToldAmbition) bool { return a.Passes[0].Of == FeatureFinish })
	if finish < 0 {
		finish = len(all)
		all = append(all, toldAmbition("", []Span{{Of: FeatureFinish, Name: "the finish", StartM: to, EndM: to}}))
	}
	return all, finish, nil
}

// defaultAmbitions are the sprint lines and climbs, in the order of their first passes.
// The steep part of a climb is no climb of its own here.
func defaultAmbitions(c *Course, from, to float64) []ToldAmbition {
	var all []ToldAmbition
	add := func(p Place) {
		p.AtM, p.StartM, p.EndM = math.NaN(), math.NaN(), math.NaN()
		if passes, err := p.Passes(c, from, to, ""); err == nil {
			all = append(all, toldAmbition("", passes))
		}
	}
	climbs := slices.Clone(c.Terrain.Climbs)
	slices.SortStableFunc(climbs, func(a, b terrain.Climb) int { return cmp.Compare(b.GainM, a.GainM) })
	for _, climb := range climbs {
		if climb.ParentID == "" && len(all) < mostDefaultClimbs {
			add(Place{ClimbID: climb.ID})
		}
	}
	for _, m := range c.Terrain.Marks {
		if m.Kind == track.Sprint {
			add(Place{MarkID: m.ID})
		}
	}
	slices.SortStableFunc(all, func(a, b ToldAmbition) int { return cmp.Compare(a.Passes[0].StartM, b.Passes[0].StartM) })
	return all
}

// toldAmbition names an ambition after its place unless it has a name.
func toldAmbition(name string, passes []Span) ToldAmbition {
	first := passes[0]
	if len(passes) > 1 {
		first.Passes = 0
	}
	return ToldAmbition{
		Name: cmp.Or(strings.TrimSpace(name), theClimb(first)), Line: first.StartM == first.EndM, Passes: passes,
		named: strings.TrimSpace(name) != "",
	}
}

// onRoad puts the ambitions and changes on a case's road.
func (q *question) onRoad(c *choice.Case) {
	at := func(m float64) float64 { return min(max(m-q.from, 0), c.Road.LengthM()) }
	for _, a := range q.ambitions {
		asked := choice.Ambition{Name: a.Name}
		for _, p := range a.Passes {
			asked.Passes = append(asked.Passes, choice.Pass{StartM: at(p.StartM), EndM: at(p.EndM)})
		}
		c.Ambitions = append(c.Ambitions, asked)
	}
	for _, change := range q.changes {
		asked := change.Change
		for _, s := range change.Spots {
			asked.Spots = append(asked.Spots, choice.Spot{Name: spotName(s), AtM: at(s.StartM)})
		}
		c.Changes = append(c.Changes, asked)
	}
}

// spotName names a place of a change so that it follows "at".
func spotName(s Span) string {
	if s.Of == FeatureClimb {
		return "the foot of " + theClimb(s)
	}
	return s.Words()
}

// BikeChange is a change of bike on the way.
type BikeChange struct {
	// At is nil for all feet of climbs and feeds.
	At *Place
	// From and To are set-ups.
	From, To SetupReference
	// StandingS is NaN where not given.
	StandingS float64
	Stops     bool
	// LostShelterM is how far the rider is alone after the change, 0 for not at all, Shelter
	// the drag meanwhile over the drag alone, NaN where not given.
	LostShelterM, Shelter float64
}

// SetupReference names a set-up of the request by its name, or where that is empty by its
// index.
type SetupReference struct {
	Name  string
	Index int
}

// ToldChange is a change as it was understood.
type ToldChange struct {
	choice.Change
	// Spots are the places that are tried, at positions on the course.
	Spots []Span
}

// leastChangeM is how far from either end of the ride a change must be.
const leastChangeM = 10.0

// place finds the set-ups and places of the changes, and fills in their defaults.
func (q *question) place(changes []BikeChange) error {
	for i, asked := range changes {
		at := fmt.Sprintf("#/changes/%d", i)
		c := ToldChange{Change: choice.Change{Stops: asked.Stops, StandingS: asked.StandingS, AloneM: asked.LostShelterM, AloneShelter: asked.Shelter}}
		var err error
		if c.From, err = q.find(asked.From, at+"/from"); err != nil {
			return err
		}
		if c.To, err = q.find(asked.To, at+"/to"); err != nil {
			return err
		}
		if c.Spots, err = q.spots(asked, at); err != nil {
			return err
		}
		q.complete(&c.Change, at)
		q.changes = append(q.changes, c)
	}
	return nil
}

// complete fills in a change's defaults.
func (q *question) complete(c *choice.Change, at string) {
	fill := func(value *float64, a Assumption) {
		if math.IsNaN(*value) {
			*value = a.Value
			q.used = append(q.used, a)
		}
	}
	if c.Stops {
		fill(&c.StandingS, Assumption{Pointer: at + "/standing_s", Value: choice.DefaultStandingS, Unit: "s", Source: "common practice: a bicycle held ready and a change that was rehearsed"})
	} else {
		c.StandingS = 0
	}
	if c.AloneM > 0 {
		fill(&c.AloneShelter, Assumption{Pointer: at + "/lost_shelter/shelter", Value: 1, Unit: "1", Source: "riding alone"})
	}
}

// find returns the index of a set-up.
func (q *question) find(r SetupReference, at string) (int, error) {
	if r.Name == "" {
		if r.Index < 0 || r.Index >= len(q.setups) {
			return 0, &Error{Code: CodeNotComputable, Pointer: at + "_index", Detail: fmt.Sprintf("There is no set-up %d; the %d set-ups are counted from 0.", r.Index, len(q.setups))}
		}
		return r.Index, nil
	}
	named := func(s ride.Setup) bool { return s.Name == r.Name }
	i := slices.IndexFunc(q.setups, named)
	switch {
	case i < 0:
		return 0, &Error{Code: CodeNotComputable, Pointer: at, Detail: fmt.Sprintf("There is no set-up named %q.", shortform.Clip(r.Name))}
	case slices.IndexFunc(q.setups[i+1:], named) >= 0:
		return 0, &Error{Code: CodeNotComputable, Pointer: at, Detail: fmt.Sprintf("Two set-ups are named %q; give the index instead.", shortform.Clip(r.Name))}
	}
	return i, nil
}

// spots returns the places of a change in order, at positions on the course.
func (q *question) spots(asked BikeChange, at string) ([]Span, error) {
	var found []Span
	if asked.At == nil {
		for _, s := range spansOf(q.course, q.from, q.to) {
			if s.Of == FeatureClimb && q.course.Terrain.Climbs[s.Index].ParentID == "" || s.Of == FeatureMark && s.Kind == string(track.Feed) {
				found = append(found, s)
			}
		}
		q.countPasses(found)
	} else {
		var err error
		if found, err = asked.At.Passes(q.course, q.from, q.to, at+"/at"); err != nil {
			return nil, err
		}
	}
	found = slices.DeleteFunc(found, func(s Span) bool { return s.StartM < q.from+leastChangeM || s.StartM > q.to-leastChangeM })
	slices.SortStableFunc(found, func(a, b Span) int { return cmp.Compare(a.StartM, b.StartM) })
	switch {
	case len(found) == 0 && asked.At == nil:
		return nil, &Error{Code: CodeNotComputable, Pointer: at, Detail: "There is no foot of a climb and no feed on the way at which a change could be tried; say with at where."}
	case len(found) == 0:
		return nil, &Error{Code: CodeNotComputable, Pointer: at + "/at", Detail: fmt.Sprintf("A change must be %v m at least from where the ride starts and ends.", leastChangeM)}
	}
	return found, nil
}

// countPasses tells each span how many passes its place has.
func (q *question) countPasses(spans []Span) {
	for i := range spans {
		s := &spans[i]
		if s.Of == FeatureClimb {
			s.Passes = len(q.course.Terrain.Climbs[s.Index].Passes)
		} else {
			s.Passes = len(q.course.Terrain.Marks[s.Index].Passes)
		}
	}
}

// stops tells whether any change stops.
func (q *question) stops() bool {
	return slices.ContainsFunc(q.changes, func(c ToldChange) bool { return c.Stops })
}
