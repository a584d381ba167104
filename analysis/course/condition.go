package course

import (
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// FromTrack makes a course from a file's line. It refuses a line of no length
// ("too-short"), one of more than 5,000 km ("too-long") and declared laps that do not
// close ("laps-do-not-close") with an *Error; everything else it mends and reports in
// Quality.
func FromTrack(t *track.Track, opt Options) (*Course, error) {
	points := slices.Clone(t.Points)
	if opt.Reverse {
		slices.Reverse(points)
	}
	l, err := lineOf(points)
	if err != nil {
		return nil, err
	}
	return l.course(t.Name, opt, t.Marks)
}

// FromProfile makes a course from a table of distances and elevations, both in
// metres. The distances must strictly increase ("axis-not-increasing") and may start
// anywhere; elevations are NaN where missing. The course has no positions.
func FromProfile(distanceM, elevationM []float64, opt Options) (*Course, error) {
	l, err := profileLine(distanceM, elevationM)
	if err != nil {
		return nil, err
	}
	if opt.Reverse {
		l.reverse()
	}
	return l.course("", opt, nil)
}

// course makes the course of a line in its direction of travel.
func (l *line) course(name string, opt Options, marks []track.Mark) (*Course, error) {
	if err := l.checkLength(opt); err != nil {
		return nil, err
	}
	q := l.measure()
	if opt.Laps > 0 {
		if err := l.close(&q); err != nil {
			return nil, err
		}
	}
	c := l.condition(opt, q)
	c.Name = name
	return c.finish(opt, marks), nil
}

// line is a line on its way to a course: points with their distance, elevation and,
// unless pos is nil, position.
type line struct {
	s, z []float64
	pos  []geodesy.Vec
}

func lineOf(points []track.Point) (*line, error) {
	l := &line{z: make([]float64, len(points)), pos: make([]geodesy.Vec, len(points))}
	for i, p := range points {
		l.z[i], l.pos[i] = p.Elevation, p.Pos
	}
	l.s = axisOf(l.pos)
	if len(l.s) < 2 || l.lengthM() <= 0 {
		return nil, &Error{Code: "too-short", Detail: "the line has no length: it needs two points at different places"}
	}
	return l, nil
}

// axisOf returns the distance in metres of each point along the line, the sum of
// the geodesics.
func axisOf(pos []geodesy.Vec) []float64 {
	s := make([]float64, len(pos))
	for i := 1; i < len(pos); i++ {
		s[i] = s[i-1] + geodesy.Distance(pos[i-1], pos[i])
	}
	return s
}

// LongestM is the length in metres of the longest course that is made: longer than any
// race, and short enough that two far points don't become a million nodes.
const LongestM = 5e6

// checkLength refuses a course that would be too long, all its laps together.
func (l *line) checkLength(opt Options) error {
	if length := l.lengthM() * float64(max(opt.Laps, 1)); length > LongestM {
		return &Error{
			Code: "too-long", Limit: LongestM, Actual: length,
			Detail: fmt.Sprintf("the course would be %.0f km long; at most %.0f km are taken", length/1000, LongestM/1000),
		}
	}
	return nil
}

func (l *line) lengthM() float64 { return l.s[len(l.s)-1] }

// measure describes the line as read.
func (l *line) measure() Quality {
	return Quality{
		PointsRead:        len(l.s),
		MedianStepM:       medianStep(l.s),
		DistanceAsReadM:   l.lengthM(),
		AscentUnsmoothedM: plainAscent(l.z),
	}
}

// plainAscent returns the sum of the rises between successive known elevations.
func plainAscent(z []float64) float64 {
	sum, last := 0.0, math.NaN()
	for _, v := range z {
		if math.IsNaN(v) {
			continue
		}
		if v > last { // false at the first
			sum += v - last
		}
		last = v
	}
	return sum
}

// medianStep returns the median distance between points at different places; 0
// without any.
func medianStep(s []float64) float64 {
	steps := sortedSteps(s)
	if len(steps) == 0 {
		return 0
	}
	return steps[len(steps)/2]
}

// condition turns the line into a course without structure.
func (l *line) condition(opt Options, q Quality) *Course {
	c := &Course{Quality: q}
	q0 := &c.Quality
	q0.AscentThresholdM = opt.AscentThresholdM
	l.clean(opt, q0)
	var read []geodesy.Vec
	if l.pos != nil {
		read = l.pos
		l.pos, q0.PositionNoiseM = smoothPositions(l.s, l.pos, opt)
		l.s = axisOf(l.pos)
	}
	at := l.nodes(opt)
	c.S = at
	c.Z = l.elevations(at, opt, q0)
	if l.pos != nil {
		c.Pos = l.positions(at)
		c.turning = turning(l.s, read, at)
	}
	if q0.SpacingM = at[1]; opt.Smoothing == None {
		q0.SpacingM = medianStep(at)
	}
	l.warnSteps(q0)
	return c
}

// nodes returns the distances of the course's nodes: those of the line without
// smoothing, else equal steps of about the asked spacing.
func (l *line) nodes(opt Options) []float64 {
	if opt.Smoothing == None {
		return l.s
	}
	length := l.lengthM()
	n := max(1, int(math.Round(length/opt.SpacingM)))
	at := make([]float64, n+1)
	for i := range at {
		at[i] = length * float64(i) / float64(n)
	}
	at[n] = length
	return at
}

// positions returns the points of the line at increasing distances.
func (l *line) positions(at []float64) []geodesy.Vec {
	pos := make([]geodesy.Vec, len(at))
	j := 0
	for i, s := range at {
		for j+2 < len(l.s) && l.s[j+1] < s {
			j++
		}
		f := min(max((s-l.s[j])/(l.s[j+1]-l.s[j]), 0), 1)
		switch f {
		case 0:
			pos[i] = l.pos[j]
		case 1:
			pos[i] = l.pos[j+1]
		default:
			pos[i] = onSurface(l.pos[j].Lerp(l.pos[j+1], f), l.pos[j])
		}
	}
	return pos
}

// finish adds what follows from the nodes, and the structure.
func (c *Course) finish(opt Options, marks []track.Mark) *Course {
	if opt.Name != "" {
		c.Name = opt.Name
	}
	if opt.Laps > 0 {
		c.repeat(opt.Laps)
	}
	if c.Pos != nil {
		c.Heading = headings(c.Pos)
		c.Curvature = curvatures(c.S, c.turning)
	}
	if c.Z != nil {
		c.AscentTo, c.DescentTo = cumulativeAscent(c.Z, opt.AscentThresholdM)
		c.warnImplausible()
	}
	c.structure(opt, marks)
	return c
}
