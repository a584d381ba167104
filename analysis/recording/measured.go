package recording

import (
	"fmt"
	"math"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

const (
	// highestMPS is a speed in m/s that nobody reaches on a bicycle on a road, 126 km/h.
	highestMPS = 35.0
	// highestRPM bounds the cadence.
	highestRPM = 250.0
	// highestElevationM is above every road.
	highestElevationM = 6500.0
	lowestElevationM  = -500.0
	// elevationStepM is a step of elevation, there and back from one sample to the next,
	// that no road has.
	elevationStepM = 20.0
)

// dropAbsurd takes out what can't have been measured.
func (m *mending) dropAbsurd() {
	for i := range m.samples {
		s := &m.samples[i]
		m.bound(s, &s.SpeedMPS, 0, highestMPS, "speed", "m/s")
		m.bound(s, &s.ElevationM, lowestElevationM, highestElevationM, "elevation", "m")
		m.bound(s, &s.CadenceRPM, 0, highestRPM, "cadence", "turns a minute")
		if i > 0 && i+1 < len(m.samples) {
			m.dropElevationSpike(i)
		}
	}
}

// bound takes a value out that is not within bounds.
func (m *mending) bound(s *track.Sample, value *float64, low, high float64, what, unit string) {
	v := *value
	if !(v < low || v > high) { // or NaN
		return
	}
	*value = math.NaN()
	first := fmt.Sprintf("%.0f %s", v, unit)
	m.found.at(what+"-out-of-range", s.ClockS, 0, func(f *finding) string {
		return fmt.Sprintf("%s of %s beyond %g to %g %s, the first %s, %s left out.", counted(f.count, "value"), what, low, high, unit, first, were(f.count))
	})
}

// dropElevationSpike takes the elevation of sample i out where it is far off both
// neighbours on the same side.
func (m *mending) dropElevationSpike(i int) {
	s := &m.samples[i]
	before, after := s.ElevationM-m.samples[i-1].ElevationM, s.ElevationM-m.samples[i+1].ElevationM
	if min(before, after) < elevationStepM && max(before, after) > -elevationStepM || math.IsNaN(before) || math.IsNaN(after) {
		return
	}
	s.ElevationM = math.NaN()
	m.found.at("elevation-spike", s.ClockS, 0, func(f *finding) string {
		return fmt.Sprintf("%s of elevation that jumped by %.0f m and more and back %s left out.", counted(f.count, "value"), elevationStepM, were(f.count))
	})
}

// countOn lets the count of distance go on where it starts anew, and takes out what
// falls back.
func (m *mending) countOn() {
	const restartedM = 100.0 // as in reading courses
	const roundingM = 1e-6
	before, last := 0.0, math.NaN()
	lastS := math.NaN() // when that was
	for i := range m.samples {
		s := &m.samples[i]
		d := s.DistanceM
		if way := before + d - last; way > restartedM+float64(strayMPS*(s.ClockS-lastS)) {
			m.found.at("distance-leaps", s.ClockS, 0, func(f *finding) string {
				return fmt.Sprintf("The count of distance leaps %s farther than anybody rides in the time; the leap was left out.", times(f.count))
			})
			if i+1 < len(m.samples) && m.samples[i+1].DistanceM < d { // and falls back
				s.DistanceM = math.NaN()
				continue
			}
			before = last - d
			s.DistanceM, lastS = last, s.ClockS
			continue
		}
		switch {
		case math.IsNaN(d):
			continue
		case d < 0:
			s.DistanceM = math.NaN()
		case last-before > 2*restartedM && d < restartedM:
			m.found.at("distance-restarted", s.ClockS, 0, func(f *finding) string {
				return fmt.Sprintf("The count of distance starts anew %s; it was counted on.", times(f.count))
			})
			before = last
			s.DistanceM = before + d
		case before+d < last-roundingM:
			m.found.at("distance-falls-back", s.ClockS, 0, func(f *finding) string {
				return fmt.Sprintf("%s of distance that fall back %s left out.", counted(f.count, "value"), were(f.count))
			})
			s.DistanceM = math.NaN()
		default:
			s.DistanceM = before + d
			if s.DistanceM < last {
				s.DistanceM = last
			}
		}
		if !math.IsNaN(s.DistanceM) {
			last, lastS = s.DistanceM, s.ClockS
		}
	}
}

// strayMPS is the speed in m/s above which a position is not where the rider was.
const strayMPS = 45.0

// dropStrays takes positions out that nobody gets to, and back from, in the time.
func (m *mending) dropStrays() {
	last, kept := -1, 0 // with a position
	for i := range m.samples {
		s := &m.samples[i]
		if s.Pos == unplaced {
			continue
		}
		if last >= 0 && m.tooFast(last, i) {
			if kept > 1 || !m.goesOn(i) {
				m.stray(s)
				continue
			}
			m.stray(&m.samples[last]) // the first of all
			kept = 0
		}
		last = i
		kept++
	}
}

// tooFast reports whether nobody gets from sample i to j in the time.
func (m *mending) tooFast(i, j int) bool {
	a, b := &m.samples[i], &m.samples[j]
	const noise = 20.0 // m, of receivers at their worst
	return geodesy.Chord(a.Pos, b.Pos) > noise+float64(strayMPS*(b.ClockS-a.ClockS))
}

// goesOn reports whether the next position is one that can be reached from sample i.
func (m *mending) goesOn(i int) bool {
	next := i + 1
	for next < len(m.samples) && m.samples[next].Pos == unplaced {
		next++
	}
	return next < len(m.samples) && !m.tooFast(i, next)
}

func (m *mending) stray(s *track.Sample) {
	s.Pos = unplaced
	m.found.at("position-stray", s.ClockS, 0, func(f *finding) string {
		return fmt.Sprintf("%s too far off for the time between samples %s left out.", counted(f.count, "position"), were(f.count))
	})
}

// dropHeld takes positions out that a receiver without reception held while the ride
// went on: the same three times or more, followed by a leap.
func (m *mending) dropHeld() {
	const least, leapM = 3, 15.0
	start := 0
	for i := 1; i < len(m.samples); i++ {
		if m.samples[i].Pos == m.samples[start].Pos && m.samples[i].Pos != unplaced {
			continue
		}
		if i-start >= least && m.samples[i].Pos != unplaced && m.samples[start].Pos != unplaced {
			leap := geodesy.Chord(m.samples[i].Pos, m.samples[start].Pos)
			if leap > max(leapM, 2*highestMPS*m.step(i)/3) || m.rode(start, i) && leap > leapM {
				m.holdOut(start+1, i)
			}
		}
		start = i
	}
}

// rode reports whether the device's speed shows a ride over all of samples (from, to).
func (m *mending) rode(from, to int) bool {
	for i := from + 1; i < to; i++ {
		if !(m.samples[i].SpeedMPS > standingMPS) {
			return false
		}
	}
	return true
}

// holdOut takes the positions of samples [from, to) out.
func (m *mending) holdOut(from, to int) {
	seconds := m.samples[to].ClockS - m.samples[from-1].ClockS
	f := m.found.at("position-held", m.samples[from].ClockS, seconds, func(f *finding) string {
		return fmt.Sprintf("The position stood still for %.0f s while the ride went on, as without reception; %s %s left out.", f.seconds, counted(f.count, "position"), were(f.count))
	})
	f.count += to - from - 1
	for i := from; i < to; i++ {
		m.samples[i].Pos = unplaced
	}
}

// tellMissing tells of positions and power that some samples have and others lack.
func (m *mending) tellMissing() {
	m.tellLack("position-missing", "position", func(s *track.Sample) bool { return s.Pos != unplaced })
	m.tellLack("power-missing", "power", func(s *track.Sample) bool { return !math.IsNaN(s.PowerW) })
}

func (m *mending) tellLack(code, what string, has func(*track.Sample) bool) {
	lack, first := 0, math.NaN()
	for i := range m.samples {
		if s := &m.samples[i]; !has(s) {
			if lack++; lack == 1 {
				first = s.ClockS
			}
		}
	}
	n := len(m.samples)
	if lack == 0 || lack == n {
		return
	}
	m.found = append(m.found, &finding{code: code, clockS: first, count: lack, detail: fmt.Sprintf(
		"%d of %d samples (%.1f %%) have no %s.", lack, n, 100*float64(lack)/float64(n), what)})
}
