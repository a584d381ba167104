package course

import (
	"context"
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// line is a line on its way to a course: points with their distance, elevation and,
// unless pos is nil, position.
type line struct {
	s, z []float64
	pos  []geodesy.Vec
	// marks are the file's places, told what was odd in it; those with a place have it
	// on the line as read.
	marks []track.Mark
	told  []Warning
}

// checkEvery is the number of points, or of samples of the ground, after which the context is
// looked at.
const checkEvery = 4096

// axisOf returns the distance in metres of each point along the line, the sum of
// the geodesics. It fails with the context's error.
func axisOf(ctx context.Context, pos []geodesy.Vec) ([]float64, error) {
	s := make([]float64, len(pos))
	for i := 1; i < len(pos); i++ {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		s[i] = s[i-1] + geodesy.Distance(pos[i-1], pos[i])
	}
	return s, nil
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

// condition turns the line into a course without structure. It fails with the context's
// error.
func (l *line) condition(ctx context.Context, opt Options, q Quality) (*Course, error) {
	c := &Course{Quality: q}
	q0 := &c.Quality
	q0.AscentThresholdM = opt.AscentThresholdM
	if err := l.clean(ctx, opt, q0); err != nil {
		return nil, err
	}
	read := l.pos
	if err := l.smoothPositions(ctx, opt, q0); err != nil {
		return nil, err
	}
	at := l.nodes(opt)
	c.S = at
	var err error
	if c.Z, err = l.elevations(ctx, at, opt, q0); err != nil {
		return nil, err
	}
	if l.pos != nil {
		c.Pos = positionsAt(l.s, l.pos, at)
		if c.turning, err = turning(ctx, l.s, read, at); err != nil {
			return nil, err
		}
		c.tellWander()
	}
	if q0.SpacingM = at[1]; opt.Smoothing == None {
		q0.SpacingM = medianStep(at)
	}
	l.warnSteps(q0)
	return c, ctx.Err()
}

// smoothPositions takes the noise out of the positions, where there are any.
func (l *line) smoothPositions(ctx context.Context, opt Options, q *Quality) error {
	if l.pos == nil {
		return nil
	}
	var err error
	if l.pos, q.PositionNoiseM, err = smoothPositions(ctx, l.s, l.pos, opt); err == nil {
		l.s, err = axisOf(ctx, l.pos)
	}
	return err
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

// positionsAt returns the points at increasing distances of a line with points line
// at the distances s.
func positionsAt(s []float64, line []geodesy.Vec, at []float64) []geodesy.Vec {
	pos := make([]geodesy.Vec, len(at))
	j := 0
	for i, x := range at {
		for j+2 < len(s) && s[j+1] < x {
			j++
		}
		f := min(max((x-s[j])/(s[j+1]-s[j]), 0), 1)
		switch f {
		case 0:
			pos[i] = line[j]
		case 1:
			pos[i] = line[j+1]
		default:
			pos[i] = onSurface(line[j].Lerp(line[j+1], f), line[j])
		}
	}
	return pos
}
