package course

import "math"

// Elevations that no public road has, in metres: the lowest shore lies at −430 m, the
// highest passes are below 6,100 m (common practice).
const (
	lowestRoadM  = -450.0
	highestRoadM = 6500.0
)

// standsForNone reports whether files write an elevation where they know none: 0, or
// one that no road has.
func standsForNone(z float64) bool { return z == 0 || z < lowestRoadM || z > highestRoadM }

// dropPlaceholders takes out runs of such values that the elevations around jump to and
// from. Zeros that the road comes down to stay.
func (m *mending) dropPlaceholders() {
	count, first, value := 0, 0, 0.0
	n := len(m.z)
	for i := 0; i < n; {
		end := i
		for end < n && standsForNone(m.z[end]) {
			end++
		}
		if end == i {
			i++
			continue
		}
		if (i > 0 || end < n) && (i == 0 || m.leaps(i-1, i)) && (end == n || m.leaps(end-1, end)) {
			if count == 0 {
				first, value = i, m.z[i]
			}
			count += end - i
			m.forget(i, end)
		}
		i = end
	}
	if count > 0 {
		m.tell("elevation-placeholder", m.s[first], "; they were taken for missing and bridged",
			"%s for unknown ones, the first, %g m, here", counted(count, "elevation stands", "elevations stand"), value)
		m.compact()
	}
}

// leaps is a milder form of jumps, for values that are suspect by themselves.
func (m *mending) leaps(i, j int) bool {
	rise := math.Abs(m.z[j] - m.z[i])
	return rise > 2*jumpM && rise > float64(roadGradient*(m.s[j]-m.s[i]))
}
