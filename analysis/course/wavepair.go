package course

import (
	"math"
	"slices"

	"parcours.example/analysis/elementary"
)

const (
	// pairStepM is the length in metres of the stretches whose places on the next lap
	// are found together.
	pairStepM = 200.0
	// pairWidthM is the width in metres over which gradients are averaged for that.
	pairWidthM = 100.0
	// pairLikeness is likeness where the places are known.
	pairLikeness = 0.25
	// stiffness is what a stretch costs whose place moves on by one step against the
	// last one's, in mean squares of the gradient.
	stiffness = 0.5
)

// paired is the stretch of samples of which the place on the next lap is known. As a
// run it maps places to places.
type paired struct {
	*run
	w   *wave
	lag int
	g   []float64
	// correlation is that of the gradients with those a lap later.
	correlation float64
}

// pair finds for the samples of an echo, and as far on either side as the laps go,
// their places a lap later: those whose gradients differ least while their distance
// changes little from stretch to stretch. It returns nil where nothing is left.
func (w *wave) pair(e echo) *paired {
	g := w.smoothed(pairWidthM)
	lags := w.lags(g, e)
	p := &paired{w: w, lag: e.lag, g: g}
	from, last := bestStretch(g, lags)
	if last < from {
		return nil
	}
	from, last = w.extended(from, last, lags)
	p.run = &run{from: from}
	for i := from; i <= last; i++ {
		p.to = append(p.to, float64(i)+lags[i])
	}
	var gg, hh, gh, gm, hm float64
	n := float64(len(p.to))
	for i := from; i <= last; i++ {
		a, b := g[i], g[int(math.Round(p.to[i-from]))]
		gm, hm = gm+a/n, hm+b/n
		gg, hh, gh = gg+float64(a*a), hh+float64(b*b), gh+float64(a*b)
	}
	gg, hh, gh = gg-n*float64(gm*gm), hh-n*float64(hm*hm), gh-n*float64(gm*hm)
	if gg <= 0 || hh <= 0 {
		return nil
	}
	p.correlation = gh / math.Sqrt(gg*hh)
	return p
}

// lags returns the lag of each sample that has a later one: the path through lags
// about that of an echo of least cost (Viterbi's algorithm over stretches of
// pairStepM).
func (w *wave) lags(g []float64, e echo) []float64 {
	reach := int(math.Ceil(lapStretch*float64(e.lag))) + 1
	block := max(int(math.Round(pairStepM/w.step)), 1)
	samples := len(g) - e.lag + reach
	edge := 1 + int(pairWidthM/w.step) // there gradients are averaged less
	blocks, width := (samples+block-1)/block, 2*reach+1
	scale := stiffness * float64(block) * meanSquare(g)
	cost, next := make([]float64, width), make([]float64, width)
	came := make([][]int8, blocks)
	for b := range blocks {
		came[b] = make([]int8, width)
		for k := range width {
			next[k] = math.Inf(1)
			for step := -1; step <= 1; step++ {
				if k+step < 0 || k+step >= width {
					continue
				}
				if total := cost[k+step] + scale*math.Abs(float64(step)); total < next[k] {
					next[k], came[b][k] = total, int8(step)
				}
			}
			next[k] += mismatch(g[:len(g)-edge], max(b*block, edge), min((b+1)*block, samples), e.lag+k-reach)
		}
		cost, next = next, cost
	}
	best := 0
	for k := range cost {
		if cost[k] < cost[best] {
			best = k
		}
	}
	lags := make([]float64, samples)
	for b := blocks - 1; b >= 0; b-- {
		for i := b * block; i < min((b+1)*block, samples); i++ {
			lags[i] = float64(e.lag + best - reach)
		}
		best += int(came[b][best])
	}
	return w.within(refined(g, lags, block, edge), len(g))
}

// refined corrects lags of whole steps by what the gradients' slopes tell of the rest:
// the shift of least squares over some stretches together.
func refined(g, lags []float64, block, edge int) []float64 {
	const stretches = 5
	change, slope := make([]float64, len(lags)), make([]float64, len(lags))
	for i, lag := range lags {
		j := i + int(lag)
		if i < edge || j >= len(g)-edge {
			continue
		}
		k := (g[j+1] - g[j-1]) / 2
		change[i], slope[i] = float64(k*(g[i]-g[j])), float64(k*k)
	}
	change, slope = movingMean(change, stretches*block), movingMean(slope, stretches*block)
	fine := make([]float64, len(lags))
	for i, lag := range lags {
		fine[i] = lag
		if slope[i] > 0 {
			fine[i] += min(max(change[i]/slope[i], -1), 1)
		}
	}
	return fine
}

// within smooths lags over the stretches that they hold for and cuts them where they
// lead beyond the last of n samples.
func (w *wave) within(lags []float64, n int) []float64 {
	smooth := movingMean(lags, int(math.Round(pairStepM/w.step)))
	for i, lag := range smooth {
		if int(math.Round(float64(i)+lag)) >= n {
			return smooth[:i]
		}
	}
	return smooth
}

// mismatch returns the sum of the squared differences of gradients a lag apart, beyond
// the last of them none.
func mismatch(g []float64, from, to, lag int) float64 {
	sum := 0.0
	for i := from; i < min(to, len(g)-lag); i++ {
		d := g[i] - g[i+lag]
		sum += float64(d * d)
	}
	return sum
}

func meanSquare(g []float64) float64 {
	sum := 0.0
	for _, v := range g {
		sum += float64(v * v)
	}
	return sum / float64(len(g))
}

// bestStretch returns the first and the last sample of the stretch that speaks most
// for laps, given the lag of each sample.
func bestStretch(g, lags []float64) (from, last int) {
	best, sum, start := 0.0, 0.0, 0
	last = -1
	for i, lag := range lags {
		later := g[int(math.Round(float64(i)+lag))]
		d := g[i] - later
		sum += pairLikeness*(float64(g[i]*g[i])+float64(later*later)) - float64(d*d)
		if sum <= 0 {
			sum, start = 0, i+1
		} else if sum > best {
			best, from, last = sum, start, i
		}
	}
	return from, last
}

// cover is the number of samples that the laps explain.
func (p *paired) cover() float64 { return p.to[len(p.to)-1] - float64(p.from) }

// endsOn reports whether the course ends on the circuit.
func (p *paired) endsOn() bool { return p.to[len(p.to)-1] >= float64(len(p.g)-2) }

// isCircuit reports whether the pairs are those of laps beyond doubt.
func (p *paired) isCircuit() bool {
	if float64(len(p.to)) < float64(p.lag)-p.w.reach(p.lag) || p.correlation < noisyCorrelation || p.plain() {
		return false
	}
	evidence := p.evidence()
	switch {
	case p.w.clean:
		return p.correlation >= cleanCorrelation && evidence >= p.enough()
	case p.correlation < leastCorrelation:
		return evidence >= clearEvidence
	}
	return evidence >= p.enough()
}

// enough returns the least evidence for laps.
func (p *paired) enough() float64 {
	if p.from == 0 && p.endsOn() && p.correlation >= wholeCorrelation {
		return wholeEvidence
	}
	return leastEvidence
}

// evidence returns by how many standard deviations the correlation differs from
// chance: Fisher's transformation of it, with as many independent pairs as the
// gradient has correlation lengths (Bartlett).
func (p *paired) evidence() float64 {
	g := slices.Clone(p.g[p.from : p.last()+1])
	mean := 0.0
	for _, v := range g {
		mean += v / float64(len(g))
	}
	for i := range g {
		g[i] -= mean
	}
	power := meanSquare(g)
	if power == 0 {
		return 0
	}
	length := 1.0
	for k := 1; k < len(g)/2; k++ {
		sum := 0.0
		for i := range len(g) - k {
			sum += float64(g[i] * g[i+k])
		}
		r := sum / float64(len(g)-k) / power
		if r <= 0 {
			break
		}
		length += 2 * float64(r*r)
	}
	pairs := float64(len(g)) / length
	const certain = 0.9999 // of a correlation that is exactly 1
	return elementary.Atanh(min(p.correlation, certain)) * math.Sqrt(max(pairs-3, 0))
}

// mirrored is the correlation of a lap's gradients with those of the lap ridden
// backwards from which it is a regular wave of the ground, as rollers are, or leads out
// and back on one road: nothing tells these from each other, and neither is told.
const mirrored = 0.997

// plain reports whether a lap reads the same from both ends.
func (p *paired) plain() bool {
	middle := p.from + len(p.to)/2
	return mirror(p.g[middle:min(middle+p.lag, len(p.g))]) >= mirrored
}

// mirror returns the highest correlation of a lap's gradients, taken as a ring, with
// those of the lap ridden backwards, which are the negative ones.
func mirror(lap []float64) float64 {
	square := meanSquare(lap) * float64(len(lap))
	best := 0.0
	for shift := range lap {
		sum := 0.0
		for i, v := range lap {
			sum -= float64(v * lap[(len(lap)+shift-i)%len(lap)])
		}
		best = max(best, sum)
	}
	return best / square
}
