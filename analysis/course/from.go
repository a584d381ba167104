package course

import (
	"context"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// FromTrack makes a course from a file's line. It refuses with an *Error a line of no
// length, one that is too long or has too many nodes, a cut beyond its end, declared
// laps that do not close and marks beyond its end; everything else it mends and
// reports in Quality, with what the reader found odd.
//
// A track without positions becomes a course without positions on the distances that
// the file gives.
//
// It gives up with the context's error soon after the context has ended.
func FromTrack(ctx context.Context, t *track.Track, opt Options) (*Course, error) {
	l, err := lineOf(ctx, t)
	if err != nil {
		return nil, err
	}
	l.marks = slices.Clone(t.Marks)
	for i := range l.marks {
		if byDistance(l.marks[i]) && t.DistanceM != nil {
			l.marks[i].AtM -= t.DistanceM[0]
		}
	}
	for _, w := range t.Warnings {
		at := math.NaN()
		if w.Point >= 0 && w.Point < len(l.s) {
			at = l.s[w.Point]
		}
		l.told = append(l.told, Warning{Code: w.Code, Detail: w.Detail, AtM: at})
	}
	return l.course(ctx, t.Name, opt)
}

// FromProfile makes a course from a table of distances and elevations, both in
// metres. The distances must strictly increase ("axis-not-increasing") and may start
// anywhere; elevations are NaN where missing. The course has no positions. The other
// errors are those of FromTrack.
func FromProfile(ctx context.Context, distanceM, elevationM []float64, opt Options) (*Course, error) {
	l, err := profileLine(distanceM, elevationM)
	if err != nil {
		return nil, err
	}
	return l.course(ctx, "", opt)
}

// course makes the course of a line in file order.
func (l *line) course(ctx context.Context, name string, opt Options) (*Course, error) {
	if opt.Reverse {
		l.reverse()
	}
	if length := l.lengthM(); length > LongestM {
		return nil, tooLong(length)
	}
	q := l.measure()
	c := &making{read: l.readAxis(opt)}
	readM := l.lengthM() // the line changes as it is conditioned
	var err error
	if c.Course, err = l.condition(ctx, opt, q); err != nil {
		return nil, err
	}
	c.marks = l.marks
	c.Name = name
	c.scale(l.told, readM)
	return c.complete(ctx, opt)
}

// scale brings what is placed on the line as read, of a length in metres, onto the
// course.
func (c *making) scale(told []Warning, readM float64) {
	factor := c.LengthM() / readM
	for _, w := range told {
		w.AtM *= factor
		c.Quality.Warnings = append(c.Quality.Warnings, w)
	}
	for i, m := range c.marks {
		if byDistance(m) {
			c.marks[i].AtM = m.AtM * factor
		}
	}
}

// lineOf returns the line of a track in file order.
func lineOf(ctx context.Context, t *track.Track) (*line, error) {
	l := &line{z: make([]float64, len(t.Points))}
	for i, p := range t.Points {
		l.z[i] = p.Elevation
	}
	var err error
	if t.DistanceM != nil {
		err = l.setDistances(t.DistanceM)
	} else {
		l.pos = make([]geodesy.Vec, len(t.Points))
		for i, p := range t.Points {
			l.pos[i] = p.Pos
		}
		l.s, err = axisOf(ctx, l.pos)
	}
	if err == nil && (len(l.s) < 2 || l.lengthM() <= 0) {
		err = &Error{Code: CodeTooShort, Detail: "the line has no length: it needs two points at different places"}
	}
	return l, err
}

// setDistances takes the axis from a file's distances, which start at 0 then. Points
// at the distance of the one before make no way; they are merged later.
func (l *line) setDistances(distanceM []float64) error {
	if len(distanceM) != len(l.z) {
		return &Error{Code: CodeTooShort, Detail: "the line needs a distance for each of its points"}
	}
	l.s = make([]float64, len(distanceM))
	repeated := 0
	for i, d := range distanceM {
		l.s[i] = d - distanceM[0]
		if i == 0 {
			continue
		}
		if !(l.s[i] >= l.s[i-1]) || math.IsInf(l.s[i], 0) {
			return notIncreasing(i)
		}
		if l.s[i] == l.s[i-1] {
			repeated++
		}
	}
	if repeated > 0 {
		l.told = append(l.told, Warning{
			Code: "distance-repeated", AtM: math.NaN(),
			Detail: fmt.Sprintf("%d points repeat the distance of the point before; of each place the first one stands", repeated),
		})
	}
	return nil
}

// reverse turns the direction of travel.
func (l *line) reverse() {
	length := l.lengthM()
	for i := range l.s {
		l.s[i] = length - l.s[i]
	}
	slices.Reverse(l.s)
	slices.Reverse(l.z)
	slices.Reverse(l.pos)
	for i := range l.told {
		l.told[i].AtM = length - l.told[i].AtM
	}
	for i, m := range l.marks {
		if byDistance(m) {
			l.marks[i].AtM = length - m.AtM
		}
	}
}

// LongestM is the length in metres of the longest course that is made: longer than any
// race, and short enough that two far points don't become a million nodes.
const LongestM = 5e6

// tooLong refuses a course of more than LongestM.
func tooLong(lengthM float64) *Error {
	return &Error{
		Code: CodeTooLong, Limit: LongestM, Actual: lengthM,
		Detail: fmt.Sprintf("the course would be %.0f km long; at most %.0f km are taken", lengthM/1000, LongestM/1000),
	}
}
