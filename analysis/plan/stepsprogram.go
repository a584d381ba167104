package plan

import "math"

// trade is a convex program in the changes d of a few powers,
//
//	minimise Σ gain·d + ½·bend·d²
//	room_j + Σ use_j(d) ≥ 0 for each bound j,  least ≤ d ≤ most
//
// in which use is over·d and, below the kink, where the threshold is crossed, goes on with
// under: what is saved below critical power comes back in part only. It is solved by its
// dual, one price at a time (Hildreth 1957, Nav. Res. Logist. Q. 4:79–85).
type trade struct {
	gain, bend, least, most, kink []float64
	bounds                        []bound
	// dearest is the highest price of a bound: one that can't be held is broken at it.
	dearest float64
}

// bound is a constraint; over and under are ≤ 0 as a rule, under ≥ over.
type bound struct {
	room        float64
	over, under []float64
}

const (
	// dualSweeps bounds the sweeps over the bounds, dualHalvings the search for one price;
	// dualTolerance is how exact prices are, as a share of the dearest.
	dualSweeps, dualHalvings = 20, 40
	dualTolerance            = 1e-6
)

// use is what a change adds to the room.
func (q *trade) use(b *bound, k int, d float64) float64 {
	kink := q.kink[k]
	switch {
	case kink >= 0 && d <= kink:
		return b.under[k] * d
	case kink >= 0:
		return float64(b.under[k]*kink) + float64(b.over[k]*(d-kink))
	case d >= kink:
		return b.over[k] * d
	}
	return float64(b.over[k]*kink) + float64(b.under[k]*(d-kink))
}

// slopes are the gain of each change less the use of the bounds at their prices.
type slopes struct{ over, under []float64 }

// solve returns the changes and the price of each bound, in units of the objective for
// each unit of room.
func (q *trade) solve() (change, prices []float64) {
	prices = make([]float64, len(q.bounds))
	s := slopes{append([]float64(nil), q.gain...), append([]float64(nil), q.gain...)}
	for range dualSweeps {
		moved := 0.0
		for j := range q.bounds {
			b := &q.bounds[j]
			price := q.price(b, prices[j], s)
			moved = max(moved, math.Abs(price-prices[j]))
			for k := range q.gain {
				s.over[k] -= float64((price - prices[j]) * b.over[k])
				s.under[k] -= float64((price - prices[j]) * b.under[k])
			}
			prices[j] = price
		}
		if moved < 10*dualTolerance*q.dearest {
			break
		}
	}
	change = make([]float64, len(q.gain))
	for k := range change {
		change[k] = q.at(k, s.over[k], s.under[k])
	}
	return change, prices
}

// at is the best change of a power whose slopes, prices included, are given.
func (q *trade) at(k int, over, under float64) float64 {
	d := max(-over/q.bend[k], min(-under/q.bend[k], q.kink[k]))
	return min(max(d, q.least[k]), q.most[k])
}

// price returns the price of a bound at which it just holds, 0 where it holds for free,
// all other prices being as in s.
func (q *trade) price(b *bound, now float64, s slopes) float64 {
	room := func(price float64) float64 {
		sum, more := b.room, price-now
		for k := range q.gain {
			if b.over[k] != 0 || b.under[k] != 0 {
				sum += q.use(b, k, q.at(k, s.over[k]-float64(more*b.over[k]), s.under[k]-float64(more*b.under[k])))
			}
		}
		return sum
	}
	if room(0) >= 0 {
		return 0
	}
	low, high, atLow := 0.0, q.dearest, room(0)
	atHigh := room(high)
	if atHigh < 0 {
		return high
	}
	// The room is piecewise linear in the price: regula falsi is exact on the last piece, and
	// halving every other time finds it.
	for n := 0; n < dualHalvings && high-low > dualTolerance*q.dearest; n++ {
		mid := low + (high-low)*atLow/(atLow-atHigh)
		if n%2 == 1 {
			mid = (low + high) / 2
		}
		if at := room(mid); at >= 0 {
			high, atHigh = mid, at
		} else {
			low, atLow = mid, at
		}
		if atHigh <= roomToleranceJ {
			break
		}
	}
	return high
}
