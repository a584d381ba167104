package course

import (
	"math"
	"slices"
)

const (
	// stepReach is the number of samples on either side of a step that tell its height,
	// stepLeast the fewest that make a level.
	stepReach = 10
	stepLeast = 3
	// There are at most maxSteps of them, and one in stepEveryM: more are no steps of a
	// level, but elevations that are not worth mending.
	maxSteps   = 20
	stepEveryM = 500.0
	// maxStepWarnings bounds how many steps are told one by one.
	maxStepWarnings = 5
)

// levelSteps takes out jumps of the level that do not come back, by moving what lies
// beyond: a road has none, so their height is not climbed. The longest stretch between
// steps keeps its level.
func (m *mending) levelSteps() {
	levels := m.levels()
	if len(levels) < 2 {
		return
	}
	if steps := len(levels) - 1; steps > maxSteps || float64(steps) > 1+(m.s[len(m.s)-1]-m.s[0])/stepEveryM {
		m.q.warn("elevation-step", m.s[levels[1][0]], "the elevation jumps at %d places, the first of them here: too many to mend", steps)
		return
	}
	offset := m.offsets(levels)
	if last := len(m.z) - 1; m.closed && math.Abs(m.z[last]-m.z[0]-offset[len(levels)-1]) > math.Abs(m.z[last]-m.z[0])+m.jump {
		m.q.warn("elevation-step", m.s[levels[1][0]], "the elevation jumps by %+.1f m between two points, but comes back to where it started: it was left", offset[1])
		return
	}
	longest := 0
	for k := 1; k < len(levels); k++ {
		height, at := offset[k]-offset[k-1], m.s[levels[k][0]]
		if m.lengthOf(levels[k]) > m.lengthOf(levels[longest]) {
			longest = k
		}
		if k <= maxStepWarnings {
			m.tell("elevation-step", at, "; the shorter side was moved by as much, and the ascent leaves it out", "the level of the elevations jumps by %+.1f m between two points", height)
		}
	}
	kept := 0
	for k, level := range levels {
		for i := level[0]; i < level[1]; i++ {
			m.s[kept], m.z[kept] = m.s[i], m.z[i]-(offset[k]-offset[longest])
			kept++
		}
	}
	m.s, m.z = m.s[:kept], m.z[:kept]
}

// offsets returns by how much each level lies above the first.
func (m *mending) offsets(levels [][2]int) []float64 {
	offset := make([]float64, len(levels))
	for k := 1; k < len(levels); k++ {
		offset[k] = offset[k-1] + m.stepHeight(levels[k-1], levels[k])
	}
	return offset
}

func (m *mending) lengthOf(level [2]int) float64 { return m.s[level[1]-1] - m.s[level[0]] }

// levels returns the stretches between jumps, as the index of their first sample and
// that after their last, without those too short to be a level.
func (m *mending) levels() [][2]int {
	var levels [][2]int
	first := 0
	for i := 1; i <= len(m.z); i++ {
		if i < len(m.z) && !m.jumps(i-1, i, m.jump) {
			continue
		}
		level := [2]int{first, i}
		first = i
		k := len(levels) - 1
		switch {
		case level[1]-level[0] < stepLeast:
		case k >= 0 && !m.parted(levels[k], level):
			levels[k][1] = level[1]
		default:
			levels = append(levels, level)
		}
	}
	return levels
}

// parted reports whether the samples next to the jump between two levels lie apart by
// half a jump or more: not so where a gust only shook the altimeter.
func (m *mending) parted(a, b [2]int) bool {
	before, after := m.z[a[1]-stepLeast:a[1]], m.z[b[0]:b[0]+stepLeast]
	return slices.Min(after)-slices.Max(before) >= m.jump/2 || slices.Min(before)-slices.Max(after) >= m.jump/2
}

// stepHeight returns by how much level b lies above level a where they meet: the
// difference of two lines of one slope, fitted by least squares to the samples on
// either side. It is no more than the jump itself, give or take the noise: where samples
// are far apart the ground bends within the reach of the fit.
func (m *mending) stepHeight(a, b [2]int) float64 {
	jump := m.z[b[0]] - m.z[a[1]-1]
	a[0], b[1] = max(a[0], a[1]-stepReach), min(b[1], b[0]+stepReach)
	sa, za := m.means(a)
	sb, zb := m.means(b)
	var product, square float64
	for _, side := range [][2]int{a, b} {
		s, z := m.means(side)
		for i := side[0]; i < side[1]; i++ {
			product += float64((m.s[i] - s) * (m.z[i] - z))
			square += float64((m.s[i] - s) * (m.s[i] - s))
		}
	}
	slope := math.Max(-roadGradient, math.Min(product/square, roadGradient))
	height := zb - za - float64(slope*(sb-sa))
	slack := float64(3 * m.noise)
	return max(min(height, max(jump, 0)+slack), min(jump, 0)-slack)
}

// means returns the mean distance and elevation of a range of samples.
func (m *mending) means(r [2]int) (s, z float64) {
	for i := r[0]; i < r[1]; i++ {
		s, z = s+m.s[i], z+m.z[i]
	}
	n := float64(r[1] - r[0])
	return s / n, z / n
}
