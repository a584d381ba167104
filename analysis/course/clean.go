package course

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// warn adds a warning at a place in metres, NaN for the whole course.
func (q *Quality) warn(code string, atM float64, format string, args ...any) {
	q.Warnings = append(q.Warnings, Warning{Code: code, AtM: atM, Detail: fmt.Sprintf(format, args...)})
}

// counted writes a number with the words for one or for many.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

const (
	// minSmoothed is the fewest points of which noise can be told from shape.
	minSmoothed = 12
	// denseStepM is the largest median step at which a line is taken for recorded.
	denseStepM = 20
	// leastPositionNoiseM is the noise of positions below which they stay.
	leastPositionNoiseM = 0.15
	// mergedStepM is the step below which points are one point.
	mergedStepM = 1.0
	// manyDropped is the share of dropped points from which to warn.
	manyDropped = 0.1
)

// clean drops what is no progress along the course. Without smoothing all but points at
// one place stay, and what would be dropped is told. It fails with the context's error.
func (l *line) clean(ctx context.Context, opt Options, q *Quality) error {
	read := l.clone()
	if l.merge(opt, q); l.pos != nil {
		merged, dropped := *l, q.PointsDropped
		if opt.Smoothing == None {
			*l = l.clone()
		}
		l.tellOrder(q)
		if err := l.dropStrays(ctx, opt, q); err != nil {
			return err
		}
		q.PointsDropped += l.dropStops()
		var err error
		if l.s, err = axisOf(ctx, l.pos); err != nil {
			return err
		}
		l.merge(opt, q) // the line may go on where it left for a stray
		switch {
		case opt.Smoothing == None:
			*l, q.PointsDropped = merged, dropped
		case len(l.s) < 2 || l.lengthM() <= 0: // there was nothing else
			*l, q.PointsDropped = read, 0
			l.merge(Options{Smoothing: None}, q)
		}
		l.tellPlace(q)
	}
	if share := float64(q.PointsDropped) / float64(q.PointsRead); share > manyDropped {
		q.warn("points-dropped", math.NaN(), "%d of %d points lie less than a metre from the one before or stand still, and were dropped", q.PointsDropped, q.PointsRead)
	}
	return nil
}

// dropStrays takes out points that a recorded line jumps to and back from. It fails with the
// context's error.
func (l *line) dropStrays(ctx context.Context, opt Options, q *Quality) error {
	strays, first := l.strays()
	if strays == 0 {
		return ctx.Err()
	}
	var err error
	if l.s, err = axisOf(ctx, l.pos); err != nil {
		return err
	}
	q.PointsDropped += strays
	if opt.Smoothing == None {
		q.warn("position-spikes", first, "%s far off the line, the first of them here; without smoothing they stay", counted(strays, "point stands", "points stand"))
		return nil
	}
	q.warn("spikes-repaired", first, "%s taken out that stood far off the line, the first of them here", counted(strays, "point was", "points were"))
	return nil
}

// clone returns a copy of the line's points.
func (l *line) clone() line {
	c := *l
	c.s, c.z, c.pos = slices.Clone(l.s), slices.Clone(l.z), slices.Clone(l.pos)
	return c
}

// merge makes one point of points that lie too close together. Without smoothing
// only points at the same place are merged, and the first elevation stays.
func (l *line) merge(opt Options, q *Quality) {
	least := mergedStepM
	if opt.Smoothing == None {
		least = 0
	}
	kept, differ := 0, 0
	last := len(l.s) - 1
	for i := 1; i <= last; i++ {
		d := l.s[i] - l.s[kept]
		if d > least {
			kept++
			l.move(kept, i)
			continue
		}
		q.PointsDropped++
		if math.IsNaN(l.z[kept]) {
			l.z[kept] = l.z[i]
		}
		if math.Abs(l.z[i]-l.z[kept]) > 0 {
			differ++
		}
		if i == last && d > 0 { // the end stays where it is
			kept = max(kept, 1)
			l.move(kept, i)
		}
	}
	l.cut(kept + 1)
	if differ > 0 && opt.Smoothing == None {
		q.warn("duplicate-elevations", math.NaN(), "%d points repeat the place of the point before with another elevation; the first one stands", differ)
	}
}

// move overwrites point i with point j.
func (l *line) move(i, j int) {
	l.s[i], l.z[i] = l.s[j], l.z[j]
	if l.pos != nil {
		l.pos[i] = l.pos[j]
	}
}

// cut keeps the first n points.
func (l *line) cut(n int) {
	l.s, l.z = l.s[:n], l.z[:n]
	if l.pos != nil {
		l.pos = l.pos[:n]
	}
}

// Steps between points from which they are worth a warning.
const (
	gapM    = 200.0
	sparseM = 100.0
	// maxGapWarnings bounds how many gaps are told one by one.
	maxGapWarnings = 5
)

// warnSteps warns of gaps in a dense line and of sparse points.
func (l *line) warnSteps(q *Quality) {
	if q.MedianStepM > sparseM {
		q.warn("sparse-points", math.NaN(), "the points are %.0f m apart; what happens between them is not in the file", q.MedianStepM)
	}
	if q.MedianStepM > gapM/4 {
		return
	}
	gaps := 0
	for i := 1; i < len(l.s); i++ {
		d := l.s[i] - l.s[i-1]
		if d <= gapM {
			continue
		}
		if gaps++; gaps <= maxGapWarnings {
			q.warn("gap", l.s[i-1], "no points for %.0f m", d)
		}
	}
	if gaps > maxGapWarnings {
		q.warn("gap", math.NaN(), "%d gaps in all", gaps)
	}
}
