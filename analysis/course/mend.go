package course

import (
	"context"
	"math"
)

// What is wrong with elevations, how it is told, and what is done about it. In this
// order; smoothing none only tells. Every warning has the place of the first case.
//
//	artefact                      told by                                      done                       code
//	stands for "unknown"          0, or what no road has, away by a jump       bridged                    elevation-placeholder
//	cells of a coarse model       most samples equal, changes alone            middles of cells kept      elevation-terraced
//	altimeter that stood still    one value for 200 m, then a jump             bridged                    elevation-frozen
//	the same without a jump       one value for 200 m amid scatter             left                       elevation-frozen
//	spike                         a jump away and back within 600 m            bridged                    spikes-repaired, elevation-spikes if left
//	model over tunnel or bridge   away and back steeper than 35 %              straight                   elevation-tunnel
//	step of the level             a jump that doesn't come back                shorter side moved         elevation-step
//	stretch without elevations    200 m and more                               bridged                    elevation-missing
//	rounding                      all multiples of a step of 0.5 m or more     taken for intervals        elevation-quantised
//	scatter                       estimated, 1 m and more                      smoothed                   elevation-noisy
//	all equal                     no two elevations differ                     left                       elevation-constant
//	reversed sign                 all below −10 m                              left                       elevation-negative
//	feet for metres               5 % of the way steeper than 25 % over 100 m  left                       elevation-unit
//	drift of a barometer          ground ridden again has another elevation    left                       elevation-drift
//	steeper than roads are        gradient of 40 % in the result               left                       gradient-implausible
//
// A valley or hill whose sides are such as roads have can't be told from a tunnel's or
// a bridge's, and stays.

// mending is the repair of elevations on its way.
type mending struct {
	heights
	q *Quality
	// left says that nothing will be repaired, only told.
	left bool
	// closed says that the line ends where it starts.
	closed bool
	// jump is the height in metres above which a jump is no noise; step is that to
	// which all elevations are rounded, or 0, and noise the rough noise.
	jump, step, noise float64
	// spikes counts the samples taken out as spikes; the first was at firstSpike.
	spikes     int
	firstSpike float64
	// straight are stretches in metres over which no curve may bend.
	straight [][2]float64
}

// What no road does. Between neighbouring samples a jump is a rise or fall of more
// than jumpM and of a gradient above jumpGradient.
const (
	jumpM        = 3.0
	jumpGradient = 0.7
	// roadGradient is what roads reach.
	roadGradient = 0.25
	// jumpSigmas is by how many standard deviations of the noise a jump is more than
	// jumpM.
	jumpSigmas = 8.0
)

// mend takes out of the known elevations what no road has. It fails with the context's
// error.
func (m *mending) mend(ctx context.Context) error {
	for _, step := range []func(){m.dropPlaceholders, m.measureNoise, m.thinTerraces, m.thaw, m.dropSpikes, m.bridge, m.tellSpikes, m.doubtLevel} {
		if err := ctx.Err(); err != nil {
			return err
		}
		step()
	}
	return nil
}

// bridge levels what the road does not follow, unless the unit is in doubt.
func (m *mending) bridge() {
	if !m.doubtUnit() {
		m.bridgeTunnels()
		m.levelSteps()
	}
}

// measureNoise sets the scale of jumps.
func (m *mending) measureNoise() {
	m.step, m.noise = rounding(m.s, m.z), m.roughNoise()
	m.jump = jumpM + float64(jumpSigmas*m.noise) + m.step
}

// tell warns of what was found, and of what was done about it or that it was left.
func (m *mending) tell(code string, at float64, done, format string, args ...any) {
	if m.left {
		done = "; without smoothing they stay"
	}
	m.q.warn(code, at, format+done, args...)
}

// doubtLevel warns of elevations that hold together, but may not be what they seem.
func (m *mending) doubtLevel() {
	if len(m.z) < 2 {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range m.z {
		low, high = min(low, v), max(high, v)
	}
	switch {
	case low == high:
		m.q.warn("elevation-constant", math.NaN(), "all elevations are %g m: a level course, or none were recorded; ascent, climbs and times are those of a level road", low)
	case high < negativeM:
		m.q.warn("elevation-negative", math.NaN(), "all elevations lie below the sea, from %.0f to %.0f m: if their sign is reversed, climbs are descents here", low, high)
	}
}

const (
	// negativeM is the elevation below which hardly a race is held.
	negativeM = -10.0
	// Elevations may be in feet where unitShare of the way, and unitLengthM, is steeper
	// than unitGradient over unitWindowM: the steepest climbs of races stay below over a
	// kilometre (common practice).
	unitGradient = 0.25
	unitShare    = 0.05
	unitWindowM  = 100.0
	unitLengthM  = 1000.0
)

// doubtUnit warns of gradients that would be common in another unit and reports whether
// it did: what no road has then tells nothing of tunnels.
func (m *mending) doubtUnit() bool {
	steep, all := 0.0, 0.0
	for i := 0; i+1 < len(m.s); {
		j := i + 1
		for j+1 < len(m.s) && m.s[j]-m.s[i] < unitWindowM {
			j++
		}
		length := m.s[j] - m.s[i]
		all += length
		if length >= unitWindowM && math.Abs(m.gradient(i, j)) > unitGradient {
			steep += length
		}
		i = j
	}
	if steep <= max(unitLengthM, unitShare*all) {
		return false
	}
	m.q.warn("elevation-unit", math.NaN(), "%.0f %% of the course is steeper than %.0f %% over 100 m: the elevations may be in feet, or exaggerated", 100*steep/all, 100*unitGradient)
	return true
}
