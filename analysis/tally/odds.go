package tally

import (
	"cmp"
	"math"
	"slices"
)

// confident is the standard normal quantile of 97.5 %.
const confident = 1.959964

// oddsOf returns the odds of what happened in a share of n runs, given in units of whole,
// to 10⁻⁹: thirds and their like of whole are rounded by less.
func oddsOf(shares int64, n int) Odds {
	if n == 0 {
		nan := math.NaN()
		return Odds{0, nan, nan, nan, nan}
	}
	runs := float64(n)
	p := math.Round(1e9*float64(shares)/(runs*whole)) / 1e9
	const z2 = confident * confident
	middle := (p + z2/(2*runs)) / (1 + z2/runs)
	half := confident * math.Sqrt(p*(1-p)/runs+z2/(4*float64(runs*runs))) / (1 + z2/runs)
	return Odds{N: n, P: p, SE: math.Sqrt(p * (1 - p) / runs), Low: max(0, middle-half), High: min(1, middle+half)}
}

// oddsIn returns the odds of what happened in some of n runs.
func oddsIn[C count](runs C, n int) Odds { return oddsOf(int64(runs)*whole, n) }

// marginOf returns how far the best is ahead of the others, of odds that exclude one
// another in a run; of equals the lower rank is better, then the lower index.
func marginOf(odds []Odds, rank []Mean) Margin {
	order := make([]int, len(odds))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(odds[j].P, odds[i].P), cmp.Compare(rank[i].Mean, rank[j].Mean))
	})
	m := Margin{Best: -1, Next: -1}
	if len(order) > 0 {
		m.Best = order[0]
	}
	if len(order) < 2 || odds[m.Best].N == 0 {
		return m
	}
	m.Next = order[1]
	best, next := odds[m.Best], odds[m.Next]
	m.Difference = best.P - next.P
	m.SE = math.Sqrt(max(0, best.P+next.P-float64(m.Difference*m.Difference)) / float64(best.N))
	m.Told = likelier(best, next)
	if !m.Told && m.Difference > 0 {
		m.RunsToTell = upToTwoDigits(confident * confident * (best.P + next.P) / float64(m.Difference*m.Difference))
	}
	for _, i := range order[1:] {
		if odds[i].P > 0 && !likelier(best, odds[i]) {
			m.Level = append(m.Level, i)
		}
	}
	return m
}

// likelier reports whether of two odds that exclude one another in a run the first are
// higher beyond chance: by more than 1.96 times what the difference would vary by if both
// were the same (score test, as McNemar 1947, Psychometrika 12:153–157; from memory).
func likelier(a, b Odds) bool {
	return told(a.P-b.P, math.Sqrt((a.P+b.P)/float64(a.N)))
}

// leastRuns is how many runs tell anything of a mean.
const leastRuns = 10

// told reports whether a mean is above 0 beyond its sampling error.
func (m Mean) told() bool { return m.N >= leastRuns && told(m.Mean, m.SE) }

// told reports whether a value is beyond its sampling error.
func told(value, se float64) bool { return value > confident*se }

// upToTwoDigits rounds up to a number of two digits and noughts.
func upToTwoDigits(v float64) int {
	scale := 1.0
	for v/scale > 100 {
		scale *= 10
	}
	return int(math.Ceil(v/scale) * scale)
}
