package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/course"
)

// placeName names a place without its pass, so that it follows "to", "at" or "over".
func (w teller) placeName(p Place) phrase {
	if own := name(p.Name); !own.empty() {
		return own
	}
	switch p.Of {
	case AtFinish:
		return words("the finish")
	case AtMark:
		return w.markName(p.Index)
	case AtClimb:
		c := w.in.Terrain.Climbs[p.Index]
		if parent := w.parent(p.Index); parent >= 0 && c.ParentID != "" {
			return say("the steep part of {} from {}", w.climbName(parent), w.position(c.ID+".start_m", c.StartM))
		}
		return w.climbName(p.Index)
	case AtPoint:
		return say("the line at {}", w.position(w.placeKey(p)+".at_m", p.StartM))
	}
	return say("the stretch from {} to {}", w.position(w.placeKey(p)+".start_m", p.StartM), w.position(w.placeKey(p)+".end_m", p.EndM))
}

// placeOn names a place with its pass.
func (w teller) placeOn(p Place) phrase { return say("{}{}", w.placeName(p), w.onPass(p)) }

// onPass says on which round a place is, where it has several: ", lap 3".
func (w teller) onPass(p Place) phrase {
	if p.Pass == 0 || w.passCount(p) < 2 {
		return phrase{}
	}
	fact := w.placeKey(p)
	if lap := w.lapOf(p); lap > 0 {
		return say(", lap {}", w.ordinal(fact+".lap", lap))
	}
	if part := partName(w.kindAt(p.StartM)); part != "" {
		return words(", " + part)
	}
	return say(", pass {}", w.ordinal(fact+".number", p.Pass))
}

// partName names a way in or out.
func partName(kind course.PartKind) string {
	switch kind {
	case course.LeadIn:
		return "on the lead-in"
	case course.RunOut:
		return "on the run-out"
	}
	return ""
}

// lapOf is the lap that tells the passes of a place apart, 0 where laps don't.
func (w teller) lapOf(p Place) int {
	if w.in.Course.Laps.Count < 2 {
		return 0
	}
	switch p.Of {
	case AtMark:
		return w.in.Terrain.Marks[p.Index].Passes[p.Pass-1].Lap
	case AtClimb:
		return w.in.Terrain.Climbs[p.Index].Passes[p.Pass-1].Lap
	}
	return 0
}

// passCount is how often a place is passed.
func (w teller) passCount(p Place) int {
	switch p.Of {
	case AtMark:
		return len(w.in.Terrain.Marks[p.Index].Passes)
	case AtClimb:
		return len(w.in.Terrain.Climbs[p.Index].Passes)
	}
	return 1
}

const (
	// besideM is how close to a mark a place is at it, aheadM how far ahead what comes next
	// names it.
	besideM = 15.0
	aheadM  = 250.0
)

// whereabouts tells a position on the course with what lies there or comes next: "at
// 12.30 km, 140 m before Mill Lane".
func (w teller) whereabouts(fact string, atM float64) phrase {
	if atM < atEndM {
		return words("at the start")
	}
	at, near := say("at {}", w.position(fact+".at_m", atM)), w.near(fact, atM)
	if lap := w.in.Course.LapAt(atM); lap > 0 && w.in.Course.Laps.Count > 1 {
		near = say("{}, lap {}", near, w.ordinal(fact+".lap", lap))
	}
	return say("{}{}", at, near)
}

// near tells what lies at a position, or comes next.
func (w teller) near(fact string, atM float64) phrase {
	var next Place
	nearest := aheadM
	consider := func(p Place, before float64) {
		if before >= -besideM && before < nearest {
			next, nearest = p, before
		}
	}
	for i, m := range w.in.Terrain.Marks {
		for _, p := range m.Passes {
			consider(Place{Of: AtMark, Index: i, StartM: p.AtM}, p.AtM-atM)
		}
	}
	for i, c := range w.in.Terrain.Climbs {
		for _, p := range c.Passes {
			if isWhole(c) && p.StartM > atM {
				consider(Place{Of: AtClimb, Index: i, StartM: p.StartM}, p.StartM-atM)
			}
		}
	}
	consider(Place{Of: AtFinish, StartM: w.in.Course.LengthM()}, w.in.Course.LengthM()-atM)
	switch {
	case nearest < aheadM && math.Abs(nearest) <= besideM:
		return say(", at {}", w.placeName(next))
	case nearest < aheadM:
		return say(", {} before {}", w.length(fact+".before_m", next.StartM-atM), w.placeName(next))
	}
	return w.onClimb(atM)
}

// onClimb tells the climb that a position is on.
func (w teller) onClimb(atM float64) phrase {
	for i, c := range w.in.Terrain.Climbs {
		for _, p := range c.Passes {
			if isWhole(c) && p.StartM <= atM && atM < p.EndM {
				return say(", on {}", w.climbName(i))
			}
		}
	}
	return phrase{}
}

// or returns an untrusted name made harmless, or a thing of ours with its number where
// nothing is left of it.
func (w teller) or(untrusted, thing, fact string, i int) phrase {
	if own := name(untrusted); !own.empty() {
		return own
	}
	return say("{} {}", words(thing), w.ordinal(fmt.Sprintf("%s-%d.number", fact, i+1), i+1))
}
