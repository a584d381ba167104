package brief

import (
	"fmt"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// mostInFull is the most passes that are told one by one; more of them become a
// bare list.
const mostInFull = 6

// atEndM is how near to the start or the line a place counts as there.
const atEndM = 5

// pass is one time that a place is passed.
type pass struct {
	lap      int
	at, toGo float64
}

func climbPasses(passes []terrain.Pass) []pass {
	out := make([]pass, len(passes))
	for i, p := range passes {
		out[i] = pass{p.Lap, p.StartM, p.ToFinishM}
	}
	return out
}

func markPasses(passes []terrain.MarkPass) []pass {
	out := make([]pass, len(passes))
	for i, p := range passes {
		out[i] = pass{p.Lap, p.AtM, p.ToFinishM}
	}
	return out
}

// passes tells every pass of a place with the distance covered and to go.
func (w writer) passes(id string, passes []pass) phrase {
	if len(passes) > mostInFull {
		return w.barePasses(id, passes)
	}
	told := make([]phrase, len(passes))
	for i, p := range passes {
		fact := fmt.Sprintf("%s.pass-%d", id, i+1)
		told[i] = w.spot(fact, p)
		if label := w.label(fact, passes, i); !label.empty() {
			told[i] = say("{} {}", label, told[i])
		}
	}
	return join("; ", told...)
}

// spot tells where a pass is.
func (w writer) spot(fact string, p pass) phrase {
	at, toGo := w.length(fact+".at_m", p.at), w.length(fact+".to_finish_m", p.toGo)
	switch {
	case p.at < atEndM:
		return say("at the start, {} to go", toGo)
	case p.toGo < atEndM:
		return say("at the finish, after {}", at)
	}
	return say("at {}, {} to go", at, toGo)
}

// label says on which round a pass is, where that isn't plain.
func (w writer) label(fact string, passes []pass, i int) phrase {
	lap, kind := passes[i].lap, w.kindAt(passes[i].at)
	switch {
	case i > 0 && lap == passes[i-1].lap && kind == w.kindAt(passes[i-1].at):
		return words("again")
	case lap > 0 && w.in.Course.Laps.Count > 1:
		return say("lap {}", w.ordinal(fact+".lap", lap))
	case kind != course.Whole && (passes[i].at < atEndM || passes[i].toGo < atEndM):
		return phrase{}
	case kind == course.LeadIn:
		return words("on the lead-in")
	case kind == course.RunOut:
		return words("on the run-out")
	case len(passes) > 1:
		return words("first")
	}
	return phrase{}
}

// kindAt returns the kind of the part that holds a position.
func (w writer) kindAt(at float64) course.PartKind {
	kind := course.Whole
	for _, p := range w.in.Course.Parts {
		if at >= p.StartM {
			kind = p.Kind
		}
	}
	return kind
}

// barePasses lists many passes as pairs of numbers.
func (w writer) barePasses(id string, passes []pass) phrase {
	everyLap := passes[0].lap > 0
	pairs := make([]phrase, len(passes))
	for i, p := range passes {
		fact := fmt.Sprintf("%s.pass-%d", id, i+1)
		pairs[i] = say("{} / {}", number(fact+".at_m", p.at, w.bare(p.at)), number(fact+".to_finish_m", p.toGo, w.bare(p.toGo)))
		everyLap = everyLap && p.lap == passes[0].lap+i
	}
	head := say("{} passes", w.count(id+".passes", len(passes)))
	if everyLap {
		head = say("laps {} to {}", w.ordinal(id+".first_lap", passes[0].lap), w.ordinal(id+".last_lap", passes[len(passes)-1].lap))
	}
	return say("{}, {} covered / to go: {}", head, words(w.longUnit()), join(", ", pairs...))
}
