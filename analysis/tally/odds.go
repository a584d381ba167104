package tally

import "math"

// confident is the standard normal quantile of 97.5 %.
const confident = 1.959964

// oddsOf returns the odds of what happened in a share of n runs, given in units of whole.
func oddsOf(shares int64, n int) Odds {
	if n == 0 {
		nan := math.NaN()
		return Odds{0, nan, nan, nan, nan}
	}
	runs := float64(n)
	p := min(float64(shares)/(runs*whole), 1)
	const z2 = confident * confident
	middle := (p + z2/(2*runs)) / (1 + z2/runs)
	half := confident * math.Sqrt(p*(1-p)/runs+z2/(4*float64(runs*runs))) / (1 + z2/runs)
	return Odds{N: n, P: p, SE: math.Sqrt(p * (1 - p) / runs), Low: max(0, middle-half), High: min(1, middle+half)}
}

// oddsIn returns the odds of what happened in some of n runs.
func oddsIn[C count](runs C, n int) Odds { return oddsOf(int64(runs)*whole, n) }

// marginOf returns how far the best is ahead of the next, of odds that exclude one
// another in a run; of equals the lower rank is better, then the lower index.
func marginOf(odds []Odds, rank []Mean) Margin {
	m := Margin{Best: -1, Next: -1}
	better := func(i, j int) bool {
		if j < 0 || odds[i].P != odds[j].P {
			return j < 0 || odds[i].P > odds[j].P
		}
		return rank[i].Mean < rank[j].Mean
	}
	for i := range odds {
		switch {
		case better(i, m.Best):
			m.Best, m.Next = i, m.Best
		case better(i, m.Next):
			m.Next = i
		}
	}
	if m.Next < 0 || odds[m.Best].N == 0 {
		return m
	}
	p, q, n := odds[m.Best].P, odds[m.Next].P, float64(odds[m.Best].N)
	m.Difference = p - q
	m.SE = math.Sqrt(max(0, p+q-float64(m.Difference*m.Difference)) / n)
	m.Told = m.Difference > confident*m.SE
	if !m.Told && m.Difference > 0 {
		ratio := confident * m.SE / m.Difference
		m.RunsToTell = upToTwoDigits(n * float64(ratio*ratio))
	}
	return m
}

// upToTwoDigits rounds up to a number of two digits and noughts.
func upToTwoDigits(v float64) int {
	scale := 1.0
	for v/scale > 100 {
		scale *= 10
	}
	return int(math.Ceil(v/scale) * scale)
}
