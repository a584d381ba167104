package ride

import "math"

// meet shortens a step that would pass the coasting speed, or the limit, to the place
// where it meets it.
func (m *motion) meet(from *start, h float64, l leg) (float64, leg) {
	if (m.kinetic < m.coast && l.energy > m.coast) || (m.kinetic > m.coast && l.energy < m.coast) {
		h, l = m.shorten(from, h, l, func(float64) float64 { return m.coast })
	}
	limit := m.limit(m.at + h)
	if l.energy <= limit {
		return h, l
	}
	if m.kinetic < m.limit(m.at)*(1-limitMargin) {
		return m.shorten(from, h, l, func(x float64) float64 { return m.limit(m.at + x) })
	}
	// It left the limit downwards and came back within the step: ride only a part of it.
	for h > leastSampleM && l.energy > limit {
		h = float64(h / 2)
		l, limit = m.run(from, h), m.limit(m.at+h)
	}
	if l.energy <= limit {
		return h, l
	}
	m.account.BrakingJ += l.energy - limit
	l.energy = limit
	return h, l
}

// shorten finds the step after which the energy is on a line, by regula falsi in the
// Illinois form. The line is crossed once between 0 and h.
func (m *motion) shorten(from *start, h float64, l leg, line func(x float64) float64) (float64, leg) {
	low, high := 0.0, h
	atLow, atHigh := m.kinetic-line(0), l.energy-line(h)
	kept := 0 // the end that stayed last time: −1 low, 1 high
	for range 60 {
		x := low + (high-low)*atLow/(atLow-atHigh)
		if !(x > low && x < high) {
			break
		}
		next := m.run(from, x)
		off := next.energy - line(x)
		h, l = x, next
		if math.Abs(off) <= limitMargin*l.energy {
			break
		}
		if (off > 0) == (atHigh > 0) {
			high, atHigh = x, off
			if kept == -1 {
				atLow /= 2
			}
			kept = -1
		} else {
			low, atLow = x, off
			if kept == 1 {
				atHigh /= 2
			}
			kept = 1
		}
	}
	l.energy = line(h)
	return h, l
}
