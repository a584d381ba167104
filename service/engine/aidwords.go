package engine

import (
	"fmt"
	"math"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/plan"
	"parcours.example/analysis/wording"
)

// recommend writes the recommendation from what was found.
func (a *Aids) recommend(setups bool, gapM float64) string {
	f := &aid.Facts{
		Line: a.At.Words(), Over: a.At.EndM > a.At.StartM, GapM: gapM, Where: a.Where,
		Position: func(atM float64) string { return wording.Position(atM + a.StartM) },
	}
	for _, told := range a.Aids {
		f.Aids = append(f.Aids, told.Aid.Aid)
		var without []string
		for _, s := range told.Without {
			without = append(without, s.Words())
		}
		f.Without = append(f.Without, without)
	}
	for i := range a.Items {
		if a.Items[i].Err == nil {
			f.Cases = append(f.Cases, caseOf(&a.Items[i], setups))
			if f.StartS == nil {
				for _, found := range a.Items[i].Aids {
					f.StartS = append(f.StartS, found.FirstS)
				}
			}
		}
	}
	if len(f.Cases) == 0 {
		return "None of these riders gets over the course at this power, so that there is no place for an aid."
	}
	return aid.Recommend(f)
}

// caseOf is what the recommendation tells of an item.
func caseOf(item *AidsItem, setups bool) aid.Case {
	c := aid.Case{Who: item.Rider, Joint: item.Joint}
	if setups {
		c.Who += " on " + item.Setup
	}
	for _, found := range item.Aids {
		var sprints []aid.Sprint
		if n := len(found.Sprints); n > 0 && found.Sprints[n-1] != nil {
			sprints = []aid.Sprint{*found.Sprints[n-1]}
		}
		c.Found, c.Sprints, c.Others = append(c.Found, found.Found), append(c.Sprints, sprints), append(c.Others, found.Others)
	}
	return c
}

const (
	// besideM is how close to a mark or a start of something a place is at it.
	besideM = 15.0
	// soonM is how far ahead what comes next names a place.
	soonM = 250.0
)

// whereOf says in words what lies at a position of a ride of some length.
func whereOf(places []plan.Place, lengthM, atM float64) aid.Spot {
	var next, around *plan.Place
	for i := range places {
		p := &places[i]
		switch {
		case p.Of == plan.OfMark && math.Abs(p.StartM-atM) <= besideM:
			return spot("at %s", p)
		case p.Of != plan.OfMark && p.StartM <= atM+besideM && p.EndM > atM+besideM && (around == nil || p.EndM-p.StartM < around.EndM-around.StartM):
			around = p
		}
		names := p.Of == plan.OfMark || p.Of == plan.OfClimb
		if names && p.StartM > atM && p.StartM <= atM+soonM && (next == nil || p.StartM < next.StartM) {
			next = p
		}
	}
	switch {
	case next != nil:
		return spot(wording.Metres(next.StartM-atM)+" before %s", next)
	case atM >= lengthM-soonM:
		return aid.Spot{Text: wording.Metres(lengthM-atM) + " before the finish", By: "the finish"}
	case around == nil:
		return aid.Spot{}
	case around.Of == plan.OfPart && around.Lap == 0 && around.EndM-around.StartM >= lengthM-besideM:
		return aid.Spot{} // all of the course says nothing
	case atM <= around.StartM+besideM:
		return spot("at the start of %s", around)
	case atM >= around.EndM-soonM && around.EndM-around.StartM > 2*soonM:
		return spot(wording.Metres(around.EndM-atM)+" before the end of %s", around)
	}
	return spot(wording.Metres(atM-around.StartM)+" into %s", around)
}

// spot puts a place into a text and tells its round apart.
func spot(text string, p *plan.Place) aid.Spot {
	bare, pass := *p, ""
	bare.Lap, bare.Pass = 0, 0
	switch {
	case p.Lap > 0:
		pass = fmt.Sprintf("lap %d", p.Lap)
	case p.Pass > 0:
		pass = fmt.Sprintf("pass %d", p.Pass)
	}
	by := bare.String()
	switch {
	case p.Of == plan.OfPart && p.Lap > 0:
		by = "the lap"
	case p.ID == "" && by != "the course":
		by = "the " + by
	}
	return aid.Spot{Text: fmt.Sprintf(text, by), By: by, Pass: pass}
}
