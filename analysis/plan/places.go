package plan

import (
	"fmt"
	"strings"

	"parcours.example/analysis/wording"
)

// What a place can be.
const (
	// OfPart is a part of the course: the lead-in, a lap, the run-out, or the whole.
	OfPart = "part"
	// OfClimb is a pass of a climb.
	OfClimb = "climb"
	// OfSection is one of a climb's sections on one pass.
	OfSection = "section"
	// OfDescent is a pass of a descent.
	OfDescent = "descent"
	// OfFalseFlat is a pass of a false flat.
	OfFalseFlat = "false_flat"
	// OfFlat is what lies between them.
	OfFlat = "flat"
	// OfMark is a point: a sprint line, a summit, a gate.
	OfMark = "mark"
)

// The kinds of flats, by the wind.
const (
	// KindHeadwind is a flat with the wind from ahead.
	KindHeadwind = "headwind"
	// KindTailwind is a flat with the wind from behind.
	KindTailwind = "tailwind"
)

// The kinds of parts, as in course.PartKind.
const (
	kindLeadIn = "lead_in"
	kindLap    = "lap"
	kindRunOut = "run_out"
	kindWhole  = "whole"
)

// Place is something on the road that a rider can see or be told of. Its bounds are
// where a step of a plan may well end.
type Place struct {
	// Of is one of the Of constants.
	Of string
	// ID is the climb's, the descent's or the mark's; Name may be empty.
	ID, Name string
	// Kind is the part's or the mark's kind; of a flat it is KindHeadwind, KindTailwind or
	// empty.
	Kind string
	// Section is the 1-based number of a climb's section, Lap the 1-based lap, 0 outside
	// laps; Pass counts the passes from 1, 0 where there is but one.
	Section, Lap, Pass int
	// StartM and EndM are on the road's axis, equal for a mark.
	StartM, EndM float64
}

// String is the place in words: "section 2 of climb-1 (Oster), lap 3".
func (p Place) String() string {
	switch {
	case p.Of == OfPart && p.Kind == kindLap:
		return fmt.Sprintf("lap %d", p.Lap)
	case p.Lap > 0:
		return fmt.Sprintf("%s, lap %d", p.bare(), p.Lap)
	case p.Pass > 0:
		return fmt.Sprintf("%s, pass %d", p.bare(), p.Pass)
	}
	return p.bare()
}

// bare is the place in words without its lap or pass.
func (p Place) bare() string {
	switch p.Of {
	case OfPart:
		return p.part()
	case OfSection:
		return fmt.Sprintf("section %d of %s", p.Section, p.named())
	case OfClimb, OfDescent, OfMark:
		return p.named()
	case OfFalseFlat:
		return "false flat"
	}
	switch p.Kind {
	case KindHeadwind:
		return "flat into the wind"
	case KindTailwind:
		return "flat with the wind"
	}
	return "flat"
}

func (p Place) part() string {
	switch p.Kind {
	case kindLeadIn:
		return "lead-in"
	case kindLap:
		return "lap"
	case kindRunOut:
		return "run-out"
	}
	return "the course"
}

// longestName is the most code points of a name that are told.
const longestName = 60

func (p Place) named() string {
	name := []rune(p.Name)
	if len(name) == 0 {
		return p.ID
	}
	if len(name) > longestName {
		name = append(name[:longestName-1:longestName-1], '…')
	}
	return fmt.Sprintf("%s (%s)", p.ID, string(name))
}

// overlap is the length that a place has in common with a stretch.
func (p Place) overlap(fromM, toM float64) float64 {
	return max(0, min(p.EndM, toM)-max(p.StartM, fromM))
}

const (
	// wholly is the share of the longer of the two that a step and a place have in common
	// where the step is the place; mostly that of a place that counts as ridden on a step.
	wholly, mostly = 0.8, 0.8
)

// locate says what of the course a stretch is on: the place that it is, or the places
// that it joins, or a part of one.
func locate(places []Place, fromM, toM float64) (Place, string) {
	length := toM - fromM
	alike, around := -1, -1
	best, least := wholly, 0.0
	var joined []Place
	for i, p := range places {
		common, own := p.overlap(fromM, toM), p.EndM-p.StartM
		if share := common / max(length, own); share > best {
			alike, best = i, share
		}
		if common >= mostly*length && (around < 0 || own < least) {
			around, least = i, own
		}
		if own > 0 && common >= mostly*own && p.Of != OfPart && p.Of != OfSection && (len(joined) == 0 || p.StartM >= joined[len(joined)-1].EndM-sameM) {
			joined = append(joined, p)
		}
	}
	switch {
	case alike >= 0:
		return places[alike], places[alike].String()
	case len(joined) > 1:
		first, last := joined[0], joined[len(joined)-1]
		if first.Lap == last.Lap && first.Lap > 0 {
			return longest(joined), strings.Join([]string{first.bare(), last.String()}, " to ")
		}
		return longest(joined), strings.Join([]string{first.String(), last.String()}, " to ")
	case around >= 0:
		return places[around], partOf(places[around], fromM, toM)
	}
	return Place{Of: OfPart, Kind: kindWhole, EndM: toM}, "the course"
}

func longest(places []Place) Place {
	best := places[0]
	for _, p := range places[1:] {
		if p.EndM-p.StartM > best.EndM-best.StartM {
			best = p
		}
	}
	return best
}

// partOf tells which part of a place a stretch is.
func partOf(p Place, fromM, toM float64) string {
	length := wording.Metres(toM - fromM)
	switch {
	case fromM <= p.StartM+sameM:
		return fmt.Sprintf("first %s of %s", length, p)
	case toM >= p.EndM-sameM:
		return fmt.Sprintf("last %s of %s", length, p)
	}
	return fmt.Sprintf("%s of %s, from %s in", length, p, wording.Metres(fromM-p.StartM))
}
