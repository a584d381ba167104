package plan

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sort"
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
			if p < restW && least == 0 {
				down[k] = 0
			}
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
	// mostRaisedW is how far above its exact value a power may be raised; the last step may
	// be raised by as much as is left.
	mostRaisedW, mostLastRaisedW = 2.0, 400.0
	// restW is the power below which a rider rests.
	restW = 15.0
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
			rests := powers[k] == 0 && exact[k] < restW
			if !rests && powers[k]+1 <= min(h.most, exact[k]+mostRaisedW) && q.take(k) {
				powers[k]++
				found = append(found, k)
			}
		}
	}
	for last := h.of[len(h.of)-1]; powers[last]+1 <= min(h.most, exact[last]+mostLastRaisedW) && q.take(last); {
		powers[last]++
		found = append(found, last)
	}
	return found
}

const (
	// sprintS is how long the finish is that is set off from a last step of at least
	// longLastS, so that it can take what whole watts leave.
	sprintS, longLastS = 90.0, 240.0
)

// withFinish sets the finish off as a step of its own where the last step is long.
func (h *holding) withFinish(found *tried) []float64 {
	last := len(h.endsM) - 1
	tr, from, inPart := &found.ride.Trace, 0.0, 0
	if last > 0 {
		from = h.endsM[last-1]
	}
	finish := h.groups[len(h.groups)-1]
	for _, end := range h.endsM {
		if end > finish[len(finish)-1].StartM {
			inPart++
		}
	}
	shared := slices.Contains(h.of[:last], h.of[last])
	if shared || inPart >= mostSteps || found.ride.TimeS-stateAt(tr, from).timeS < longLastS {
		return found.powersW
	}
	at := sort.Search(len(tr.TimeS), func(i int) bool { return tr.TimeS[i] >= found.ride.TimeS-sprintS })
	end := math.Round(tr.DistanceM[at])
	if end <= from || end >= h.endsM[last] {
		return found.powersW
	}
	h.endsM = slices.Insert(h.endsM, last, end)
	h.of = append(h.of, len(found.powersW))
	return append(slices.Clone(found.powersW), found.powersW[h.of[last]])
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
