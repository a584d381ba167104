package plan

import (
	"cmp"
	"context"
	"math"
	"slices"

	"parcours.example/analysis/ride"
)

// holding is the search for the best powers of steps whose ends are given. Steps may
// share a power: of holds the index of each step's.
type holding struct {
	*task
	spans []ride.Span
	// groups are the parts, gathered where they share their powers.
	groups []group
	endsM  []float64
	of     []int
	// least and most bound the powers.
	least, most float64
}

// tried are powers with the ride they make.
type tried struct {
	powersW []float64
	// asked are the steps, given what is ridden: the steps, with ramps from one to the next
	// where changes of power are bounded.
	asked, given []ride.Step
	ride         *ride.Ride
	// roomJ is the room within the limits, negative beyond them.
	roomJ float64
}

const (
	// holdRounds bounds the rounds of the search.
	holdRounds = 16
	// holdGain is the share of the time below which a gain isn't worth another round.
	holdGain = 2e-6
	// spareJ is the room in J that the linear model keeps.
	spareJ = 0.2
	// reachShare and reachW bound what a power may change by in a round, as a share of it
	// and of the sustained power, whichever is more.
	reachShare = 0.3
	// mostCaution is the caution beyond which no better step is expected.
	mostCaution = 300.0
	// easings is the number of tries by which powers are eased, leastEasing the first share.
	easings, leastEasing = 7, 1e-4
)

// search improves powers by sequential quadratic programming: the ride is made linear, a
// trade program in the powers solved, and the powers it gives ridden. It returns the
// fastest ride within the limits, nil where it finds none.
func (h *holding) search(ctx context.Context, powersW []float64) (*tried, error) {
	now, err := h.try(ctx, powersW)
	if err != nil || now == nil {
		return nil, err
	}
	best, caution := now.orFaster(nil), 1.0
	for round := 0; round < holdRounds && caution <= mostCaution; round++ {
		wanted, price := h.improved(now, caution)
		next, err := h.try(ctx, wanted)
		if err != nil {
			return nil, err
		}
		if next == nil || next.cost(price) >= now.cost(price) {
			caution *= 4
			continue
		}
		best = next.orFaster(best)
		gained := now.cost(price) - next.cost(price)
		now, caution = next, max(caution/4, 1)
		if gained < holdGain*now.ride.TimeS && now.roomJ >= 0 {
			break
		}
	}
	if now.roomJ < 0 {
		eased, err := h.eased(ctx, now)
		if err != nil {
			return nil, err
		}
		best = eased.orFaster(best)
	}
	return best, nil
}

// eased brings the powers above the sustained one as near to it as it takes to get within
// the limits; nil where that doesn't help.
func (h *holding) eased(ctx context.Context, now *tried) (*tried, error) {
	var best *tried
	low, high := 0.0, 1.0
	for range easings {
		mid := math.Sqrt(max(low, leastEasing) * high)
		powersW := make([]float64, len(now.powersW))
		for k, p := range now.powersW {
			powersW[k] = min(p, p+float64(mid*(h.sustained()-p)))
		}
		t, err := h.try(ctx, powersW)
		if err != nil {
			return nil, err
		}
		if t != nil && t.roomJ >= 0 {
			best, high = t, mid
		} else {
			low = mid
		}
	}
	return best, nil
}

// cost is the time, and what is beyond the limits at a price in s/J.
func (t *tried) cost(price float64) float64 {
	return t.ride.TimeS + float64(price*max(0, -t.roomJ))
}

// orFaster returns the better one of two tries, nil where neither is within the limits.
func (t *tried) orFaster(best *tried) *tried {
	if t == nil || t.roomJ < 0 || (best != nil && best.ride.TimeS <= t.ride.TimeS) {
		return best
	}
	return t
}

// try rides powers; nil where they don't get up the course.
func (h *holding) try(ctx context.Context, powersW []float64) (*tried, error) {
	asked := make([]ride.Step, len(h.endsM))
	for i, k := range h.of {
		asked[i] = ride.Step{EndM: h.endsM[i], PowerW: powersW[k]}
	}
	t := &tried{powersW: powersW, asked: asked, given: asked}
	var err error
	t.ride, err = h.simulate(ctx, asked, h.spans)
	if err == nil {
		t.roomJ = h.room(t.ride)
		// The clock by which ramps are laid is that of the ride before.
		for i := 0; i < rampings && err == nil && h.limits.ChangeWPerS > 0; i++ {
			t.given = ramped(asked, h.road, &t.ride.Trace, h.limits.ChangeWPerS)
			t.ride, err = h.simulate(ctx, t.given, h.spans)
		}
	}
	switch {
	case halts(err):
		return nil, nil
	case err != nil:
		return nil, err
	}
	t.roomJ = min(t.roomJ, h.room(t.ride))
	return t, nil
}

// improved returns the powers that the linear model takes for the best, and a price in s/J
// above that of the limits. With caution, ≥ 1, changes are taken to cost more than the model
// says, and powers change less.
func (h *holding) improved(now *tried, caution float64) (powersW []float64, price float64) {
	r := h.respond(now.ride, now.given)
	into := r.steps(h.endsM)
	q := r.program(now.ride, into, h.of, len(now.powersW))
	for k, p := range now.powersW {
		q.kink[k] = h.sustained() - p
		q.bend[k] *= caution
		far := reachShare * max(p, h.sustained()) / math.Sqrt(caution)
		q.least[k] = max(-far, min(h.least-p, 0))
		q.most[k] = min(far, max(h.most-p, 0))
	}
	change, prices := q.solve()
	powersW = make([]float64, len(change))
	for k := range change {
		powersW[k] = now.powersW[k] + change[k]
	}
	for _, p := range prices {
		price += float64(2 * p)
	}
	return powersW, max(price, 2*r.meanPrice())
}

// steps returns the step of each reach.
func (r *response) steps(endsM []float64) []int {
	into := make([]int, len(r.reaches))
	step := 0
	for i := range r.reaches {
		for step < len(endsM)-1 && endsM[step] <= (r.reaches[i].startM+r.reaches[i].endM)/2 {
			step++
		}
		into[i] = step
	}
	return into
}

// program is the convex program of the powers of steps, without bounds of the powers.
func (r *response) program(ridden *ride.Ride, into, of []int, powers int) *trade {
	q := &trade{
		gain: r.sum(r.timeBy(), into, of, powers),
		bend: make([]float64, powers), least: make([]float64, powers), most: make([]float64, powers), kink: make([]float64, powers),
	}
	q.dearest = dearest * r.meanPrice()
	total := 0.0
	for i := range r.reaches {
		q.bend[of[into[i]]] += float64(2 * r.reaches[i].curb)
		total += float64(2 * r.reaches[i].curb)
	}
	for k := range q.bend {
		q.bend[k] = max(q.bend[k], leastBend*total)
	}
	// What the ride is beyond its limits is made up for once and a half.
	beyond := float64(min(r.room(ridden), 0) / 2)
	for _, l := range r.lows(ridden, into) {
		over, under := r.balanceBy(l.sample)
		b := bound{room: l.roomJ - spareJ + beyond, over: r.sum(over, into, of, powers), under: r.sum(under, into, of, powers)}
		if l.sample > 0 {
			b.over[of[into[l.sample-1]]] -= l.neededByW
		}
		q.bounds = append(q.bounds, b)
	}
	return q
}

// dearest is the highest price of a joule of balance, in units of the mean one.
const dearest = 30.0

// leastBend keeps the curvature of a power that hardly matters off zero, as a share of all.
const leastBend = 1e-5

// sum adds up derivatives by the power on each reach to those by each power.
func (r *response) sum(by []float64, into, of []int, powers int) []float64 {
	out := make([]float64, powers)
	for i, d := range by {
		out[of[into[i]]] += d
	}
	return out
}

// meanPrice is the mean over time of what a joule is worth in s.
func (r *response) meanPrice() float64 {
	sum, time := 0.0, 0.0
	for i := range r.reaches {
		sum += float64(r.reaches[i].price * r.reaches[i].timeS)
		time += r.reaches[i].timeS
	}
	return sum / time
}

// low is a place where the balance is low.
type low struct {
	sample int
	roomJ  float64
	// neededByW is what a watt more there needs in balance, by the rider's limit.
	neededByW float64
}

// watched is how many places with a low balance bound the linear model beside the end.
const watched = 40

// lows returns the end of the road and, for each step, its end and the place in it with the
// least room; where they are too many, the valleys among them.
func (r *response) lows(ridden *ride.Ride, into []int) []low {
	n := len(r.reaches)
	if !math.IsNaN(r.limits.MeanPowerW) {
		return []low{{sample: n, roomJ: r.room(ridden)}}
	}
	var all []low
	lowest := low{roomJ: math.Inf(1)}
	for i := range n {
		l := r.lowAfter(ridden, i)
		if l.roomJ <= lowest.roomJ {
			lowest = l
		}
		if i == n-1 || into[i+1] != into[i] {
			if lowest.sample != l.sample {
				all = append(all, lowest)
			}
			all = append(all, l)
			lowest = low{roomJ: math.Inf(1)}
		}
	}
	if len(all) > watched {
		all = valleys(all)
	}
	end := low{sample: n, roomJ: ridden.Balance.EndJ - r.limits.EndReserveJ}
	return append(all[:min(len(all), watched)], end)
}

// valleys returns the places with less room than those beside them, the lowest first.
func valleys(all []low) []low {
	var found []low
	for i, l := range all {
		if (i == 0 || l.roomJ < all[i-1].roomJ) && (i == len(all)-1 || l.roomJ <= all[i+1].roomJ) {
			found = append(found, l)
		}
	}
	slices.SortStableFunc(found, func(a, b low) int { return cmp.Compare(a.roomJ, b.roomJ) })
	return found
}

// lowAfter is the room at the end of the i-th reach.
func (r *response) lowAfter(ridden *ride.Ride, i int) low {
	l := low{sample: i + 1, roomJ: ridden.Trace.WBalanceJ[i+1]}
	if above := ridden.Trace.PowerW[i] - r.capacity.CriticalPowerW; above > 0 && !math.IsNaN(r.rider.MaxPowerW) {
		l.neededByW = r.capacity.WPrimeJ / (r.rider.MaxPowerW - r.capacity.CriticalPowerW)
		l.roomJ -= float64(l.neededByW * above)
	}
	return l
}
