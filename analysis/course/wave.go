package course

import (
	"math"
	"slices"
)

// Laps without positions show only in the gradient, which is the same on each lap.
// They are looked for in three steps: for each lag the stretch over which the gradient
// agrees best with itself that lag later; among the lags at which that stretch is a
// whole lap or more, the shortest that explains almost as much as any; and along that
// one the place of every lap on the next, since no two laps are measured equally long.

const (
	// waveStepM is the distance in metres between the samples of a wave, waveSamples
	// the most of them: on longer courses they stand farther apart.
	waveStepM   = 20.0
	waveSamples = 8000
	// leastWaveLapM is the least length in metres of a lap that is told by its gradient.
	leastWaveLapM = 980.0
	// likeness is the share of the gradients' squares that their difference may make
	// for the pair to speak for laps: 0 for the same gradient, 1 on average for
	// gradients that have nothing to do with each other.
	likeness = 0.4
	// wholeEnough is the share of a lap that a stretch must have before the places of
	// the next lap are known, neighbour the share within which lags tell the same.
	wholeEnough = 0.6
	neighbour   = 0.1
	// leastCorrelation of the gradients of a lap and the next, cleanCorrelation where
	// the elevations scatter by less than cleanM.
	leastCorrelation = 0.95
	cleanCorrelation = 0.98
	cleanM           = 0.1
	// leastEvidence is how many standard deviations the correlation must be from
	// chance, after Fisher. Some 10⁷ stretches are looked at, and hills are more alike
	// than independent numbers.
	// Laps that make up the whole course leave chance few lags: wholeEvidence is enough.
	leastEvidence    = 10.0
	wholeEvidence    = 5.0
	wholeCorrelation = 0.975
	// Noise makes the laps less alike, but many laps speak clearly all the same.
	noisyCorrelation = 0.85
	clearEvidence    = 20.0
	// A lap ends at the elevation it starts at, but for the drift of a barometer: by a
	// share of the lap's elevation range, or by a larger share up to some metres.
	closureShare                     = 0.2
	driftClosureM, driftClosureShare = 6.0, 0.4
	// lapStretch is how much the measured lengths of two laps may differ.
	lapStretch = 0.012
	// lineReachM is how far in metres the ends of the course may be from the ends of what
	// is ridden again to be on the circuit, flatReachShare the share of a lap that they
	// may be if the elevations agree to flatReachM: on the flat the gradient says nothing.
	// wholeShare is the share where the course is a whole number of laps.
	lineReachM = 80.0
	// waveSlackM is how far in metres a lap may reach beyond what is ridden again: where
	// another road joins, the gradient tells it to a hundred metres or two.
	waveSlackM     = 200.0
	flatReachShare = 0.25
	flatReachM     = 2.0
	wholeShare     = 0.04
)

// wave is the gradient of a course at equal steps.
type wave struct {
	step float64
	// clean says that the elevations hardly scatter.
	clean bool
	// g is the gradient of each step, z the elevation at its start.
	g, z []float64
}

// newWave samples the gradient of a course. It is averaged twice over a width in
// metres.
func newWave(c *Course) *wave {
	n := min(max(int(c.LengthM()/waveStepM), 1), waveSamples)
	w := &wave{step: c.LengthM() / float64(n), g: make([]float64, n)}
	w.clean = c.Quality.ElevationNoiseM < cleanM
	at := make([]float64, n+1)
	for i := range at {
		at[i] = w.step * float64(i)
	}
	w.z = interpolateAll(c.S, c.Z, at)
	for i := range w.g {
		w.g[i] = (w.z[i+1] - w.z[i]) / w.step
	}
	return w
}

// smoothed returns the gradients averaged twice over a width in metres.
func (w *wave) smoothed(widthM float64) []float64 {
	half := max(int(math.Round(widthM/w.step/2)), 0)
	return movingMean(movingMean(w.g, half), half)
}

// movingMean returns the means over each value and as many as half on either side, near
// the ends as many as there are on both: a mean to one side would shift the signal.
func movingMean(y []float64, half int) []float64 {
	sum := make([]float64, len(y)+1)
	for i, v := range y {
		sum[i+1] = sum[i] + v
	}
	mean := make([]float64, len(y))
	for i := range y {
		h := min(half, i, len(y)-1-i)
		mean[i] = (sum[i+h+1] - sum[i-h]) / float64(2*h+1)
	}
	return mean
}

// echo is a stretch of samples, its bounds included, whose gradients come again a lag
// later.
type echo struct {
	from, last, lag int
	// score is the sum over it of likeness·(g² + g′²) − (g − g′)².
	score float64
}

func (e echo) steps() int { return e.last - e.from + 1 }

// echoAt returns the stretch that speaks most for laps of a lag.
func echoAt(g []float64, lag int) echo {
	best := echo{lag: lag, last: -1}
	sum, from := 0.0, 0
	for i := range len(g) - lag {
		d := g[i] - g[i+lag]
		sum += likeness*(float64(g[i]*g[i])+float64(g[i+lag]*g[i+lag])) - float64(d*d)
		if sum <= 0 {
			sum, from = 0, i+1
			continue
		}
		if sum > best.score {
			best.score, best.from, best.last = sum, from, i
		}
	}
	return best
}

// waveLevels are widths in metres over which gradients are averaged, each with the
// longest lap that it is for: on a longer lap the places drift farther apart.
var waveLevels = [...]struct{ widthM, lapM float64 }{
	{60, 6e3}, {120, 12e3}, {240, 24e3}, {480, 48e3}, {960, 1e6},
}

// echoes returns the stretches of a whole lap or more at the lags that speak most for
// laps among their neighbours, in order of the lags.
func (w *wave) echoes() []echo {
	var all []echo
	lag := int(math.Ceil(leastWaveLapM / w.step))
	for _, level := range waveLevels {
		g := w.smoothed(level.widthM)
		for ; float64(lag) <= float64(float64(len(g))/2)+w.reach(lag) && float64(lag)*w.step <= level.lapM; lag++ {
			if e := echoAt(g, lag); float64(e.steps()) >= wholeEnough*float64(lag) && w.closes(e) {
				all = append(all, e)
			}
		}
	}
	var best []echo
	for _, e := range all {
		for n := len(best); n > 0 && float64(e.lag-best[n-1].lag) <= neighbour*float64(e.lag); n = len(best) {
			if e.score <= best[n-1].score {
				break
			}
			best = best[:n-1]
		}
		if n := len(best); n == 0 || float64(e.lag-best[n-1].lag) > neighbour*float64(e.lag) {
			best = append(best, e)
		}
	}
	return best
}

// reach returns in steps how far apart the ends of laps of a lag may be found.
func (w *wave) reach(lag int) float64 {
	return min(lineReachM/w.step, float64(lag)/5)
}

// closes reports whether each lap of an echo ends about as high as it starts.
func (w *wave) closes(e echo) bool {
	low, high := w.z[e.from], w.z[e.from]
	for _, z := range w.z[e.from : e.from+e.lag] {
		low, high = min(low, z), max(high, z)
	}
	rise := 0.0
	for i := e.from; i <= e.last; i++ {
		rise += w.z[i+e.lag] - w.z[i]
	}
	return math.Abs(rise/float64(e.steps())) <= max(closureShare*(high-low), min(driftClosureM, driftClosureShare*(high-low)))
}

// waveLaps returns the laps of a course without positions; their agreement is the
// correlation of the gradients with those a lap later.
func (c *Course) waveLaps() rounds {
	w := newWave(c)
	var all []*paired
	widest, least := 0.0, 1.0
	for _, e := range w.echoes() {
		if p := w.pair(e); p != nil && p.isCircuit() {
			all = append(all, p)
			widest, least = max(widest, p.cover()), min(least, 1-p.correlation)
		}
	}
	// The shortest laps that explain almost as much as any, almost as well: every
	// second lap is a lap too, and halves of a lap may be alike.
	const wideEnough, looseEnough, free = 0.8, 3.0, 0.01
	i := slices.IndexFunc(all, func(p *paired) bool {
		return p.cover() >= wideEnough*widest && 1-p.correlation <= float64(looseEnough*least)+free
	})
	if i < 0 {
		return rounds{}
	}
	lines := all[i].lines()
	if len(lines) < 3 {
		return rounds{}
	}
	for i := range lines {
		lines[i] = min(lines[i]*w.step, c.LengthM())
	}
	return rounds{lines: lines, agreed: all[i].correlation}
}

// lines returns the lap lines in steps by the rules that hold for positions: back from
// the course's end where that is on the circuit, else on from where it is joined.
func (p *paired) lines() []float64 {
	end, reach := float64(len(p.g)), min(waveSlackM/p.w.step, float64(p.lag)/5)
	first, last := float64(p.from), float64(p.last())
	if !p.endsOn() {
		xs := []float64{first}
		for x := first; x <= last+reach; {
			x = min(p.image(x), end)
			xs = append(xs, x)
		}
		return xs
	}
	xs := []float64{end}
	for x := end; x >= p.to[0]-reach; {
		x = max(p.origin(x), 0)
		xs = append(xs, x)
	}
	slices.Reverse(xs)
	if xs[0] <= reach {
		xs[0] = 0
	}
	return xs
}

// extended returns the bounds of a stretch of samples with known lags, drawn out to the
// course's ends where these are near, the ground between is flat, or the course is a
// whole number of laps.
func (w *wave) extended(from, last int, lags []float64) (int, int) {
	lag, end := int(math.Round(lags[from])), len(lags)-1
	if w.isWhole(from, end-last, lag) {
		return 0, end
	}
	if float64(from) <= w.reach(lag) || w.level(0, from, lag) {
		from = 0
	}
	lag = int(math.Round(lags[last]))
	if float64(end-last) <= w.reach(lag) || w.level(last, end, lag) {
		last = end
	}
	return from, last
}

// isWhole reports whether a course is a whole number of laps of which only a few per cent
// at its ends don't show: riders start and stop there.
func (w *wave) isWhole(before, after, lag int) bool {
	n := math.Round(float64(len(w.g)) / float64(lag))
	over := math.Abs(float64(len(w.g)) - float64(n*float64(lag)))
	return float64(max(before, after)) <= wholeShare*float64(lag) && over <= lapStretch*float64(lag)
}

// level reports whether a stretch, a quarter of a lap at most, is as high as a lap later
// but for the drift that there is at its ends.
func (w *wave) level(from, to, lag int) bool {
	if float64(to-from) > flatReachShare*float64(lag) {
		return false
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i := from; i <= to && i+lag < len(w.z); i++ {
		d := w.z[i+lag] - w.z[i]
		low, high = min(low, d), max(high, d)
	}
	return high-low <= flatReachM
}
