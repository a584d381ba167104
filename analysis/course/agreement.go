package course

import "math"

// leastDepartureM is the least length in metres of a departure that is told: longer
// than what a passing error of position makes.
const leastDepartureM = 100.0

// departure is the longest stretch of the laps that leaves the line of the first.
type departure struct {
	// lap is the 1-based number of the lap, 0 where none leaves it.
	lap int
	// from is the first sample that is not on the line any more, length their number.
	from, length int
}

// agreement returns the share of the samples between the first and the last lap line
// that lie on the first lap's line, within the tolerance and in its direction, and the
// longest stretch that doesn't. The lines are given by their places.
func agreement(g *ground, lines []float64) (share float64, off departure) {
	agreed := int(math.Ceil(lines[1])) - int(math.Ceil(lines[0]))
	total := agreed
	for k := 1; k < len(lines)-1; k++ {
		away, start := 0, int(math.Ceil(lines[k]))
		for i, on := range g.onLap([2]float64{lines[0], lines[1]}, lines[k], lines[k+1]) {
			total++
			if on {
				agreed++
				away = 0
				continue
			}
			if away++; away > off.length {
				off = departure{lap: k + 1, from: start + i + 1 - away, length: away}
			}
		}
	}
	return float64(agreed) / float64(total), off
}

// agreementAt is agreement for lines given by their positions in metres.
func (a *again) agreementAt(lines []float64) (share float64, off departure) {
	places := make([]float64, len(lines))
	for i, at := range lines {
		places[i] = a.g.steps(at)
	}
	return agreement(a.g, places)
}

// warnOfDeparture tells where a lap leaves the line of the first one.
func (c *Course) warnOfDeparture(laps rounds) {
	if laps.count() < 2 || c.again == nil || c.again.oneLap {
		return
	}
	share, off := c.again.agreementAt(laps.lines)
	if length := float64(off.length) * c.again.g.step; length >= leastDepartureM {
		c.Quality.warn("lap-departs", float64(off.from)*c.again.g.step, "lap %d leaves the line of the first lap for %.0f m; %.1f %% of the laps lie on it", off.lap, length, 100*share)
	}
}
