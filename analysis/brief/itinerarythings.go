package brief

import (
	"strings"

	"parcours.example/analysis/itinerary"
)

// thingWords are the words for one thing of a row around the name of its place, which
// alone is cut where it is long. The place is empty where there is none.
type thingWords struct {
	kind                 itinerary.Kind
	before, place, after phrase
}

// whole is the thing without a cut.
func (t thingWords) whole() phrase { return join("", t.before, t.place, t.after) }

// within is the thing cut to a width in columns.
func (t thingWords) within(most int) phrase {
	room := most - columns(t.before.text) - columns(t.after.text)
	if columns(t.place.text) <= room {
		t.place = isolated(t.place)
		return t.whole()
	}
	t.place = isolated(narrowed(t.place, max(room, 1)))
	return t.whole()
}

// markWords says of what kind a mark is where its name doesn't.
var markWords = map[itinerary.Kind]string{
	itinerary.Sprint: "sprint", itinerary.Summit: "summit", itinerary.Gate: "timing gate", itinerary.Feed: "feed",
}

// thing says what is on a row.
func (w writer) thing(fact string, t itinerary.Thing) thingWords {
	out := thingWords{kind: t.Kind}
	switch t.Kind {
	case itinerary.Start:
		out.before = words("start")
	case itinerary.Finish:
		out.before = words("finish")
	case itinerary.RacingBegins:
		out.before = words("racing begins")
	case itinerary.Lap:
		out.before = say("lap {}", w.ordinal(fact+".lap", t.Lap))
	case itinerary.OtherLap:
		out.before = say("other circuit, lap {}", w.ordinal(fact+".other_lap", t.Lap))
	case itinerary.RunOut:
		out.before = words("run-out")
	case itinerary.Foot, itinerary.Top, itinerary.SteepStart, itinerary.SteepEnd:
		out.before, out.place, out.after = w.endOfClimb(fact, t)
	default:
		out.place, out.after = w.passOfMark(fact, t)
	}
	return out
}

// passOfMark names a mark with its kind, unless the name says it.
func (w writer) passOfMark(fact string, t itinerary.Thing) (place, after phrase) {
	place, after = w.markName(t.Index), w.again(fact, t)
	if kind := markWords[t.Kind]; kind != "" && !strings.Contains(strings.ToLower(place.text), kind) {
		after = join("", words(" ("+kind+")"), after)
	}
	return place, after
}

// endOfClimb says where a climb or a part of one begins or ends.
func (w writer) endOfClimb(fact string, t itinerary.Thing) (before, place, after phrase) {
	ends := t.Kind == itinerary.Top || t.Kind == itinerary.SteepEnd
	parent := w.parent(t.Index)
	if parent < 0 {
		before = words("foot of ")
		if ends {
			before = words("top of ")
		}
		return before, w.climbName(t.Index), w.again(fact, t)
	}
	part, end := "part", " begins, "
	if w.in.Terrain.Climbs[t.Index].ParentID != "" {
		part = "steep part"
	}
	if ends {
		end = " ends, "
	}
	return words(part + end), w.climbName(parent), w.again(fact, t)
}

// again says which pass it is where no lap tells.
func (w writer) again(fact string, t itinerary.Thing) phrase {
	if t.Passes < 2 || w.in.Course.Laps.Count > 0 {
		return phrase{}
	}
	return say(", pass {}", w.ordinal(fact+".pass", t.Pass))
}
