package plan

import (
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
)

// loss tells what it costs to hold one power P over a stretch of a plan, in s:
//
//	∫ c·(P − p)² + g·(P − p) dx
//
// p is the plan's power, c half the curvature of the time lost by it, and g the
// gradient, which is zero where the plan's power is free and a best one: it counts where
// the plan is at a bound, as in the first metres from standstill, and beyond the
// threshold, since what is saved below critical power comes back in part only. Short
// changes of power hardly reach the speed, so that the p of the square is smoothed over
// the length in which a change of speed dies away.
type loss struct {
	// atM are the samples' positions, sums the sums up to each.
	atM  []float64
	sums []lossSum
	// limitW is the rider's limit at each sample.
	limitW []float64
	// least and most bound the power.
	least, most, thresholdW float64
}

// lossSum is what a stretch costs: curb·P² − 2·pull·P + fixed + (over or under)·(P −
// threshold), over above the threshold and under below it.
type lossSum struct{ curb, pull, fixed, over, under, timeS float64 }

func (s lossSum) plus(o lossSum, factor float64) lossSum {
	return lossSum{
		s.curb + float64(factor*o.curb), s.pull + float64(factor*o.pull), s.fixed + float64(factor*o.fixed),
		s.over + float64(factor*o.over), s.under + float64(factor*o.under), s.timeS + float64(factor*o.timeS),
	}
}

// cost is what the best power costs over a stretch, of those of at most some watts.
func (l *loss) cost(s lossSum, most float64) float64 {
	curb := max(s.curb, leastCurb)
	power := max((s.pull-s.over/2)/curb, min((s.pull-s.under/2)/curb, l.thresholdW))
	power = max(min(power, most), l.least)
	slope := s.under
	if power > l.thresholdW {
		slope = s.over
	}
	return float64(power*(float64(s.curb*power)-float64(2*s.pull))) + s.fixed + float64(slope*(power-l.thresholdW))
}

// leastCurb stands for a curvature of nothing, in s/W².
const leastCurb = 1e-12

// loss is that of a plan, which is taken for a best one unless it fell back.
func (h *holding) loss(p *Plan) *loss {
	r := h.respond(p.Ride, p.Powers)
	l := &loss{least: h.least, most: h.most, thresholdW: h.sustained(), atM: []float64{0}, limitW: []float64{h.most}, sums: make([]lossSum, 1, len(r.reaches)+1)}
	smooth := r.smoothed()
	over, under := r.reduced(p.Ride, h.least, h.most)
	for i := range r.reaches {
		x := &r.reaches[i]
		limit := h.most
		if w := p.Ride.Trace.WBalanceJ; w != nil {
			limit = min(limit, h.limitW(w[i+1]))
		}
		over, under := over[i], under[i]
		if !p.FellBack {
			over, under = l.atBest(x.powerW, limit, over, under)
		}
		g := over
		if x.powerW < l.thresholdW {
			g = under
		}
		l.atM, l.limitW = append(l.atM, x.endM), append(l.limitW, limit)
		l.sums = append(l.sums, l.sums[i].plus(lossSum{
			curb: x.curb, pull: x.curb * smooth[i], fixed: float64(x.curb*smooth[i]*smooth[i]) + float64(g*(l.thresholdW-x.powerW)),
			over: over, under: under, timeS: x.timeS,
		}, 1))
	}
	return l
}

// evenCurb is the curvature of evenly, in s of loss for each s and W².
const evenCurb = 4e-5

// evenly is a plainer measure: how far the power is from the plan's, at all places alike.
// Where much of the balance is spent and comes back within a step, what is lost isn't seen
// from near the plan.
func (l *loss) evenly() *loss {
	e := *l
	e.sums = make([]lossSum, len(l.sums))
	for i := 1; i < len(l.sums); i++ {
		d := l.sums[i].plus(l.sums[i-1], -1)
		p := 0.0
		if d.curb > 0 {
			p = d.pull / d.curb
		}
		curb := evenCurb * d.timeS
		e.sums[i] = e.sums[i-1].plus(lossSum{curb: curb, pull: curb * p, fixed: float64(curb * p * p), timeS: d.timeS}, 1)
	}
	return &e
}

// nearW is how near to a bound or to the threshold a power is at it.
const nearW = 1.0

// atBest returns gradients as they are at a best power: nothing is gained by less below a
// bound, by more above one, and by either elsewhere; at the threshold both ways lose. What
// crossing the threshold costs stays.
func (l *loss) atBest(powerW, limitW, over, under float64) (bestOver, bestUnder float64) {
	crossing := max(over-under, 0)
	switch {
	case powerW > l.thresholdW+nearW:
		if powerW < limitW-nearW {
			over = 0
		}
		over = min(over, 0)
		return over, over - crossing
	case powerW < l.thresholdW-nearW:
		if powerW > l.least+nearW {
			under = 0
		}
		under = max(under, 0)
		return under + crossing, under
	}
	return max(over, 0), min(under, 0)
}

// limitAt is the rider's limit at a position.
func (l *loss) limitAt(m float64) float64 {
	return l.limitW[min(sort.SearchFloat64s(l.atM, m), len(l.limitW)-1)]
}

// to returns the sums up to a position.
func (l *loss) to(m float64) lossSum {
	i := sort.SearchFloat64s(l.atM, m)
	switch {
	case i == 0:
		return lossSum{}
	case i == len(l.atM):
		return l.sums[i-1]
	}
	share := (m - l.atM[i-1]) / (l.atM[i] - l.atM[i-1])
	return l.sums[i-1].plus(l.sums[i].plus(l.sums[i-1], -1), share)
}

// smoothed returns the power on each reach as far as the speed follows it: an
// exponential mean forwards and backwards, so that nothing moves along the road. Twice
// over lag/√2 weakens a wave of long length as once over the lag does.
func (r *response) smoothed() []float64 {
	p := make([]float64, len(r.reaches))
	mean := r.reaches[0].powerW
	pass := func(i int, from float64) {
		x := &r.reaches[i]
		keep := elementary.Exp(-math.Sqrt2 * (x.endM - x.startM) / x.lagM)
		mean = from + float64((mean-from)*keep)
		p[i] = mean
	}
	for i := range p {
		pass(i, r.reaches[i].powerW)
	}
	for i := len(p) - 1; i >= 0; i-- {
		pass(i, p[i])
	}
	return p
}

// reducedBlocks is the number of stretches for which the limits' prices are found.
const reducedBlocks = 120

// reduced returns the derivatives of the time by the power on each reach, the use of the
// balance included at its price, above and below the threshold. The prices are those of
// the convex program over equal stretches. What the rider's limit needs of the balance for
// the power itself is left out: there the power is at a bound.
func (r *response) reduced(ridden *ride.Ride, least, most float64) (over, under []float64) {
	ends, of := make([]float64, reducedBlocks), make([]int, reducedBlocks)
	for k := range ends {
		ends[k], of[k] = r.road.LengthM()*float64(k+1)/reducedBlocks, k
	}
	into := r.steps(ends)
	q := r.program(ridden, into, of, reducedBlocks)
	for k := range of {
		q.least[k], q.most[k], q.kink[k] = math.Inf(-1), math.Inf(1), math.Inf(-1)
	}
	for i := range r.reaches {
		k, p := into[i], r.reaches[i].powerW
		q.kink[k] = max(q.kink[k], r.sustained()-p)
		q.least[k], q.most[k] = max(q.least[k], min(least-p, 0)), min(q.most[k], max(most-p, 0))
	}
	_, prices := q.solve()
	over = r.timeBy()
	under = slices.Clone(over)
	for j, l := range r.lows(ridden, into) {
		if prices[j] > 0 {
			a, b := r.balanceBy(l.sample)
			subtract(over, prices[j], a)
			subtract(under, prices[j], b)
		}
	}
	return over, under
}

func subtract(from []float64, price float64, d []float64) {
	for i := range d {
		from[i] -= float64(price * d[i])
	}
}
