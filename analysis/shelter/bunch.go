package shelter

import "parcours.example/analysis/elementary"

// depths are what Blocken et al. 2018 (J. Wind Eng. Ind. Aerodyn. 179:319–337) found in a
// bunch of 121 riders, by how many ride ahead: the leader 0.88, the two behind 0.63, the
// middle of the next row of three 0.38, in the middle 0.10, far back 0.04, and 0.05–0.07
// from the middle to the rear. The numbers here are within 0.03 of all of these, and fall
// from each place to the next.
func depths() [6]depth {
	return [...]depth{{0, 0.88}, {1, 0.65}, {2, 0.61}, {4, 0.38}, {60, 0.08}, {120, 0.05}}
}

// depth is the drag over the drag alone with a number of riders ahead.
type depth struct{ ahead, drag float64 }

// deep returns the drag over the drag alone with a number of riders of a large bunch ahead:
// a power of that number between the depths that are known, the last beyond.
func deep(ahead int) float64 {
	known, a := depths(), float64(ahead)
	last := known[0]
	for _, next := range known {
		switch {
		case a == next.ahead:
			return next.drag
		case a < next.ahead:
			exponent := elementary.Log(next.drag/last.drag) / elementary.Log(next.ahead/last.ahead)
			return last.drag * elementary.Pow(a/last.ahead, exponent)
		}
		last = next
	}
	return last.drag
}

// bunchingRiders is by how many riders a group's difference from a large bunch falls to
// 1/e. No source: so that the best place among nine has about 0.40, the least known, and
// fifty are nearly a large bunch.
const bunchingRiders = 14

// bunching returns how much of a bunch a number of riders several abreast can be, from 0 for
// two to 1 for many.
func bunching(riders int) float64 {
	return 1 - elementary.Exp(-float64(max(riders-2, 0))/bunchingRiders)
}

// Bunch returns the drag over the drag alone in a group that rides several abreast, with a
// number of its riders ahead; 1 alone. Groups of two ride as a line, large ones as the bunch
// of Blocken et al. 2018, the others in between. A place beyond the last is the last's, one
// before the first the first's.
func Bunch(ahead, riders int) float64 {
	line := lineLee(ahead, riders)
	return 1 - (line + float64(bunching(riders)*(1-deep(placed(ahead, riders))-line)))
}
