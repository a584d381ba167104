package course

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

const (
	// markLostM is the distance from the course in metres beyond which a mark does
	// not belong to it, markNearM up to which it stands at it without a doubt.
	markLostM = 200.0
	markNearM = 60.0
	// A pass may be farther from the mark than the nearest one by three times the
	// noise and by the corner that coarse sampling cuts, within these bounds.
	leastPassSlackM, mostPassSlackM = 20.0, 60.0
	cutCornerShare                  = 0.5
	// inItsDirection is the cosine of the widest angle, 60°, between a mark's direction
	// and the course's.
	inItsDirection = 0.5
	// onLineM is how near in metres to a line a mark by distance stands on it.
	onLineM = 0.5
	// A mark stands on the line if it is within three times the noise of it, within
	// these bounds.
	leastOnLineM, mostOnLineM = 5.0, 30.0
)

// byDistance reports whether a mark is given by its distance along the course.
func byDistance(m track.Mark) bool { return m.Pos == geodesy.Vec{} }

// addMarks appends marks that were asked for beside the file's, once the course has
// its length.
func (c *making) addMarks(marks []track.Mark) error {
	length := c.LengthM()
	for _, m := range marks {
		if !byDistance(m) {
			continue
		}
		if !(m.AtM >= 0 && m.AtM <= length+endSlackM) {
			return &Error{
				Code: CodeMarkOutside, Limit: length, Actual: m.AtM,
				Detail: fmt.Sprintf("the mark %q can't stand at %.1f m: the course is %.1f m long", m.Name, m.AtM, length),
			}
		}
	}
	c.marks = slices.Concat(c.marks, marks)
	return nil
}

// matchMarks fills Marks. Places too far from the course, or that it doesn't come by
// in their direction, are left out with a warning.
func (c *Course) matchMarks(marks []track.Mark) {
	c.Marks = nil
	for _, m := range marks {
		if byDistance(m) {
			c.placeMark(m)
		} else {
			c.matchMark(m)
		}
	}
}

// placeMark adds a mark that is given by its distance, with its other passes.
func (c *Course) placeMark(m track.Mark) {
	length := c.LengthM()
	if !(m.AtM >= 0 && m.AtM <= length+endSlackM) {
		c.Quality.warn("mark-off-course", math.NaN(), "the place %q stands at %.0f m, the course is %.0f m long; it was left out", m.Name, m.AtM, length)
		return
	}
	at := c.passesOfMark([]float64{min(m.AtM, length)}, onLineM)
	c.Marks = append(c.Marks, Mark{Name: m.Name, Kind: m.Kind, At: at, place: m})
}

// matchMark adds a mark that is given by its position.
func (c *Course) matchMark(m track.Mark) {
	if c.again == nil {
		c.Quality.warn("mark-needs-positions", math.NaN(), "the place %q is given by its position, but the course has none; it was left out", m.Name)
		return
	}
	near, off := c.comesBy(m)
	switch {
	case near == nil && math.IsInf(off, 1) && m.Directed:
		c.Quality.warn("mark-off-course", math.NaN(), "the course never passes the place %q in the direction %.0f° within %.0f m; it was left out", m.Name, m.HeadingDeg, markLostM)
		return
	case near == nil:
		c.Quality.warn("mark-off-course", math.NaN(), "the place %q is %.0f m from the course and was left out", m.Name, c.again.g.distance(m.Pos))
		return
	case off > markNearM:
		c.Quality.warn("mark-off-course", near[0], "the place %q is %.0f m from the course; its nearest point was taken", m.Name, off)
	}
	at := c.passesOfMark(near, min(leastOnLineM+float64(3*c.again.noiseM()), mostOnLineM))
	c.Marks = append(c.Marks, Mark{Name: m.Name, Kind: m.Kind, OffCourseM: off, At: at, place: m})
}

// comesBy returns the positions in metres at which the course comes by a mark that is
// given by its position, the nearest first, and the distance of that.
func (c *Course) comesBy(m track.Mark) (near []float64, off float64) {
	slack := float64(3*max(c.again.noiseM(), c.Quality.PositionNoiseM)) + float64(cutCornerShare*c.Quality.MedianStepM)
	return c.again.approaches(m, min(max(slack, leastPassSlackM), mostPassSlackM))
}

// approaches returns the positions in metres at which the course comes by a mark, in
// its direction if it has one, the nearest first, and the distance of that; none
// beyond markLostM. Beyond markNearM there is only the nearest. Without a direction
// every branch of a crossing counts.
func (a *again) approaches(m track.Mark, slack float64) (at []float64, off float64) {
	around := a.grid.around(a.g, m.Pos, markLostM+a.g.step)
	if m.Directed {
		way := direction(m)
		around = slices.DeleteFunc(around, func(i int) bool { return a.g.dir[i].Dot(way) < inItsDirection })
	}
	off = math.Inf(1)
	for _, i := range around {
		_, d := a.g.project(m.Pos, i)
		off = min(off, d)
	}
	if off > markLostM {
		return nil, off
	}
	limit := off
	if off <= markNearM {
		limit = min(off+slack, max(markNearM, off))
	}
	return a.nearestOfEach(m.Pos, around, limit), off
}

// direction returns the unit vector in which a mark is passed.
func direction(m track.Mark) geodesy.Vec {
	f := geodesy.FrameAt(m.Pos)
	sin, cos := elementary.Sincos(m.HeadingDeg * math.Pi / 180)
	return f.East.Scale(sin).Add(f.North.Scale(cos))
}

// nearestOfEach returns the position of the nearest approach to a place in each
// stretch of the samples within a limit in metres of it, the nearest of all first.
func (a *again) nearestOfEach(p geodesy.Vec, samples []int, limit float64) []float64 {
	type approach struct{ at, d float64 }
	var all []approach
	last := math.Inf(-1)
	for _, i := range samples {
		x, d := a.g.project(p, i)
		if d > limit {
			continue
		}
		here := approach{min(x*a.g.step, a.g.lengthM), d}
		if here.at-last > samePassM {
			all = append(all, here)
		} else if k := len(all) - 1; d < all[k].d {
			all[k] = here
		}
		last = here.at
	}
	sort.SliceStable(all, func(i, k int) bool { return all[i].d < all[k].d })
	at := make([]float64, len(all))
	for k := range all {
		at[k] = all[k].at
	}
	return at
}

// distance returns the distance in metres of a place from the line. Far away it is
// that of every so manieth sample, good to a step between these.
func (g *ground) distance(p geodesy.Vec) float64 {
	const most = 4000
	stride := 1 + len(g.pos)/most
	best, nearest := 0, math.Inf(1)
	for i := 0; i < len(g.pos); i += stride {
		if d := geodesy.Chord(g.pos[i], p); d < nearest {
			best, nearest = i, d
		}
	}
	_, d := g.nearest(p, float64(best), float64(stride))
	return d
}

// passesOfMark returns all passes of a mark, given where the course comes by it,
// nearest first: these, and what the structure makes of them. A mark within a distance
// in metres of the line of the laps or of a circuit is passed at every line.
func (c *Course) passesOfMark(near []float64, onLine float64) []float64 {
	at := slices.Clone(near)
	passed, known := passSet{}, passSet{}
	for _, x := range near {
		passed.add(x)
	}
	for _, x := range near {
		if known.has(x) {
			continue
		}
		for _, y := range c.Passes(x) {
			known.add(y)
			if !passed.has(y) {
				at = append(at, y)
				passed.add(y)
			}
		}
	}
	slices.Sort(at)
	return onLines(at, c.markLines(), onLine)
}

// markLines returns the positions of the line that the course starts, ends or laps
// at.
func (c *Course) markLines() []float64 {
	if lines := c.lapLines(); lines != nil {
		return lines
	}
	if c.Shape == Circuit {
		return []float64{0, c.LengthM()}
	}
	return nil
}

// onLines puts passes beside lines onto them, and one onto every line, if half of
// them or more are within a distance in metres of it.
func onLines(at, lines []float64, within float64) []float64 {
	beside := func(x float64) bool { return anyWithin(lines, x, samePassM) }
	on, off := 0, 0
	for _, x := range at {
		switch {
		case anyWithin(lines, x, within):
			on++
		case beside(x):
			off++
		}
	}
	if on == 0 || on < off {
		return at
	}
	at = append(slices.DeleteFunc(at, beside), lines...)
	slices.Sort(at)
	return slices.Compact(at)
}
