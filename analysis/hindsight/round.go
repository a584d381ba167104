package hindsight

import (
	"math"
	"slices"
)

// Outcome is one rider's account in a round.
type Outcome struct {
	// ID is the ride's.
	ID, Rider string
	Account   *Account
}

// Accuracy is how far a round's riders, stops left out, were from what was computed for them:
// (ridden − computed)/computed in per cent.
type Accuracy struct {
	Riders int
	// BiasPct is the mean, MedianPct the median; SpreadPct is the standard deviation, and
	// BiasSEPct the mean's standard error. NaN where too few riders tell.
	BiasPct, BiasSEPct, MedianPct, SpreadPct float64
	// WithinPct is the median of the deviations' sizes: half of the riders are nearer.
	WithinPct float64
}

// Doubt is a rider whose numbers don't fit the ride as those of the others do.
type Doubt struct {
	ID, Rider string
	// OffPct is the ride against the computed ride at the recorded power, AgainstFieldPct that
	// less the field's median: below zero faster than power and mass allow.
	OffPct, AgainstFieldPct float64
	// MassKg is how much another mass, and PowerPct how much another power than was recorded
	// in per cent, would account for AgainstFieldPct, each alone, to first order.
	MassKg, PowerPct float64
	// OverdrawnJ is by how much the recorded power exceeds critical power and W′; 0 for not.
	OverdrawnJ float64
}

// Round is what the riders of one round tell together.
type Round struct {
	// Predicted is the predictions' accuracy, Known that of the rides computed with the
	// recorded power: what of the former is left when everybody's power is known.
	Predicted, Known Accuracy
	Doubts           []Doubt
}

// When a rider is doubted.
const (
	// leastField is how many riders make a field to be held against.
	leastField = 5
	// doubtDeviations and doubtPct bound how far from the field's median a ride may be, in
	// robust standard deviations (a usual bound for outliers; common practice) and in per
	// cent of time: published models were off by 3.2 to 3.9 % on average (Rømcke et al. 2019,
	// icSPORTS).
	doubtDeviations = 3.0
	doubtPct        = 4.0
	// overdrawnShare of W′ is what the balance may fall below zero before the capability is
	// doubted: fits of W′ have errors of that size (common practice).
	overdrawnShare = 0.15
	// madToSD turns the median of deviations into the standard deviation of a normal error.
	madToSD = 1.4826
)

// Together tells of a round's outcomes.
func Together(outcomes []Outcome) Round {
	var predicted, known []float64
	var with []Outcome
	for _, o := range outcomes {
		a := o.Account
		predicted = append(predicted, off(a.MovingS, a.PredictedS))
		if !math.IsNaN(a.SameEffortS) {
			known = append(known, off(a.MovingS, a.SameEffortS))
			with = append(with, o)
		}
	}
	r := Round{Predicted: accuracy(predicted), Known: accuracy(known)}
	middle, sd := median(known), 0.0
	if len(known) >= leastField {
		sd = madToSD * median(around(known, middle))
	}
	for i, o := range with {
		d := Doubt{ID: o.ID, Rider: o.Rider, OffPct: known[i], AgainstFieldPct: known[i] - middle}
		a := o.Account
		late := a.SameEffortS * d.AgainstFieldPct / 100
		d.MassKg, d.PowerPct = late/a.PerKg, late/a.PerPowerPct
		if b := a.Balance; b != nil && b.MinJ < -overdrawnShare*b.J[0] {
			d.OverdrawnJ = -b.MinJ
		}
		outside := len(known) >= leastField && math.Abs(d.AgainstFieldPct) > max(doubtDeviations*sd, doubtPct)
		if outside || d.OverdrawnJ > 0 {
			r.Doubts = append(r.Doubts, d)
		}
	}
	slices.SortStableFunc(r.Doubts, func(a, b Doubt) int {
		switch sa, sb := math.Abs(a.AgainstFieldPct), math.Abs(b.AgainstFieldPct); {
		case sa > sb:
			return -1
		case sa < sb:
			return 1
		}
		return 0
	})
	return r
}

// off is by how many per cent of what was computed a ride took longer.
func off(riddenS, computedS float64) float64 { return 100 * (riddenS - computedS) / computedS }

func accuracy(offPct []float64) Accuracy {
	n := len(offPct)
	a := Accuracy{Riders: n, BiasPct: math.NaN(), BiasSEPct: math.NaN(), SpreadPct: math.NaN(), MedianPct: median(offPct), WithinPct: median(around(offPct, 0))}
	if n == 0 {
		return a
	}
	a.BiasPct = 0
	for _, v := range offPct {
		a.BiasPct += v / float64(n)
	}
	if n < 2 {
		return a
	}
	sum := 0.0
	for _, v := range offPct {
		sum += float64((v - a.BiasPct) * (v - a.BiasPct))
	}
	a.SpreadPct = math.Sqrt(sum / float64(n-1))
	a.BiasSEPct = a.SpreadPct / math.Sqrt(float64(n))
	return a
}

// around returns the sizes of deviations from a value.
func around(values []float64, from float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = math.Abs(v - from)
	}
	return out
}

// median is the middle of values, NaN of none.
func median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(values))
	return (sorted[n/2] + sorted[(n-1)/2]) / 2
}
