package ride

import (
	"math"
	"sort"
)

// Span is a stretch of the road that a time is wanted for, or a point where StartM =
// EndM. Of, ID and Pass are the caller's names for it; points of the same Of and ID are
// passes of one place.
type Span struct {
	Of, ID       string
	Pass         int
	StartM, EndM float64
}

// Split is how a span was ridden.
type Split struct {
	Span
	// TimeS is the time on the span; for a point the time since the place was passed
	// before, or since the start.
	TimeS float64
	// ClockS is the time since the start at EndM.
	ClockS float64
	// MeanSpeedMps is the horizontal distance over TimeS, MeanPowerW the work over it,
	// both over the stretch that TimeS covers; 0 where that is nothing.
	MeanSpeedMps, MeanPowerW float64
	// ClimbingRateMPerH is the difference of elevation over the time, in m/h; 0 for
	// points and without elevation.
	ClimbingRateMPerH float64
}

func validateSpans(spans []Span, length float64) error {
	for _, s := range spans {
		if !(s.StartM >= -tinyM && s.StartM <= s.EndM && s.EndM <= length+tinyM) {
			return invalid("a span from %v m to %v m isn't on a road of %v m", s.StartM, s.EndM, length)
		}
	}
	return nil
}

// splits answers the spans from the samples.
func (r *record) splits(spans []Span) []Split {
	splits := make([]Split, len(spans))
	for i, s := range spans {
		splits[i].Span = s
	}
	for i, from := range starts(splits) {
		splits[i] = r.split(spans[i], from)
	}
	return splits
}

// starts returns the positions from which the splits' times run.
func starts(splits []Split) []float64 {
	type place struct{ of, id string }
	passed := map[place]float64{}
	from := make([]float64, len(splits))
	for _, i := range byEnd(splits) {
		s := &splits[i]
		from[i] = s.StartM
		if s.StartM == s.EndM {
			key := place{s.Of, s.ID}
			from[i] = passed[key]
			passed[key] = s.EndM
		}
	}
	return from
}

// byEnd returns the indices of the splits in the order of their ends.
func byEnd(splits []Split) []int {
	order := make([]int, len(splits))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return splits[order[a]].EndM < splits[order[b]].EndM })
	return order
}

// split measures a span from a position on.
func (r *record) split(s Span, from float64) Split {
	t := &r.trace
	first, last := t.sampleAt(from), t.sampleAt(s.EndM)
	if s.EndM > s.StartM {
		first = t.departure(first)
	}
	split := Split{Span: s, TimeS: t.TimeS[last] - t.TimeS[first], ClockS: t.TimeS[last]}
	if split.TimeS <= 0 {
		return split
	}
	split.MeanSpeedMps = (t.DistanceM[last] - t.DistanceM[first]) / split.TimeS
	split.MeanPowerW = (r.workJ[last] - r.workJ[first]) / split.TimeS
	if s.EndM > s.StartM {
		c := r.road.course
		split.ClimbingRateMPerH = (c.ElevationAt(s.EndM) - c.ElevationAt(s.StartM)) / split.TimeS * 3600
	}
	return split
}

// departure returns the index of the last sample at the place of one: where the rider
// leaves it after a stop.
func (t *Trace) departure(i int) int {
	for i+1 < len(t.DistanceM) && t.DistanceM[i+1] == t.DistanceM[i] {
		i++
	}
	return i
}

// sampleAt returns the index of the sample nearest to a position, the first of several.
func (t *Trace) sampleAt(at float64) int {
	d := t.DistanceM
	i := sort.SearchFloat64s(d, at)
	if i == len(d) || (i > 0 && math.Abs(d[i-1]-at) < math.Abs(d[i]-at)) {
		i--
	}
	for i > 0 && d[i-1] == d[i] {
		i--
	}
	return i
}
