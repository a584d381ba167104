package ridden

import (
	"context"
	"math"
	"slices"
)

// The costs of laying anchors on the course are squares of deviations over their spread,
// as in the negative logarithm of a likelihood; those of what has no likelihood are set
// beside them. The whole ride is laid at the least cost by dynamic programming over the
// places near each anchor (hidden Markov map matching: Newson & Krumm, Hidden Markov Map
// Matching Through Noise and Sparseness, ACM GIS 2009), here along one line that is only
// ever ridden forward. A lap is therefore not told by its place but by the way to it.
const (
	// spreadM is the spread of the ride beside the course in metres: lanes, receivers,
	// and the course's own error.
	spreadM = 15.0
	// wayM and wayShare make the spread of the way between anchors along the course
	// beside that of the ride; unsureM and unsureShare where a part was not recorded.
	wayM, wayShare       = 8.0, 0.05
	unsureM, unsureShare = 30.0, 0.3
	// againstCost is that of riding against the course's direction.
	againstCost = 4.0
	// backM is how far in metres a place may fall back for noise.
	backM = 15.0
	// outsideCost is that of an anchor before or after the part of the ride that is on
	// the course: less than that of any far beside it, more than that of one on it.
	outsideCost = 3.0
	// leaveCost is that of leaving the course, awayCost that of each anchor away from it,
	// more than before or after the ride on it, and leapCost that of being elsewhere on the course than the way says.
	leaveCost, awayCost, leapCost = 12.0, 3.5, 30.0
	// secondCost is that of a second from first to last anchor on the course: of several
	// laps it leaves out what takes longest, a warm-up with its stops. metreCost is that
	// of a metre of the course before the first anchor: one lap of several that are the
	// same is the first.
	secondCost, metreCost = 0.01, 1e-6
	// mostAway bounds the places that the ride may come back from, by their costs.
	mostAway = 16
)

// state is an anchor at a place of the course, or away from it.
type state struct {
	place
	cost float64
	// before is the state of the anchor before, −1 where the ride starts here.
	before int32
	anchor int32
	away   bool
	// awayM is the way since the course was left.
	awayM float64
}

// matcher lays anchors on a course.
type matcher struct {
	line    *line
	anchors []anchor
	states  []state
	// on and away are the states of the anchor before, [on, away) and [away, end).
	on, away, end int

	pieces []int32
	places []place
}

// fix is an anchor laid on the course.
type fix struct {
	anchor int
	place
	// rejoins says that the course was left before this anchor, or a part of it left out.
	rejoins bool
}

// checkEvery is the number of anchors after which the context is looked at.
const checkEvery = 256

// match lays the anchors on the course, from the first to the last that are on it; none
// where no anchor is near. It fails with the context's error.
func match(ctx context.Context, l *line, anchors []anchor) ([]fix, error) {
	m := &matcher{line: l, anchors: anchors}
	best, least := -1, math.Inf(1)
	for k := range anchors {
		if k%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		start := len(m.states)
		m.step(k)
		for i := start; i < m.away; i++ {
			if cost := m.states[i].cost + float64(outsideCost*float64(len(anchors)-1-k)); cost < least {
				best, least = i, cost
			}
		}
	}
	return m.path(best), nil
}

// step adds the states of anchor k.
func (m *matcher) step(k int) {
	a := &m.anchors[k]
	start := len(m.states)
	m.pieces, m.places = m.line.around(a.pos, m.pieces, m.places)
	r := reach{m: m, a: a, next: m.on, cheapest: -1}
	for _, p := range m.places {
		s := state{place: p, anchor: int32(k), before: -1, cost: float64(outsideCost*float64(k)) + float64(metreCost*max(p.atM, 0))}
		r.from(&s)
		s.cost += m.beside(a, p)
		m.states = append(m.states, s)
	}
	on := len(m.states)
	m.leave(k)
	m.on, m.away, m.end = start, on, len(m.states)
}

// beside is the cost of a place for its distance and direction.
func (m *matcher) beside(a *anchor, p place) float64 {
	off := p.offM / spreadM
	return float64(off*off/2) + float64(againstCost*(1-a.heading.towards(m.line.direction(p.piece)))/2)
}

// reach finds how a place is come to best, for places in course order.
type reach struct {
	m *matcher
	a *anchor
	// next is the first state of the anchor before that lies beyond the last place looked
	// at; cheapest the one of least cost up to there.
	next, cheapest int
}

// from sets the cost of a state and the one before it.
func (r *reach) from(s *state) {
	m := r.m
	for r.next < m.away && m.states[r.next].atM <= s.atM+backM {
		if r.cheapest < 0 || m.states[r.next].cost < m.states[r.cheapest].cost {
			r.cheapest = r.next
		}
		r.next++
	}
	seconds := float64(secondCost * r.a.dt)
	if r.cheapest >= 0 {
		s.offer(r.cheapest, m.states[r.cheapest].cost+seconds+leapCost)
	}
	for i := r.next - 1; i >= m.on; i-- {
		before := &m.states[i]
		cost := wayCost(s.atM-before.atM, r.a.wayM, r.a.unsure)
		if cost > leapCost && s.atM-before.atM > r.a.wayM {
			break // and farther back all the more
		}
		s.offer(i, before.cost+seconds+cost)
	}
	for i := m.away; i < m.end; i++ {
		before := &m.states[i]
		if s.atM < before.atM-backM {
			continue
		}
		s.offer(i, before.cost+seconds+min(wayCost(s.atM-before.atM, before.awayM+r.a.wayM, true), leapCost))
	}
}

// offer takes a way to come to a state that costs less.
func (s *state) offer(before int, cost float64) {
	if cost < s.cost {
		s.cost, s.before = cost, int32(before)
	}
}

// wayCost is the cost of a way along the course beside that of the ride.
func wayCost(alongM, riddenM float64, unsure bool) float64 {
	spread := wayM + float64(wayShare*riddenM)
	if unsure {
		spread = unsureM + float64(unsureShare*riddenM)
	}
	off := (alongM - riddenM) / spread
	return float64(off * off / 2)
}

// leave adds the states of an anchor that is away from the course: those of least cost, at
// most mostAway.
func (m *matcher) leave(k int) {
	from := len(m.states)
	for i := m.on; i < m.end; i++ {
		cost := m.costAway(i)
		to := len(m.states)
		switch {
		case to < from+mostAway:
			m.states = append(m.states, state{})
		case cost < m.states[to-1].cost:
			to--
		default:
			continue
		}
		for to > from && m.states[to-1].cost > cost {
			m.states[to] = m.states[to-1]
			to--
		}
		before := &m.states[i]
		m.states[to] = state{place: before.place, cost: cost, before: int32(i), anchor: int32(k), away: true, awayM: before.awayM}
	}
	a := &m.anchors[k]
	for i := from; i < len(m.states); i++ {
		m.states[i].cost += awayCost + float64(secondCost*a.dt)
		m.states[i].awayM += a.wayM
	}
}

// costAway is the cost of a state from which the course is left, or stays left.
func (m *matcher) costAway(i int) float64 {
	if s := &m.states[i]; !s.away {
		return s.cost + leaveCost
	}
	return m.states[i].cost
}

// path returns the anchors on the course on the way to a state.
func (m *matcher) path(last int) []fix {
	var fixes []fix
	for i := last; i >= 0; i = int(m.states[i].before) {
		s := &m.states[i]
		if s.away {
			if n := len(fixes); n > 0 {
				fixes[n-1].rejoins = true
			}
			continue
		}
		f := fix{anchor: int(s.anchor), place: s.place}
		if s.before >= 0 && !m.states[s.before].away {
			a := &m.anchors[s.anchor]
			f.rejoins = wayCost(s.atM-m.states[s.before].atM, a.wayM, a.unsure) > leapCost
		}
		fixes = append(fixes, f)
	}
	slices.Reverse(fixes)
	return fixes
}
