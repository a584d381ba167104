package season

import (
	"cmp"
	"slices"

	"parcours.example/analysis/elementary"
)

// Suited is a round that suits a rider, or doesn't.
type Suited struct {
	// Round is its index.
	Round int
	// SuitabilityPct is how much faster than the middle of the roster the rider is there, in per
	// cent of the time, beyond the rider's own mean over the rounds. It is the sum of the three
	// below: what comes of the power over the mass moved, of that over drag area, and of neither.
	SuitabilityPct                              float64
	PowerToMassPct, PowerToDragAreaPct, RestPct float64
	// Why says it in words and numbers.
	Why string
}

const (
	// mostSuited is how many rounds are told that suit a rider, and how many that don't.
	mostSuited = 3
	// leastSuitedPct is from where on they are: what is less isn't 0.1 % when it is told.
	leastSuitedPct = 0.05
)

// ratio is one of the two by which a speed goes. The forces on a bicycle are proportional to its
// mass or to its drag area: power over speed = m·(g·(sin + Crr·cos) + acceleration) + ½ρ·CdA·v²,
// so that what multiplies power, mass and drag area alike leaves the speed, and ln t has no
// derivatives but those by mass over power and by drag area over power. Bearings, wheels and the
// limits of bends, which follow neither, are in the rest.
type ratio struct {
	// title, unit and decimals are how it is told.
	title, unit string
	decimals    int
	// value is that over which the power is, elasticity ∂ln t/∂ln of it.
	value, elasticity func(Time) float64
}

var (
	toMass = ratio{"Power over mass", "W/kg", 2, func(t Time) float64 { return t.MassKg }, func(t Time) float64 { return t.TimeByMass }}
	toDrag = ratio{"Power over drag area", "W/m²", 0, func(t Time) float64 { return t.CdAM2 }, func(t Time) float64 { return t.TimeByDragArea }}
)

// log is the logarithm of the ratio's inverse: it grows as the rider gets slower.
func (q ratio) log(t Time) float64 {
	return elementary.Log(q.value(t) / max(t.PowerW, leastPowerW))
}

// leastPowerW is what a power counts as at least where ratios are formed of it.
const leastPowerW = 1

// table holds a figure of each rider in each round that counts.
type table [][]float64

// tabled fills a table.
func tabled(riders []*Rider, counts []int, figure func(Time) float64) table {
	out := make(table, len(riders))
	for i, r := range riders {
		out[i] = r.over(counts, figure)
	}
	return out
}

// middles are the medians over the riders, round by round.
func (t table) middles() []float64 {
	out := make([]float64, len(t[0]))
	for j := range out {
		column := make([]float64, len(t))
		for i := range t {
			column[i] = t[i][j]
		}
		out[j] = median(column)
	}
	return out
}

// beyondMean takes from each rider's figures their mean over the rounds.
func (t table) beyondMean() {
	for i := range t {
		m := mean(slices.Clone(t[i]))
		for j := range t[i] {
			t[i][j] -= m
		}
	}
}

// part is what comes of a ratio, in per cent of the time, with what it is told by.
type part struct {
	ratio
	pct, log, elasticity table
	// middle holds the middle of the roster, counts the ratio's weight in the middle of the
	// roster, round by round, meanCounts that in the mean of the rounds.
	middle, counts []float64
	meanCounts     float64
}

func (q ratio) part(riders []*Rider, counts []int) part {
	p := part{ratio: q, log: tabled(riders, counts, q.log), elasticity: tabled(riders, counts, q.elasticity)}
	p.middle, p.counts = p.log.middles(), p.elasticity.middles()
	p.meanCounts = mean(slices.Clone(p.counts))
	p.pct = make(table, len(riders))
	for i := range riders {
		p.pct[i] = make([]float64, len(counts))
		for j := range counts {
			p.pct[i][j] = -50 * (p.elasticity[i][j] + p.counts[j]) * (p.log[i][j] - p.middle[j])
		}
	}
	p.pct.beyondMean()
	return p
}

// suit says which of the rounds that count suit whom, and why.
func (c *Comparison) suit(counts []int) {
	var riders []*Rider
	for i := range c.Riders {
		if c.Riders[i].finishes() {
			riders = append(riders, &c.Riders[i])
		}
	}
	if len(riders) < 2 || len(counts) < 2 {
		return
	}
	behind := tabled(riders, counts, func(t Time) float64 { return elementary.Log(t.TimeS) })
	suited := make(table, len(riders))
	middles := behind.middles()
	for i := range behind {
		suited[i] = make([]float64, len(counts))
		for j := range counts {
			suited[i][j] = -100 * (behind[i][j] - middles[j])
		}
	}
	suited.beyondMean()
	mass, drag := toMass.part(riders, counts), toDrag.part(riders, counts)
	for i, r := range riders {
		all := make([]Suited, len(counts))
		for k, j := range counts {
			all[k] = Suited{Round: j, SuitabilityPct: suited[i][k], PowerToMassPct: mass.pct[i][k], PowerToDragAreaPct: drag.pct[i][k]}
			all[k].RestPct = all[k].SuitabilityPct - (all[k].PowerToMassPct + all[k].PowerToDragAreaPct)
			all[k].Why = all[k].words(r.Name, mass.words(r.Name, i, k), drag.words(r.Name, i, k))
			r.Times[j].SuitabilityPct = all[k].SuitabilityPct
		}
		r.choose(all)
	}
}

// choose keeps the rounds that suit the rider best and least.
func (r *Rider) choose(all []Suited) {
	slices.SortStableFunc(all, func(a, b Suited) int { return -cmp.Compare(a.SuitabilityPct, b.SuitabilityPct) })
	for _, s := range all[:min(mostSuited, len(all))] {
		if s.SuitabilityPct >= leastSuitedPct {
			r.Best = append(r.Best, s)
		}
	}
	slices.SortStableFunc(all, func(a, b Suited) int { return cmp.Compare(a.SuitabilityPct, b.SuitabilityPct) })
	for _, s := range all[:min(mostSuited, len(all))] {
		if s.SuitabilityPct <= -leastSuitedPct {
			r.Least = append(r.Least, s)
		}
	}
}

// ratioOf is the ratio of which log is that of the inverse.
func ratioOf(log float64) float64 { return elementary.Exp(-log) }
