package aid

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sort"
)

// MostAids bounds the aids that are used together.
const MostAids = 6

// Planned is one use of a joint plan.
type Planned struct {
	// Aid is its index, AtM the place.
	Aid int
	AtM float64
	// EarnedM is the place of the pass that earned it; NaN for an aid in hand at the start.
	EarnedM float64
	// AloneS is what the use gains on its own, in seconds.
	AloneS float64
}

// Joint is the best joint use of several aids, as often as they can be earned.
type Joint struct {
	Uses []Planned
	// GainS is the time gained at the scene's line by all uses in one ride, in seconds.
	GainS float64
}

// AloneS is the sum of what the uses gain each on its own, in seconds.
func (j *Joint) AloneS() float64 {
	sum := 0.0
	for _, u := range j.Uses {
		sum += u.AloneS
	}
	return sum
}

// Together finds the best joint use of aids, of which at most MostAids are given with what
// Find found for them on the same scene. The uses are chosen among the places found so
// that the sum of their gains is highest, then ridden together in one ride. Errors are
// those of Find.
func Together(ctx context.Context, s *Scene, aids []Aid, found []*Found) (*Joint, error) {
	c := newChoice(aids, found)
	if err := c.solve(ctx); err != nil {
		return nil, err
	}
	j := &Joint{Uses: c.uses()}
	var err error
	j.GainS, err = rideAll(ctx, s, aids, j.Uses)
	return j, err
}

// rideAll rides with all uses and returns the time gained.
func rideAll(ctx context.Context, s *Scene, aids []Aid, uses []Planned) (float64, error) {
	w, gainS := s.Ride.Walk(s.Road), 0.0
	for i := 0; i < len(uses); {
		// From the first use on, and on through those that follow before the speed is that
		// of the plain ride again.
		if err := w.Seek(ctx, uses[i].AtM); err != nil {
			return 0, err
		}
		one := trial{scene: s, walk: w}
		beforeS, again := 0.0, false
		for !again && i < len(uses) && w.AtM() <= uses[i].AtM+sameM {
			one.aid, one.bike = &aids[uses[i].Aid], aids[uses[i].Aid].on(s.Ride.Bike)
			one.start()
			i++
			for _, stop := range stops(s, w.AtM(), uses[i:]) {
				var err error
				if again, err = one.to(ctx, stop); err != nil {
					return 0, err
				}
				if again {
					break
				}
				if math.Abs(stop-s.FromM) <= sameM {
					beforeS = w.AheadS()
				}
			}
		}
		if w.AtM() > s.FromM+sameM {
			gainS += w.AheadS() - beforeS
		}
	}
	return gainS, nil
}

// stops are the places to which a ride goes on from a use: to where the time begins, and to
// the next use or the line.
func stops(s *Scene, atM float64, next []Planned) []float64 {
	end := s.LineM
	if len(next) > 0 {
		end = min(end, next[0].AtM)
	}
	if atM < s.FromM-sameM && s.FromM < end {
		return []float64{s.FromM, end}
	}
	return []float64{end}
}

// choice chooses uses by dynamic programming along the course. Its state is what the rider
// has in hand: the aids from the start that are left, and the one that is held.
type choice struct {
	aids   []Aid
	events []event
	// given are the indices of the aids in hand at the start.
	given []int
	// nextPass[e] is the first pass from event e on.
	nextPass []int
	// worth[e][hand] is the most that can still be gained from event e on.
	worth [][]float64
}

// event is a pass, which offers aids, or a place at which aids may be used.
type event struct {
	atM    float64
	offers []int
	uses   []candidate
}

// candidate is a use of an aid that is worth anything.
type candidate struct {
	aid          int
	gainS, endsM float64
	// end is the first event at which the aid works no more.
	end int
}

// hand is what a rider has: bit k is set while the k-th aid in hand at the start is left;
// above those bits stands the aid that is held, by its index plus one.
type hand int

func newChoice(aids []Aid, found []*Found) *choice {
	c := &choice{aids: aids}
	all := map[float64]*event{}
	at := func(atM float64, pass bool) *event {
		key := atM
		if pass {
			key = -1 - atM // apart from a use at the same place
		}
		if all[key] == nil {
			all[key] = &event{atM: atM}
		}
		return all[key]
	}
	for k := range aids {
		if len(aids[k].EarnedM) == 0 {
			c.given = append(c.given, k)
		}
		for _, m := range aids[k].EarnedM {
			e := at(m, true)
			e.offers = append(e.offers, k)
		}
		for _, u := range found[k].all() {
			e := at(u.AtM, false)
			same := slices.ContainsFunc(e.uses, func(other candidate) bool { return other.aid == k })
			if u.GainS > 0 && !same {
				e.uses = append(e.uses, candidate{aid: k, gainS: u.GainS, endsM: u.EndsM})
			}
		}
	}
	for _, e := range all {
		c.events = append(c.events, *e)
	}
	slices.SortFunc(c.events, func(a, b event) int { // passes come first
		return cmp.Or(cmp.Compare(a.atM, b.atM), cmp.Compare(len(b.offers), len(a.offers)))
	})
	c.index()
	return c
}

// index notes what follows each event.
func (c *choice) index() {
	n := len(c.events)
	c.nextPass = make([]int, n+1)
	c.nextPass[n] = n
	for e := n - 1; e >= 0; e-- {
		c.nextPass[e] = c.nextPass[e+1]
		if len(c.events[e].offers) > 0 {
			c.nextPass[e] = e
		}
		for i := range c.events[e].uses {
			u := &c.events[e].uses[i]
			u.end = max(sort.Search(n, func(k int) bool { return c.events[k].atM >= u.endsM }), e+1)
		}
	}
}

// hands is the number of states.
func (c *choice) hands() int { return (len(c.aids) + 1) << len(c.given) }

// held is the index of the aid that is held, −1 for none.
func (c *choice) held(h hand) int { return int(h)>>len(c.given) - 1 }

// take returns the hand with an aid held.
func (c *choice) take(h hand, aid int) hand { return h | hand((aid+1)<<len(c.given)) }

// spend returns the hand without an aid, and whether it was in it.
func (c *choice) spend(h hand, aid int) (hand, bool) {
	if k := slices.Index(c.given, aid); k >= 0 {
		return h &^ (1 << k), h&(1<<k) != 0
	}
	return h & (1<<len(c.given) - 1), c.held(h) == aid
}

// solve fills worth from the end of the course back.
func (c *choice) solve(ctx context.Context) error {
	c.worth = make([][]float64, len(c.events)+1)
	c.worth[len(c.events)] = make([]float64, c.hands())
	for e := len(c.events) - 1; e >= 0; e-- {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		c.worth[e] = make([]float64, c.hands())
		for h := range c.worth[e] {
			c.worth[e][h], _ = c.best(e, hand(h))
		}
	}
	return nil
}

// move is what a rider does at an event: takes an aid that is offered, uses one, or
// neither.
type move struct {
	// takes is the index of the aid that is taken, −1 for none; uses is nil for none.
	takes int
	uses  *candidate
	// next and hand are how it goes on.
	next int
	hand hand
}

// best returns the most that can be gained from an event on, and the move that does.
func (c *choice) best(e int, h hand) (float64, move) {
	ev := &c.events[e]
	most, best := c.worth[e+1][h], move{takes: -1, next: e + 1, hand: h}
	if len(ev.offers) > 0 && c.held(h) < 0 {
		most = math.Inf(-1)
		for _, k := range ev.offers {
			if v := c.worth[e+1][c.take(h, k)]; v > most {
				most, best = v, move{takes: k, next: e + 1, hand: c.take(h, k)}
			}
		}
	}
	for i := range ev.uses {
		u := &ev.uses[i]
		left, ok := c.spend(h, u.aid)
		if !ok {
			continue
		}
		v, _ := c.after(e+1, left, u.end)
		if v += u.gainS; v > most+gradeS {
			most, best = v, move{takes: -1, uses: u, next: e + 1, hand: left}
		}
	}
	return most, best
}

// after returns the most that can be gained from an event on by who can use nothing before
// another one, and the first move.
func (c *choice) after(e int, h hand, end int) (float64, move) {
	pass := c.nextPass[e]
	if pass >= end || c.held(h) >= 0 {
		return c.worth[end][h], move{takes: -1, next: end, hand: h}
	}
	most, best := math.Inf(-1), move{}
	for _, k := range c.events[pass].offers {
		if v := c.worth[end][c.take(h, k)]; v > most {
			most, best = v, move{takes: k, next: pass + 1, hand: c.take(h, k)}
		}
	}
	return most, best
}

// uses follows the best moves from the start.
func (c *choice) uses() []Planned {
	var uses []Planned
	earnedM, end := math.NaN(), 0
	e, h := 0, hand(1<<len(c.given)-1)
	for e < len(c.events) {
		var m move
		if e < end {
			_, m = c.after(e, h, end)
		} else {
			_, m = c.best(e, h)
		}
		switch {
		case m.takes >= 0:
			earnedM = c.events[m.next-1].atM
		case m.uses != nil:
			u := Planned{Aid: m.uses.aid, AtM: c.events[e].atM, EarnedM: earnedM, AloneS: m.uses.gainS}
			if len(c.aids[u.Aid].EarnedM) == 0 {
				u.EarnedM = math.NaN()
			}
			uses, end = append(uses, u), m.uses.end
		}
		e, h = m.next, m.hand
	}
	return uses
}
