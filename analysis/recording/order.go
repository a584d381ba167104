package recording

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// orderBudget bounds the samples looked at to put a recording in order, as a multiple of
// all, mostSetBack how often its clock was set back; one that needs more is sorted by its
// times.
const (
	orderBudget = 8
	mostSetBack = 50
)

// order puts the samples in order of time. Where times fall back, either the clock was
// set back and the order of the file is right, or the samples stand in the wrong order
// and their times are right: of the two it is the order in which the way is shorter.
func (m *mending) order() {
	if m.descents() > len(m.samples)/2 {
		slices.Reverse(m.samples)
		m.found.at("reversed", m.samples[0].ClockS, 0, func(*finding) string {
			return "The samples stand in the file from the last to the first; they were turned round."
		})
	}
	budget, left := orderBudget*len(m.samples), mostSetBack
	for i := 1; i < len(m.samples); i++ {
		if m.step(i) >= 0 {
			continue
		}
		from, to := m.overlap(i)
		if budget -= to - from; budget < 0 || left == 0 {
			m.sort(i, 0, len(m.samples))
			return
		}
		if m.setBack(from, to) {
			m.resumeClock(i)
			left--
		} else {
			m.sort(i, from, to)
		}
	}
}

// descents counts how often the time falls back.
func (m *mending) descents() int {
	n := 0
	for i := 1; i < len(m.samples); i++ {
		if m.step(i) < 0 {
			n++
		}
	}
	return n
}

// overlap returns the samples [from, to) whose times lie over each other where the time
// falls back at sample i, up to which they are in order.
func (m *mending) overlap(i int) (from, to int) {
	from = sort.Search(i, func(k int) bool { return m.samples[k].ClockS > m.samples[i].ClockS })
	to = i + 1
	for to < len(m.samples) && m.samples[to].ClockS <= m.samples[i-1].ClockS {
		to++
	}
	return from, to
}

// setBack reports whether the clock was set back among samples [from, to), whose times
// fall back once: the way through them is no longer in the order of the file than in that of their times.
func (m *mending) setBack(from, to int) bool {
	from, to = max(from-1, 0), min(to+1, len(m.samples))
	sorted := slices.Clone(m.samples[from:to])
	sortByTime(sorted)
	asFiled, byTime := way(m.samples[from:to]), way(sorted)
	return asFiled <= byTime && (asFiled > 0 || to-from > 4)
}

// way is the length in metres of the way through samples in their order.
func way(samples []track.Sample) float64 {
	sum := 0.0
	for i := 1; i < len(samples); i++ {
		a, b := &samples[i-1], &samples[i]
		switch {
		case a.Pos != unplaced && b.Pos != unplaced:
			sum += geodesy.Chord(a.Pos, b.Pos)
		case b.DistanceM >= a.DistanceM:
			sum += b.DistanceM - a.DistanceM
		case b.DistanceM < a.DistanceM:
			sum += a.DistanceM - b.DistanceM
		}
	}
	return sum
}

func sortByTime(samples []track.Sample) {
	slices.SortStableFunc(samples, func(a, b track.Sample) int { return cmp.Compare(a.ClockS, b.ClockS) })
}

// resumeClock lets the time go on from sample i as if the clock had not been set back.
func (m *mending) resumeClock(i int) {
	back := -m.step(i)
	m.shift(i, back+m.medianS)
	m.found.at("clock-set-back", m.samples[i].ClockS, back, func(f *finding) string {
		return fmt.Sprintf("The device's clock was set back %s, by %.0f s in all, while the ride went on; times after it are counted on.", times(f.count), f.seconds)
	})
}

// shift adds seconds to the times from sample i on.
func (m *mending) shift(i int, seconds float64) {
	for k := i; k < len(m.samples); k++ {
		m.samples[k].ClockS += seconds
	}
}

// sort sorts samples [from, to), the first of which in the wrong place is i.
func (m *mending) sort(i, from, to int) {
	f := m.found.at("unsorted", m.samples[i].ClockS, 0, func(f *finding) string {
		return fmt.Sprintf("%s stood in the wrong order and %s sorted by time.", counted(f.count, "sample"), were(f.count))
	})
	f.count += to - i - 1
	sortByTime(m.samples[from:to])
}

// sameTimeS is the time in seconds within which two samples are of the same moment.
const sameTimeS = 0.01

// mergeSameTimes makes one sample of several of the same moment: the first, with what
// only later ones have.
func (m *mending) mergeSameTimes() {
	kept := m.samples[:1]
	for _, s := range m.samples[1:] {
		last := &kept[len(kept)-1]
		if s.ClockS-last.ClockS > sameTimeS {
			kept = append(kept, s)
			continue
		}
		m.found.at("same-time", s.ClockS, 0, func(f *finding) string {
			return fmt.Sprintf("%s had the time of the sample before and %s left out.", counted(f.count, "sample"), were(f.count))
		})
		fill(last, &s)
	}
	m.samples = kept
}

// fill gives a sample what it lacks and another has.
func fill(s, from *track.Sample) {
	for _, f := range [][2]*float64{
		{&s.ElevationM, &from.ElevationM},
		{&s.DistanceM, &from.DistanceM},
		{&s.SpeedMPS, &from.SpeedMPS},
		{&s.PowerW, &from.PowerW},
		{&s.CadenceRPM, &from.CadenceRPM},
	} {
		if math.IsNaN(*f[0]) {
			*f[0] = *f[1]
		}
	}
	if s.Pos == unplaced {
		s.Pos = from.Pos
	}
}

// times says how often.
func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
