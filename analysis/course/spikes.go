package course

import (
	"math"
	"slices"
)

// What no road does. Between neighbouring samples a jump is a rise or fall of more
// than jumpM and of a gradient above jumpGradient; runs of samples between two
// jumps are taken out where the line then goes on within roadGradient.
const (
	jumpM        = 3.0
	jumpGradient = 0.7
	roadGradient = 0.25
	// longestJumpM is how far apart the two jumps may be. Beyond, the shape between
	// them is worth more than the step.
	longestJumpM = 600.0
	// longestJump bounds the same in samples, and with it the work.
	longestJump = 1000
	// awayShare is the share of the jump by which all samples of the run are off the
	// line that joins its neighbours.
	awayShare = 0.3
	// jumpSigmas is by how many standard deviations of the noise a jump is more than
	// jumpM.
	jumpSigmas = 8.0
	// outlierScales is how many local scales a single sample may be off the line
	// between its neighbours.
	outlierScales = 7.0
	// outlierRounds is how often single samples are looked for: one may hide another.
	outlierRounds = 5
	// scaleReach is the number of samples on either side that set the local scale.
	scaleReach = 10
)

// repairElevations takes out elevations that no road has: single samples off the
// line between their neighbours, and runs between two jumps.
func (l *line) repairElevations(q *Quality) {
	spikes := l.dropRuns(jumpM + jumpSigmas*l.roughNoise())
	for range outlierRounds {
		n := l.dropOutliers()
		spikes += n
		if n == 0 {
			break
		}
	}
	if spikes > 0 {
		q.warn("spikes-repaired", math.NaN(), "%d elevations stood out from the line and were replaced", spikes)
	}
}

// knownIndices returns the indices of the points that have an elevation.
func (l *line) knownIndices() []int {
	known := make([]int, 0, len(l.z))
	for i, v := range l.z {
		if !math.IsNaN(v) {
			known = append(known, i)
		}
	}
	return known
}

// departures returns for each known sample how far it is off the line between its
// neighbours; 0 at the ends.
func (l *line) departures(known []int) []float64 {
	r := make([]float64, len(known))
	for k := 1; k+1 < len(known); k++ {
		a, b, c := known[k-1], known[k], known[k+1]
		f := (l.s[b] - l.s[a]) / (l.s[c] - l.s[a])
		r[k] = l.z[b] - l.z[a] - float64(f*(l.z[c]-l.z[a]))
	}
	return r
}

// roughNoise returns a rough upper estimate of the standard deviation of the noise:
// the median departure is 0.6745·√(3/2) of it for evenly spaced samples of a line.
func (l *line) roughNoise() float64 {
	r := l.departures(l.knownIndices())
	for i := range r {
		r[i] = math.Abs(r[i])
	}
	slices.Sort(r)
	if len(r) == 0 {
		return 0
	}
	return r[len(r)/2] / (0.6745 * math.Sqrt(1.5))
}

// dropOutliers takes out single samples and returns how many.
func (l *line) dropOutliers() int {
	known := l.knownIndices()
	r := l.departures(known)
	dropped := 0
	for k := 1; k+1 < len(known); k++ {
		off := math.Abs(r[k])
		room := min(l.s[known[k]]-l.s[known[k-1]], l.s[known[k+1]]-l.s[known[k]])
		if off < jumpM+float64(roadGradient*room) || off < math.Abs(r[k-1]) || off < math.Abs(r[k+1]) {
			continue
		}
		if off < outlierScales*localScale(r, k) {
			continue
		}
		l.z[known[k]] = math.NaN()
		dropped++
	}
	return dropped
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

// dropRuns takes out runs of samples between two jumps and returns how many
// samples that were.
func (l *line) dropRuns(jump float64) int {
	known := l.knownIndices()
	dropped := 0
	astray := false // the last jump led away and not back
	for k := 1; k < len(known); k++ {
		if !l.jumps(known[k-1], known[k], jump) {
			astray = false
			continue
		}
		end := 0
		if !astray {
			end = l.jumpBack(known, k, jump)
		}
		if astray = end == 0; astray {
			continue
		}
		for _, i := range known[k:end] {
			l.z[i] = math.NaN()
		}
		dropped += end - k
		k = end
	}
	return dropped
}

// jumps reports whether the elevation jumps between two points.
func (l *line) jumps(i, j int, jump float64) bool {
	rise := math.Abs(l.z[j] - l.z[i])
	return rise > jump && rise > jumpGradient*(l.s[j]-l.s[i])
}

// jumpBack returns the index in known of the first sample after the jump back from
// the jump that ends at known[k]; 0 without one.
func (l *line) jumpBack(known []int, k int, jump float64) int {
	before := known[k-1]
	away := l.z[known[k]] - l.z[before]
	for e := k + 1; e < min(len(known), k+longestJump); e++ {
		i, j := known[e-1], known[e]
		if l.s[j]-l.s[before] > longestJumpM {
			return 0
		}
		if !l.jumps(i, j, jump) || e-k > 2 && !opposite(away, l.z[j]-l.z[i]) {
			continue
		}
		room := roadGradient * (l.s[j] - l.s[before])
		if math.Abs(l.z[j]-l.z[before]) <= jump+room && l.allAway(known[k:e], before, j, away) {
			return e
		}
	}
	return 0
}

// opposite reports whether one jump takes back about what the other did.
func opposite(a, b float64) bool { return -a/b > 0.5 && -a/b < 2 }

// allAway reports whether all points of a run are off the line between two points
// by a share of the jump away.
func (l *line) allAway(run []int, before, after int, away float64) bool {
	gradient := (l.z[after] - l.z[before]) / (l.s[after] - l.s[before])
	for _, i := range run {
		off := l.z[i] - l.z[before] - float64(gradient*(l.s[i]-l.s[before]))
		if math.Abs(off) < awayShare*math.Abs(away) {
			return false
		}
	}
	return true
}
