package calibrate

import (
	"math"

	"parcours.example/analysis/elementary"
)

const (
	// alikeLee is the difference of two shares below which they are one lee whatever their
	// errors.
	alikeLee = 0.05
	// edgeOf is how many stretches at most are the edge of a lee.
	edgeOf = 4
)

// lees returns the runs that were found as they were ridden, the drag area being known to
// a share of it. Runs next to each other that lack about the same are one; a short one that
// lacks less is where a lee begins or ends, and that much of it belongs to it.
func (s *solver) lees(dragShareSE float64) []Lee {
	var out []Lee
	var before run
	for k, f := range s.runs {
		l := s.lee(f, dragShareSE)
		last := len(out) - 1
		switch {
		case k == 0 || before.last+1 != f.first:
			out = append(out, l)
		case math.Abs(f.lacks-before.lacks) <= max(3*elementary.Hypot(f.se, before.se), alikeLee):
			f = joined(before, f)
			whole := s.lee(f, dragShareSE)
			out[last].EndM, out[last].EndS = whole.EndM, whole.EndS
			out[last].Factor, out[last].FactorSE = whole.Factor, whole.FactorSE
		case f.isEdgeOf(&before):
			part := f.lacks / before.lacks
			out[last].EndM += float64((l.EndM - l.StartM) * part)
			out[last].EndS += float64((l.EndS - l.StartS) * part)
		case before.isEdgeOf(&f):
			part := before.lacks / f.lacks
			l.StartM -= float64((out[last].EndM - out[last].StartM) * part)
			l.StartS -= float64((out[last].EndS - out[last].StartS) * part)
			out[last] = l
		default:
			out = append(out, l)
		}
		before = f
	}
	return out
}

// lee is a run on the course.
func (s *solver) lee(f run, dragShareSE float64) Lee {
	points := s.grounds[0].points
	start, end := &points[s.equations[f.first].span.first-1], &points[s.equations[f.last].span.last]
	factor := min(max(1-f.lacks, 0), 1)
	return Lee{start.AtM, end.AtM, start.TimeS, end.TimeS, factor, elementary.Hypot(f.se, factor*dragShareSE)}
}

// joined is two runs next to each other as one, each with the weight of its error.
func joined(a, b run) run {
	wa, wb := 1/float64(a.se*a.se), 1/float64(b.se*b.se)
	return run{a.first, b.last, (float64(wa*a.lacks) + float64(wb*b.lacks)) / (wa + wb), 1 / math.Sqrt(wa+wb)}
}

// isEdgeOf reports whether a run is where another, next to it, begins or ends.
func (r *run) isEdgeOf(o *run) bool {
	return r.last-r.first+1 <= edgeOf && r.lacks < o.lacks && o.last-o.first+1 > edgeOf
}
