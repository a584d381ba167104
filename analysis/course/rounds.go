package course

import (
	"cmp"
	"slices"
)

const (
	// minAgreement is the least share of lap samples on the first lap's line.
	minAgreement = 0.8
	// asMuch is the share of the distance on one circuit from which another covers as
	// much.
	asMuch = 0.98
)

// rounds are the laps of one circuit. The zero value is none.
type rounds struct {
	// lines are the positions of the lap line in metres, the first lap's start first.
	lines []float64
	// agreed is the agreement of the laps, see Laps.
	agreed float64
}

// count returns the number of laps.
func (r rounds) count() int { return max(0, len(r.lines)-1) }

// first and last return the first lap's start and the last one's end.
func (r rounds) first() float64 { return r.lines[0] }
func (r rounds) last() float64  { return r.lines[len(r.lines)-1] }

// lengthM returns the length of all laps in metres.
func (r rounds) lengthM() float64 { return r.last() - r.first() }

// overlapM returns the length in metres that the laps of two circuits both cover.
func (r rounds) overlapM(o rounds) float64 {
	return max(0, min(r.last(), o.last())-max(r.first(), o.first()))
}

// detectLaps returns the laps of the circuit that covers the most distance, the first
// of those that cover as much, and those of the others in course order.
func (a *again) detectLaps() (main rounds, others []rounds) {
	all := a.allRounds()
	if len(all) == 0 {
		return rounds{}, nil
	}
	most := slices.MaxFunc(all, func(r, o rounds) int { return cmp.Compare(r.lengthM(), o.lengthM()) }).lengthM()
	i := slices.IndexFunc(all, func(r rounds) bool { return r.lengthM() >= asMuch*most })
	return all[i], besides(all[i], all)
}

// besides returns, of laps in course order, those that do not lie on others or on the
// main ones.
func besides(main rounds, all []rounds) []rounds {
	var others []rounds
	before := main
	for _, r := range all {
		if max(r.overlapM(main), r.overlapM(before)) > snapM {
			continue
		}
		others = append(others, r)
		before = r
	}
	return others
}

// allRounds returns the laps of all circuits in course order.
func (a *again) allRounds() []rounds {
	circuits := findCircuits(a.g, a.runs)
	drawLines(a.g, circuits)
	var lines [][]float64
	for _, c := range circuits {
		if c.lines != nil {
			lines = append(lines, c.lines)
		}
	}
	var all []rounds
	for _, lines := range a.g.withDeparting(lines) {
		if agreed, _ := agreement(a.g, lines); agreed >= minAgreement {
			a.inMetres(lines)
			all = append(all, rounds{lines, agreed})
		}
	}
	return all
}
