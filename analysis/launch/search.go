package launch

import (
	"context"
	"math"
)

// scanM is the distance between the launches that are tried first, at most scans of them;
// toM is to how many metres the best of them is refined.
const (
	scanM = 10.0
	scans = 64
	toM   = 0.02
)

// search is the time at the line as a function of where the sprint is launched.
type search struct {
	*follower
	// tried are the launches of the scan as distances from the start of the approach, in
	// order, and times the times at the line.
	tried, times []float64
}

// scan tries launches all along the approach.
func (f *follower) scan(ctx context.Context) (*search, error) {
	s := &search{follower: f}
	latest := f.latestM()
	apart := max(scanM, latest/scans)
	n := int(math.Ceil(latest/apart - 1e-9))
	for k := range n + 1 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at := min(float64(k)*apart, latest)
		s.tried, s.times = append(s.tried, at), append(s.times, s.time(at))
	}
	return s, nil
}

// time returns the time at the line, +Inf where the rider doesn't get there.
func (s *search) time(fromStartM float64) float64 {
	t := s.sprint(fromStartM, nil).timeS
	if math.IsNaN(t) {
		return math.Inf(1)
	}
	return t
}

// closeS is how much a launch of the scan may be worse than the best of them and still be
// refined: far more than the time changes between two of them beside a minimum.
const closeS = 0.03

// least returns the launch with the least time at the line, and that time: +Inf where no
// launch gets there. Every least
// launch of the scan that is nearly as good as the best is refined, so that a second
// minimum isn't overlooked. Of equal launches the last one stands.
func (s *search) least() (fromStartM, timeS float64) {
	least := math.Inf(1)
	for _, t := range s.times {
		least = min(least, t)
	}
	timeS = math.Inf(1)
	for i, t := range s.times {
		low, high := max(i-1, 0), min(i+1, len(s.times)-1)
		if t > least+closeS || t > s.times[low] || t > s.times[high] {
			continue
		}
		if at, t := s.refined(s.tried[low], s.tried[high]); t <= timeS {
			fromStartM, timeS = at, t
		}
	}
	return fromStartM, timeS
}

// refined returns the least time between two launches, by golden section and at the ends.
func (s *search) refined(low, high float64) (fromStartM, timeS float64) {
	const inside = 0.6180339887498949
	first, last := low, high
	a, b := high-float64(inside*(high-low)), low+float64(inside*(high-low))
	ta, tb := s.time(a), s.time(b)
	for high-low > toM {
		if ta < tb {
			high, b, tb = b, a, ta
			a = high - float64(inside*(high-low))
			ta = s.time(a)
		} else {
			low, a, ta = a, b, tb
			b = low + float64(inside*(high-low))
			tb = s.time(b)
		}
	}
	fromStartM = (low + high) / 2
	timeS = s.time(fromStartM)
	for _, end := range []float64{first, last} {
		if t := s.time(end); t <= timeS {
			fromStartM, timeS = end, t
		}
	}
	return fromStartM, timeS
}

// flat returns the launches around the best up to which it costs FlatS.
func (s *search) flat(best, timeS float64) (first, last float64) {
	first, last = s.tried[0], s.tried[len(s.tried)-1]
	inside := best
	for i := len(s.tried) - 1; i >= 0; i-- {
		if s.tried[i] > best {
			continue
		}
		if s.times[i] > timeS+FlatS {
			first = s.crossing(inside, s.tried[i], timeS+FlatS)
			break
		}
		inside = s.tried[i]
	}
	inside = best
	for i, at := range s.tried {
		if at < best {
			continue
		}
		if s.times[i] > timeS+FlatS {
			last = s.crossing(inside, at, timeS+FlatS)
			break
		}
		inside = at
	}
	return first, last
}

// crossing returns the launch between one inside and one outside a bound on the time at
// which it is met.
func (s *search) crossing(inside, outside, bound float64) float64 {
	for math.Abs(outside-inside) > toM {
		if mid := float64((inside + outside) / 2); s.time(mid) <= bound {
			inside = mid
		} else {
			outside = mid
		}
	}
	return inside
}
