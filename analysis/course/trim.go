package course

import (
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/track"
)

const (
	// endSlackM is by how much in metres a position may lie beyond an end: answers
	// round them.
	endSlackM = 0.1
	// shortestCutM is the least length in metres that a cut leaves.
	shortestCutM = 1.0
	// markBesideCutM is how far beyond a cut in metres a mark may stand and still
	// belong to what is left.
	markBesideCutM = 30.0
)

// trim cuts the line to what lies between two positions, to its end if the second is
// 0.
func (c *making) trim(from, to float64) error {
	length := c.LengthM()
	if to == 0 {
		to = length
	}
	from, to, err := cutBounds(from, to, length)
	if err != nil {
		return err
	}
	if to-from < min(shortestCutM, length) {
		return tooShortCut(from, to)
	}
	if from == 0 && to == length {
		return nil
	}
	c.marks = c.marksBetween(from, to)
	c.Quality.DistanceAsReadM, c.Quality.AscentUnsmoothedM = c.read.between(from/length, to/length)
	c.setStrip(c.strip().cut(from, to))
	c.Quality.Warnings = slices.DeleteFunc(c.Quality.Warnings, func(w Warning) bool { return w.AtM < from || w.AtM > to })
	for i := range c.Quality.Warnings {
		c.Quality.Warnings[i].AtM -= from
	}
	return nil
}

// cutBounds checks positions at which a line of a length is to be cut.
func cutBounds(from, to, length float64) (float64, float64, *Error) {
	for _, x := range [...]float64{from, to} {
		if !(x >= 0 && x <= length+endSlackM) {
			return from, to, &Error{
				Code: CodeCutOutside, Limit: length, Actual: x,
				Detail: fmt.Sprintf("the course can't be cut at %.1f m: it is %.1f m long", x, length),
			}
		}
	}
	return min(from, length), min(to, length), nil
}

// tooShortCut refuses a cut that leaves no course.
func tooShortCut(from, to float64) *Error {
	return &Error{
		Code: CodeTooShort, Limit: shortestCutM, Actual: to - from,
		Detail: fmt.Sprintf("the cut from %.1f m to %.1f m leaves no course", from, to),
	}
}

// marksBetween returns the marks but those that stand on the line beyond a cut. Those
// by distance are brought onto the axis of what is left.
func (c *making) marksBetween(from, to float64) []track.Mark {
	var near *again
	if c.Pos != nil {
		g := newGround(c.S, c.Pos)
		near = &again{g: g, grid: newGrid(g, toleranceM)}
	}
	var left []track.Mark
	for _, m := range c.marks {
		if byDistance(m) {
			m.AtM -= from
			if m.AtM < 0 || m.AtM > to-from {
				continue
			}
		} else if near != nil && near.standsBeyond(m, from, to) {
			continue
		}
		left = append(left, m)
	}
	return left
}

// standsBeyond reports whether the line comes by a mark, but nowhere within a cut.
func (a *again) standsBeyond(m track.Mark, from, to float64) bool {
	at, _ := a.approaches(m, leastPassSlackM)
	return len(at) > 0 && !slices.ContainsFunc(at, func(x float64) bool {
		return x >= from-markBesideCutM && x <= to+markBesideCutM
	})
}

// readAxis is the distance and the sum of rises in metres up to each point as read.
type readAxis struct{ s, rise []float64 }

// readAxis returns the line's, if a cut is asked for.
func (l *line) readAxis(opt Options) readAxis {
	if opt.StartM == 0 && opt.EndM == 0 {
		return readAxis{}
	}
	r := readAxis{s: slices.Clone(l.s), rise: make([]float64, len(l.s))}
	last, sum := math.NaN(), 0.0
	for i, z := range l.z {
		if z > last { // false at the first
			sum += z - last
		}
		if !math.IsNaN(z) {
			last = z
		}
		r.rise[i] = sum
	}
	return r
}

// between returns the length and the sum of rises in metres between two shares of the
// line.
func (r readAxis) between(from, to float64) (lengthM, riseM float64) {
	length := r.s[len(r.s)-1]
	rise := interpolateAll(r.s, r.rise, []float64{from * length, to * length})
	return (to - from) * length, rise[1] - rise[0]
}
