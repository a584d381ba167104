package course

import (
	"math"
	"slices"
)

// Spikes: runs of samples between two jumps are taken out where the line then goes on
// within roadGradient, single samples where they are off the line between their
// neighbours.
const (
	// longestJumpM is how far apart the two jumps may be. Beyond, the shape between
	// them is worth more than the step.
	longestJumpM = 600.0
	// longestJump bounds the same in samples, and with it the work.
	longestJump = 1000
	// awayShare is the share of the jump by which all samples of the run are off the
	// line that joins its neighbours.
	awayShare = 0.3
	// outlierScales is how many local scales a single sample may be off the line
	// between its neighbours.
	outlierScales = 7.0
	// edgeShare is how much of a sample's departure the next one's is at a step.
	edgeShare = 0.7
	// outlierRounds is how often single samples are looked for: one may hide another.
	outlierRounds = 5
	// scaleReach is the number of samples on either side that set the local scale.
	scaleReach = 10
)

// dropSpikes takes out runs between two jumps, samples that a jump parts from the ends
// of the line, and single samples off the line.
func (m *mending) dropSpikes() {
	m.firstSpike = math.Inf(1)
	m.dropRuns()
	m.compact()
	m.dropEnds()
	m.dropOutliers()
}

// dropOutliers takes out single samples off the line between their neighbours.
func (m *mending) dropOutliers() {
	for range outlierRounds {
		before := m.spikes
		m.dropLargest()
		if m.spikes == before {
			return
		}
		m.compact()
	}
}

// tellSpikes warns of what was taken out.
func (m *mending) tellSpikes() {
	if m.spikes == 0 {
		return
	}
	code := "spikes-repaired"
	if m.left {
		code = "elevation-spikes"
	}
	m.tell(code, m.firstSpike, "; the line between their neighbours replaces them", "%s out from the line, the first of them here", counted(m.spikes, "elevation stands", "elevations stand"))
}

// dropSpike takes out the samples from i up to end.
func (m *mending) dropSpike(i, end int) {
	m.firstSpike = min(m.firstSpike, m.s[i])
	m.spikes += end - i
	m.forget(i, end)
}

// dropEnds takes out the first samples, or the last, fewer than a level has, that a
// jump parts from all others.
func (m *mending) dropEnds() {
	n := len(m.z)
	from, to := 0, n
	if n < minSmoothed {
		return
	}
	for k := 1; k < stepLeast; k++ {
		if m.jumps(k-1, k, m.jump) && m.calm(k, k+stepLeast) {
			from = k
		}
		if end := n - k; m.jumps(end-1, end, m.jump) && m.calm(end-1-stepLeast, end-1) {
			to = end
		}
	}
	if from > 0 {
		m.dropSpike(0, from)
	}
	if to < n {
		m.dropSpike(to, n)
	}
	m.compact()
}

// calm reports whether the elevations from sample i to end make no leap.
func (m *mending) calm(i, end int) bool {
	for ; i < end; i++ {
		if m.leaps(i, i+1) {
			return false
		}
	}
	return true
}

// dropLargest takes out the samples that are farther off the line than those around.
func (m *mending) dropLargest() {
	r := m.departures()
	for k := 1; k+1 < len(r); k++ {
		off := math.Abs(r[k])
		room := min(m.s[k]-m.s[k-1], m.s[k+1]-m.s[k])
		if off < jumpM+m.step+float64(roadGradient*room) || off < math.Abs(r[k-1]) || off < math.Abs(r[k+1]) {
			continue
		}
		if off >= outlierScales*localScale(r, k) && !m.isEdge(r, k, k-1) && !m.isEdge(r, k, k+1) {
			m.dropSpike(k, k+1)
		}
	}
}

// isEdge reports whether sample k is the edge of a step that leads to its neighbour j.
// Either the step goes on from there, or the two depart by about as much to opposite
// sides and those around them little, while a spike departs twice as far as both its
// neighbours.
func (m *mending) isEdge(r []float64, k, j int) bool {
	before, after := k-(j-k), j+(j-k)
	if min(before, after) < 0 || max(before, after) >= len(r) || !m.jumps(min(j, k), max(j, k), m.jump) {
		return false
	}
	if (m.z[j]-m.z[k])*(m.z[after]-m.z[j]) > 0 && m.jumps(min(j, after), max(j, after), m.jump) {
		return true
	}
	little := (1 - edgeShare) * math.Abs(r[k])
	return -r[j]/r[k] > edgeShare && math.Abs(r[before]) < little && math.Abs(r[after]) < little
}

// localScale returns the median size of the departures around k.
func localScale(r []float64, k int) float64 {
	var near []float64
	for i := max(k-scaleReach, 0); i <= min(k+scaleReach, len(r)-1); i++ {
		near = append(near, math.Abs(r[i]))
	}
	slices.Sort(near)
	return near[len(near)/2]
}

// dropRuns takes out runs of samples between two jumps.
func (m *mending) dropRuns() {
	astray := false // the last jump led away and not back
	for k := 1; k < len(m.z); k++ {
		if !m.jumps(k-1, k, m.jump) {
			astray = false
			continue
		}
		end := 0
		if !astray {
			end = m.jumpBack(k)
		}
		if astray = end == 0; !astray {
			m.dropSpike(k, end)
			k = end
		}
	}
}

// jumpBack returns the first sample after the jump back from the jump that ends at
// sample k; 0 without one.
func (m *mending) jumpBack(k int) int {
	before := k - 1
	away := m.z[k] - m.z[before]
	for e := k + 1; e < min(len(m.z), k+longestJump); e++ {
		if m.s[e]-m.s[before] > longestJumpM {
			return 0
		}
		if !m.jumps(e-1, e, m.jump) || e-k > 2 && !opposite(away, m.z[e]-m.z[e-1]) {
			continue
		}
		room := roadGradient * (m.s[e] - m.s[before])
		if math.Abs(m.z[e]-m.z[before]) <= m.jump+room && m.allAway(k, e, away) {
			return e
		}
	}
	return 0
}

// opposite reports whether one jump takes back about what the other did.
func opposite(a, b float64) bool { return -a/b > 0.5 && -a/b < 2 }

// allAway reports whether all samples from k up to end are off the line between their
// neighbours by a share of the jump away.
func (m *mending) allAway(k, end int, away float64) bool {
	for i := k; i < end; i++ {
		if math.Abs(m.away(i, k-1, end)) < awayShare*math.Abs(away) {
			return false
		}
	}
	return true
}
