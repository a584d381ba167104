package recording

import (
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// mending is a recording on its way from the file. Every step leaves what it doesn't
// understand as it is, and tells what it changed.
type mending struct {
	samples []track.Sample
	// broken says of each sample that nothing is known of the ride just before it.
	broken []bool
	found  findings
	// medianS is the usual time between samples, wideS the one that nine in ten stay
	// below, in seconds.
	medianS, wideS float64
}

// mend puts the samples in order of time, takes out what can't be true, and finds what
// is missing.
func (m *mending) mend() {
	m.measureIntervals()
	m.order()
	m.mergeSameTimes()
	m.measureIntervals()
	m.closeJumps()
	m.keepOneSession()
	m.measureIntervals()
	m.dropAbsurd()
	m.countOn()
	m.dropHeld()
	m.dropStrays()
	m.breakAtGaps()
	m.tellStops()
	m.tellIntervals()
	m.mendPower()
	m.tellMissing()
}

// recording returns what was mended.
func (m *mending) recording() *Recording {
	r := &Recording{StartUnixS: m.samples[0].ClockS, Samples: make([]Sample, len(m.samples)), Notes: m.notes()}
	for i := range m.samples {
		s := &m.samples[i]
		r.Samples[i] = Sample{
			TimeS: s.ClockS - r.StartUnixS, Pos: s.Pos, HasPosition: s.Pos != unplaced,
			DistanceM: s.DistanceM, SpeedMPS: s.SpeedMPS, ElevationM: s.ElevationM,
			PowerW: s.PowerW, CadenceRPM: s.CadenceRPM, Broken: m.broken[i],
		}
	}
	return r
}

// unplaced is the position of a sample that has none.
var unplaced geodesy.Vec

// measureIntervals measures the times between samples that follow each other.
func (m *mending) measureIntervals() {
	var steps []float64
	for i := 1; i < len(m.samples); i++ {
		if dt := m.step(i); dt > 0 {
			steps = append(steps, dt)
		}
	}
	m.medianS, m.wideS = 1, 1
	if len(steps) > 0 {
		slices.Sort(steps)
		m.medianS, m.wideS = steps[len(steps)/2], steps[len(steps)*9/10]
	}
}

// step is the time in seconds from the sample before to sample i.
func (m *mending) step(i int) float64 { return m.samples[i].ClockS - m.samples[i-1].ClockS }

// moved is the way in metres between two samples, by distance or position; NaN where
// neither is known.
func moved(a, b *track.Sample) float64 {
	if d := b.DistanceM - a.DistanceM; d >= 0 {
		return d
	}
	if a.Pos == unplaced || b.Pos == unplaced {
		return math.NaN()
	}
	return geodesy.Chord(a.Pos, b.Pos)
}

// speedAt is the speed in m/s around sample i on one side of it, −1 before or +1 after:
// the one that the device shows, or the way to its neighbour over the time; NaN where
// neither is known.
func (m *mending) speedAt(i, side int) float64 {
	if v := m.samples[i].SpeedMPS; v >= 0 {
		return v
	}
	j := i + side
	if j < 0 || j >= len(m.samples) {
		return math.NaN()
	}
	from, to := min(i, j), max(i, j)
	return moved(&m.samples[from], &m.samples[to]) / (m.samples[to].ClockS - m.samples[from].ClockS)
}
