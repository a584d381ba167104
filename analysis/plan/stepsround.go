package plan

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// rounded brings powers to whole watts within the limits: all down, then one after the
// other up by a watt as long as there is room, those first that were cut most. It returns
// nil where whole watts don't fit.
func (h *holding) rounded(ctx context.Context, exact []float64) (*tried, error) {
	least, most := math.Ceil(h.least), math.Floor(h.most)
	if least > most {
		return nil, nil
	}
	for lower := range mostLowered {
		down := make([]float64, len(exact))
		for k, p := range exact {
			down[k] = min(max(math.Floor(p+1e-9)-float64(lower), least), most)
		}
		t, err := h.try(ctx, down)
		if err != nil {
			return nil, err
		}
		if t != nil && t.roomJ >= 0 {
			return h.raised(ctx, t, exact)
		}
	}
	return nil, nil
}

const (
	// mostLowered bounds the watts by which powers are lowered to get within the limits.
	mostLowered = 4
	// mostRaisedW is how far above its exact value a power may be raised.
	mostRaisedW = 2.0
)

// raised raises whole powers watt by watt, as far as the linear model has room and then
// as far as the ride has.
func (h *holding) raised(ctx context.Context, t *tried, exact []float64) (*tried, error) {
	raises := h.raises(t, exact)
	best := t
	for low, high := 0, len(raises)+1; high-low > 1; {
		mid := (low + high) / 2
		if low == 0 && high == len(raises)+1 {
			mid = len(raises) // the linear model is right more often than not
		}
		powers := slices.Clone(t.powersW)
		for _, k := range raises[:mid] {
			powers[k]++
		}
		next, err := h.try(ctx, powers)
		if err != nil {
			return nil, err
		}
		if next != nil && next.roomJ >= 0 {
			low, best = mid, next
		} else {
			high = mid
		}
	}
	return best, nil
}

// raises returns the powers to raise by a watt each, in order, by the linear model.
func (h *holding) raises(t *tried, exact []float64) []int {
	r := h.respond(t.ride, t.given)
	q := r.program(t.ride, r.steps(h.endsM), h.of, len(exact))
	powers := slices.Clone(t.powersW)
	order := make([]int, len(exact))
	for k := range order {
		order[k] = k
	}
	var found []int
	for range int(mostRaisedW) + mostLowered {
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(exact[b]-powers[b], exact[a]-powers[a]) })
		for _, k := range order {
			if powers[k]+1 <= min(h.most, exact[k]+mostRaisedW) && q.take(k) {
				powers[k]++
				found = append(found, k)
			}
		}
	}
	return found
}

// take uses the room for one watt more of a power where there is enough.
func (q *trade) take(k int) bool {
	for j := range q.bounds {
		if q.bounds[j].room+q.bounds[j].over[k] < 0 {
			return false
		}
	}
	for j := range q.bounds {
		q.bounds[j].room += q.bounds[j].over[k]
	}
	return true
}
