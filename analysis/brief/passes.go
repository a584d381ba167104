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

// passes tells where a place is passed, with the distance covered and to go: by the
// rule where it comes once a lap, else one by one.
func (w writer) passes(id string, passes []pass) phrase {
	first, last, regular := w.onceALap(passes)
	switch {
	case w.onLapLine(passes):
		return w.atLapLine(id, passes)
	case regular:
		return w.byLap(id, passes, first, last)
	case len(passes) > mostInFull:
		return w.barePasses(id, passes)
	}
	return w.eachPass(id, passes, 0, len(passes))
}

// eachPass tells passes one by one.
func (w writer) eachPass(id string, passes []pass, from, to int) phrase {
	var told []phrase
	for i := from; i < to; i++ {
		fact := passFact(id, i)
		spot := w.spot(fact, passes[i])
		if label := w.label(fact, passes, i); !label.empty() {
			spot = say("{} {}", label, spot)
		}
		told = append(told, spot)
	}
	return join("; ", told...)
}

func passFact(id string, i int) string { return fmt.Sprintf("%s.pass-%d", id, i+1) }

// first tells where the first pass of several is.
func (w writer) first(fact string, p pass) phrase {
	if p.at < atEndM {
		return words("at the start")
	}
	return say("at {}", w.length(fact+".at_m", p.at))
}

// last tells where the last pass of several is.
func (w writer) last(fact string, p pass) phrase {
	if p.toGo < atEndM {
		return words("at the finish")
	}
	return say("at {} with {} to go", w.length(fact+".at_m", p.at), w.length(fact+".to_finish_m", p.toGo))
}

// spot tells where a pass is.
func (w writer) spot(fact string, p pass) phrase {
	at, toGo := w.length(fact+".at_m", p.at), w.length(fact+".to_finish_m", p.toGo)
	switch {
	case p.at < atEndM:
		return words("at the start")
	case p.toGo < atEndM:
		return words("at the finish")
	}
	return say("at {}, {} to go", at, toGo)
}

// label says on which round a pass is, where that isn't plain.
func (w writer) label(fact string, passes []pass, i int) phrase {
	lap, kind := passes[i].lap, w.kindAt(passes[i].at)
	switch {
	case kind != course.Lap && (passes[i].at < atEndM || passes[i].toGo < atEndM):
		return phrase{}
	case i > 0 && lap == passes[i-1].lap && kind == w.kindAt(passes[i-1].at):
		return words("again")
	case lap > 0 && w.in.Course.Laps.Count > 1:
		return say("lap {}", w.ordinal(fact+".lap", lap))
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

// barePasses lists many passes without a rule as pairs of numbers.
func (w writer) barePasses(id string, passes []pass) phrase {
	pairs := make([]phrase, len(passes))
	for i, p := range passes {
		fact := passFact(id, i)
		pairs[i] = say("{} / {}", number(fact+".at_m", p.at, w.bare(p.at)), number(fact+".to_finish_m", p.toGo, w.bare(p.toGo)))
	}
	return say("{} passes, {} covered / to go: {}", w.count(id+".passes", len(passes)), words(w.longUnit()), join(", ", pairs...))
}
