package course

// An altimeter that stands still repeats its value, over frozenM and frozenSamples or
// more, and jumps to the true one when it wakes. Amid scatter of frozenNoiseM equal
// values show it by themselves.
const (
	frozenM       = 200.0
	frozenSamples = 10
	frozenNoiseM  = 0.05
)

// thaw takes out all but one of the values that an altimeter repeated, so that the line
// goes straight from the last true one to the next.
func (m *mending) thaw() {
	first, length := -1.0, 0.0
	n := len(m.z)
	for i := 0; i < n; {
		end := m.runEnd(i)
		if m.s[end-1]-m.s[i] >= frozenM && end-i >= frozenSamples && m.frozen(i, end) {
			if first < 0 {
				first = m.s[i]
			}
			length += m.s[end-1] - m.s[i]
		}
		i = end
	}
	if first >= 0 {
		m.compact()
		m.tell("elevation-frozen", first, "; where it jumps afterwards the stretch was bridged", "the elevation stands still over %.0f m in all, first here, as of an altimeter that stopped", length)
	}
}

// frozen reports whether the run of equal elevations from i up to end is an altimeter's
// that stood still, and forgets what a road can bridge.
func (m *mending) frozen(i, end int) bool {
	into := i > 0 && m.jumps(i-1, i, m.jump)
	outOf := end < len(m.z) && m.jumps(end-1, end, m.jump)
	switch {
	case into && outOf && m.isRoad(i-1, end):
		m.forget(i, end)
	case outOf && !into && m.isRoad(i, end):
		m.forget(i+1, end)
	case into && !outOf && m.isRoad(i-1, end-1):
		m.forget(i, end-1)
	default:
		return m.step == 0 && m.noise >= frozenNoiseM
	}
	return true
}

// isRoad reports whether a road may go straight from sample i to j.
func (m *mending) isRoad(i, j int) bool {
	g := m.gradient(i, j)
	return -roadGradient <= g && g <= roadGradient
}
