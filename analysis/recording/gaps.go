package recording

import (
	"fmt"
	"math"
)

const (
	// rollingMPS is a speed at which nobody pauses a device: its own pause sets in and
	// ends below it.
	rollingMPS = 4.0
	// sessionS is the time in seconds without a sample after which another ride starts.
	sessionS = 6 * 3600.0
	// standingMPS is the mean speed below which a rider stood.
	standingMPS = 1.0
)

// closeJumps takes out of the times what the clock was set ahead while the ride went on:
// the rider rolls before and after, and got as far as in the usual time between samples.
func (m *mending) closeJumps() {
	ahead := make([]float64, len(m.samples)) // of the clock, at each sample
	for i := 1; i < len(m.samples); i++ {
		ahead[i] = ahead[i-1]
		dt := m.step(i)
		if dt <= 3*m.wideS || !m.rolledOn(i, dt) {
			continue
		}
		ahead[i] += dt - m.medianS
		m.found.at("clock-set-ahead", m.samples[i].ClockS-ahead[i], dt-m.medianS, func(f *finding) string {
			return fmt.Sprintf("The device's clock was set ahead %s, by %.0f s in all, while the ride went on; that time was taken out.", times(f.count), f.seconds)
		})
	}
	for i := range m.samples {
		m.samples[i].ClockS -= ahead[i]
	}
}

// rolledOn reports whether the way to sample i is that of the usual time between samples
// at the speed before and after it, and far from that of dt seconds.
func (m *mending) rolledOn(i int, dt float64) bool {
	slower, faster := m.speedsAround(i)
	way := moved(&m.samples[i-1], &m.samples[i])
	usual := float64(faster * m.medianS)
	return slower > rollingMPS && way > usual/3 && way < 2*usual && way < slower*dt/2
}

// speedsAround returns the lowest speed of some samples before sample i and from it on, and
// the highest of the two beside each other.
func (m *mending) speedsAround(i int) (slower, faster float64) {
	const samples = 3
	slower, faster = math.Inf(1), max(m.speedAt(i-1, -1), m.speedAt(i, +1))
	for k := range samples {
		slower = min(slower, m.speedAt(max(i-1-k, 0), -1), m.speedAt(min(i+k, len(m.samples)-1), +1))
	}
	return slower, faster
}

// keepOneSession keeps the longest of several rides in one file.
func (m *mending) keepOneSession() {
	start, best, bestStart, sessions := 0, 0, 0, 1
	for i := 1; i <= len(m.samples); i++ {
		if i < len(m.samples) && m.step(i) < sessionS {
			continue
		}
		if i-start > best {
			best, bestStart = i-start, start
		}
		if i < len(m.samples) {
			start = i
			sessions++
		}
	}
	if sessions == 1 {
		return
	}
	f := m.found.at("several-rides", math.NaN(), 0, nil)
	f.count = sessions
	f.detail = fmt.Sprintf("The file holds %d rides with hours between them; the longest, of %d samples, was read and %d samples were left out.",
		sessions, best, len(m.samples)-best)
	m.samples = m.samples[bestStart : bestStart+best]
}

// The time in seconds from which on a time without samples is a gap: four times what
// nine in ten intervals stay below, within these.
const (
	leastGapS = 5.0
	mostGapS  = 60.0
)

// breakAtGaps finds where the device was paused or samples are missing.
func (m *mending) breakAtGaps() {
	m.broken = make([]bool, len(m.samples))
	gap := min(max(4*m.wideS, leastGapS), mostGapS)
	for i := 1; i < len(m.samples); i++ {
		dt, begins := m.step(i), m.samples[i].Begins
		if dt < gap && !(begins && dt > 2*m.wideS) {
			continue
		}
		m.broken[i] = true
		if way := moved(&m.samples[i-1], &m.samples[i]); way < standingMPS*dt {
			m.found.at("paused", m.samples[i-1].ClockS, dt, func(f *finding) string {
				return fmt.Sprintf("The recording was paused %s while the rider stood, for %.0f s in all, which count as time.", times(f.count), f.seconds)
			})
			continue
		}
		m.found.at("samples-dropped", m.samples[i-1].ClockS, dt, func(f *finding) string {
			return fmt.Sprintf("Samples are missing in %s, of %.0f s in all, over which nothing is known of the ride.", counted(f.count, "place"), f.seconds)
		})
	}
}

// leastStopS is the shortest stop that is told, in seconds.
const leastStopS = 5.0

// tellStops tells of the times that the rider stood while the device went on.
func (m *mending) tellStops() {
	for i := 1; i < len(m.samples); {
		end := i
		for end < len(m.samples) && !m.broken[end] && m.standsAt(end) {
			end++
		}
		if end > i {
			since, until := m.samples[i-1].ClockS, m.samples[end-1].ClockS
			if until-since >= leastStopS {
				m.found.at("stops", since, until-since, func(f *finding) string {
					return fmt.Sprintf("The rider stood %s, for %.0f s in all.", times(f.count), f.seconds)
				})
			}
		}
		i = end + 1
	}
}

// standsAt reports whether the rider stood still up to sample i.
func (m *mending) standsAt(i int) bool {
	const still = 0.3 // m/s
	if v := m.samples[i].SpeedMPS; v >= 0 {
		return v < still
	}
	return moved(&m.samples[i-1], &m.samples[i]) < still*m.step(i)
}

// tellIntervals tells of a device that leaves out samples where little changes.
func (m *mending) tellIntervals() {
	const irregular, leastS = 1.5, 2.0
	if m.wideS < leastS || m.wideS < irregular*m.medianS {
		return
	}
	m.found = append(m.found, &finding{code: "irregular-intervals", clockS: math.NaN(), count: len(m.samples), detail: fmt.Sprintf(
		"The device recorded at irregular intervals, half of them longer than %.0f s and a tenth longer than %.0f s; short efforts are blurred.", m.medianS, m.wideS)})
}
