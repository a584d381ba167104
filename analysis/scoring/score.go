package scoring

import "math"

// score is a Score of a race whose number of lines is known: from is noLine where only line
// counts.
type score struct {
	from, line int
	points     []float64
}

const noLine = -1

// newScore resolves a score in a race with a number of lines.
func newScore(s Score, lines int) (score, *Error) {
	if err := checkPoints(s.Points); err != nil {
		return score{}, err
	}
	resolved := score{from: noLine, line: s.Line, points: s.Points}
	switch s.Kind {
	case ByOrder:
	case ByFinish:
		resolved.line = lines - 1
	case ByTime:
		resolved.from = s.From
		if s.From < 0 || s.From >= lines {
			return score{}, wrong(CodeNoSuchLine, "a section starts at line %d of %d", s.From+1, lines)
		}
		if s.From >= s.Line {
			return score{}, wrong(CodeBackwardSection, "a section starts at line %d and ends at line %d", s.From+1, s.Line+1)
		}
	default:
		return score{}, wrong(CodeUnknownScore, "nothing is scored by %q", s.Kind)
	}
	if resolved.line < 0 || resolved.line >= lines {
		return score{}, wrong(CodeNoSuchLine, "line %d of %d is scored", resolved.line+1, lines)
	}
	return resolved, nil
}

func checkPoints(points []float64) *Error {
	if len(points) > MostPlaces {
		return wrong(CodeTooManyPlaces, "%d places have points, at most %d may", len(points), MostPlaces)
	}
	for i, p := range points {
		if math.IsNaN(p) || math.IsInf(p, 0) {
			return wrong(CodeInvalid, "place %d has %v points", i+1, p)
		}
	}
	return nil
}

// mean returns the mean points of the places from first up to but not including next, 0 the
// first place.
func (s *score) mean(first, next int) float64 {
	sum := 0.0
	for place := first; place < min(next, len(s.points)); place++ {
		sum += s.points[place]
	}
	return sum / float64(next-first)
}
