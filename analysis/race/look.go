package race

import (
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/shelter"
)

const (
	// wheelM is the length of a bicycle with the gap to the next wheel, from front to
	// front (common practice: 1.7 m and a hand's breadth or two).
	wheelM = 2.1
	// reachM is how far behind the wheel ahead a rider still belongs to its group.
	reachM = 20.0
	// easyMps is the speed up to which a bunch rides as wide as it may, fastMps that from
	// which on it is strung out in a line (common practice).
	easyMps, fastMps = 11.0, 17.0
	// widening is the number of riders behind the first by which a group is as wide.
	widening = 8.0
	// letGoM is how far behind the front group a rider has let it go.
	letGoM = 50.0
	// workers is how far back in a group those are looked for who work.
	workers = 12
)

// look has every rider look at what is ahead, and set a power for the next step.
func (x *field) look() {
	x.pack, x.away = x.pack[:0], x.away[:0]
	for _, i := range x.order {
		r := &x.riders[i]
		if len(x.entrants[i].orders) > 0 {
			x.obey(r)
		}
	}
	for _, i := range x.order {
		r := &x.riders[i]
		if r.attacking > 0 || r.responding > 0 {
			x.away = append(x.away, i)
		} else {
			x.pack = append(x.pack, i)
		}
	}
	x.groups(x.away)
	x.groups(x.pack)
}

// groups divides riders in order into groups.
func (x *field) groups(list []int) {
	tail := math.Inf(1)
	for start := 0; start < len(list); {
		end := start + 1
		for end < len(list) && x.riders[list[end-1]].s-x.riders[list[end]].s <= reachM+wheelM {
			end++
		}
		last := x.riders[list[end-1]].s
		if start == 0 {
			x.frontTail = last
		}
		x.group(list[start:end], tail)
		tail = last
		start = end
	}
}

// group is riders who ride together.
type group struct {
	members []int
	// ahead is the position of the last rider of the group ahead, +Inf for none.
	ahead float64
	// slot is the way from one rider to the next, spread how much of a bunch it is.
	slot, spread float64
	// pacer is the place of the one who makes the pace; willing is whether he does so
	// willingly; mates is how many there are to take turns with him.
	pacer   int
	willing bool
	mates   int
	// a is the acceleration that is expected of the pacer, under what he rides over.
	a     float64
	under stretch
	// pressing is the number of those who come through.
	pressing int
}

func (x *field) group(members []int, ahead float64) {
	g := group{members: members, ahead: ahead}
	n := len(members)
	g.slot = wheelM
	if n > 1 && x.rules.Abreast > 1 {
		v := x.riders[members[0]].v
		ease := min(max((fastMps-v)/(fastMps-easyMps), 0), 1)
		wide := float64((x.rules.Abreast - 1) * ease * min(float64(n-1)/widening, 1))
		g.slot, g.spread = wheelM/(1+wide), wide/(x.rules.Abreast-1)
	}
	x.shelter(&g)
	x.choosePacer(&g)
	x.intend(&g, g.pacer)
	if n > 1 {
		ref := &x.riders[members[g.pacer]]
		g.under = x.ground.over(ref.cell, ref.s, max(float64(x.rules.StepS*ref.v), leastWayM))
		g.a = x.expected(ref, g.under)
	}
	for k := range members {
		if k != g.pacer {
			x.intend(&g, k)
		}
	}
}

// shelter gives every rider of a group the drag that is left in the lee of those ahead.
// What stands between a rider and the lee of the many is the gap before anyone ahead: the
// number of riders whose lee counts is cut by each.
func (x *field) shelter(g *group) {
	n := len(g.members)
	lee, gutter := 0.0, 1.0
	if x.rules.Echelons && n > 1 {
		first := &x.riders[g.members[0]]
		c := &x.ground.cells[first.cell]
		gutter = shelter.Gutter(elementary.Atan2(math.Abs(c.cross), max(first.v+c.head, 0)) * 180 / math.Pi)
	}
	for k, i := range g.members {
		r := &x.riders[i]
		switch {
		case x.rules.Alone:
			r.shelter = 1
		case k == 0:
			r.shelter = x.lee.Factor(0, n, g.spread, 0)
		default:
			gap := max(x.riders[g.members[k-1]].s-r.s-g.slot, 0)
			lee++
			r.shelter = x.leeAt(lee, n, g.spread, gap)
			lee *= (1 - shelter.Gap(gap)) / x.nearest
			if gutter < 1 {
				r.shelter = 1 - float64((1-r.shelter)*shelter.Echelon(k, x.rules.Abreast, gutter))
			}
		}
	}
}

// leeAt is the table's factor for a number of riders ahead that needn't be whole.
func (x *field) leeAt(ahead float64, n int, spread, gap float64) float64 {
	whole := int(ahead)
	f := x.lee.Factor(whole, n, spread, gap)
	if part := ahead - float64(whole); part > 1e-3 && whole+1 < n {
		f += float64(part * (x.lee.Factor(whole+1, n, spread, gap) - f))
	}
	return f
}

// choosePacer finds who makes the pace: whoever leads another out, else of those who are
// willing the first who is rested, or who is nearest to it, else the first of all.
func (x *field) choosePacer(g *group) {
	first := -1
	for k, i := range g.members {
		r := &x.riders[i]
		if !r.works() {
			continue
		}
		g.mates++
		switch {
		case k >= workers:
		case r.leading && !g.willing:
			g.pacer, g.willing = k, true
		case math.IsInf(r.resting, 1):
		case first < 0 || r.resting < x.riders[g.members[first]].resting:
			first = k
		}
	}
	if !g.willing && first >= 0 {
		g.pacer, g.willing = first, true
	}
}

// least shares of W′ with which a rider works for the group, and comes through.
const (
	leastToWork  = 0.15
	leastToPress = 0.3
)

// works tells whether a rider would make the pace.
func (r *rider) works() bool {
	if r.attacking > 0 || r.leading {
		return true
	}
	return r.does == ShareWork && !r.sprinting && r.responding <= 0 && r.balance > leastToWork*r.wPrime
}

// startS and startMps are the time and the speed up to which all start by themselves.
const startS, startMps = 20.0, 6.0

// intend sets the power of the rider at a place of a group.
func (x *field) intend(g *group, k int) {
	r := &x.riders[g.members[k]]
	e := &x.entrants[r.entrant]
	if !x.raced || x.rules.Alone {
		r.free(float64(r.form * r.effort(e, x.rules.StepS)))
		return
	}
	r.pacing = k == g.pacer
	x.count(g, k, r)
	x.contend(g, k, r)
	ref := &x.riders[g.members[g.pacer]]
	switch {
	case x.now < startS && r.v < startMps: // nobody waits for the wheel ahead to move
		r.free(x.ownW(r))
	case r.sprinting:
		r.free(x.sprintW(r))
	case r.attacking > 0:
		r.free(r.spendOver(r.attacking, attackKeeps))
	case k == g.pacer:
		x.pace(g, r)
	case r.ledBy >= 0:
		lead := &x.riders[r.ledBy]
		x.follow(r, lead.s-g.slot, lead.v, lead.a, brakingMps2, r.spendOver(shortS, holdKeeps))
	case r.leading:
		x.follow(r, ref.s+g.slot, ref.v+passingMps, g.a, brakingMps2, r.spendOver(shortS, holdKeeps))
	case k < g.pacer: // lets the one who works come by
		x.follow(r, ref.s-float64(g.slot*float64(g.pacer-k)), ref.v-min(passingMps, float64(0.1*ref.v)), 0, gentleMps2, r.holdW())
	case x.comesThrough(g, r, ref):
		g.pressing++
		x.follow(r, ref.s+g.slot, ref.v+passingMps, g.a, brakingMps2, min(r.holdW(), x.pullW(g, r, x.ownW(r))))
	default:
		x.keep(g, k, r, ref)
	}
}

// keep holds a place in a group: as long after the pacer, place by place, as the wheels
// between them take at the group's speed. So all go round a bend or over a crest at the
// speed that the pacer had there, and the last ones needn't chase after each.
func (x *field) keep(g *group, k int, r, ref *rider) {
	v, a := ref.v, g.a
	back := float64(g.slot * x.placeOf(g, k, r))
	off := ref.s - r.s - float64(back/spacing(ref, ref.v)*max(ref.v, 1))
	if next := r.cell + 1; ref.cell > next && x.trail[r.cell].passedAt >= 0 && x.trail[next].passedAt >= 0 {
		c, here, then := &x.ground.cells[r.cell], &x.trail[r.cell], &x.trail[next]
		way := (r.s - c.start) / (c.end - c.start)
		v = here.v + float64((then.v-here.v)*way)
		a = v * (then.v - here.v) / (c.end - c.start)
		lag := x.now - here.passedAt - float64((then.passedAt-here.passedAt)*way)
		off = float64((lag - back/spacing(ref, v)) * r.v)
	}
	if wheel := x.riders[g.members[k-1]].s - g.slot - looseM - r.s; wheel > off && !x.positions(r) {
		off = wheel // closes up where those ahead have
	}
	x.follow(r, r.s+off, v, a, brakingMps2, r.holdW())
}

// spacing is the speed by which places behind a pacer become times: the group's, but not so
// much lower than the speed there that wheels would come apart over a crest.
func spacing(pacer *rider, v float64) float64 { return max(pacer.cruise, closeOver*v, 1) }

// positions tells whether a rider fights for a place before the next line: for the finish
// everybody does, for another who is to sprint for it.
func (x *field) positions(r *rider) bool {
	to := x.contested[r.contest].at - r.s
	return to < placesS*max(r.cruise, 5) && (r.contest == len(x.contested)-1 || x.ordered(r, r.contest))
}

// placeOf is the place behind the pacer that a rider takes: the one he has, and where
// places are fought for one by luck, nearer the front for who is to sprint.
func (x *field) placeOf(g *group, k int, r *rider) float64 {
	if !x.positions(r) {
		return float64(k - g.pacer)
	}
	wish := r.wish
	if x.ordered(r, r.contest) {
		wish *= sprintersWish
	}
	return 1 + float64(wish*float64(len(g.members)-1))
}

const (
	// passingMps is by how much faster one goes than another whom he passes.
	passingMps = 0.7
	// gentleMps2 and brakingMps2 are decelerations of who lets others by and of who keeps a
	// distance.
	gentleMps2, brakingMps2 = 0.4, 2.5
	// looseM is the gap behind a wheel that isn't worth an effort of its own.
	looseM = 4.0
	// closeOver is the inverse of how much wider wheels come apart over a crest.
	closeOver = 0.85
	// pressing is by how much a rider's own effort must exceed what the pace takes, fresher
	// how much more than that a turn at the front must; mostPressing is the number of those
	// who come through at once.
	pressing, fresher = 1.03, 1.07
	mostPressing      = 3
)

// presses tells whether the pace is too slow for a rider, who then comes through.
func (x *field) presses(g *group, r, ref *rider) bool {
	if !r.works() || r.resting > 0 || r.balance < leastToPress*r.wPrime {
		return false
	}
	c := &x.ground.cells[ref.cell]
	if c.coasts && ref.v > x.ground.coastMps-passingMps {
		return false
	}
	// what it takes to be in the pacer's place, moving as he does
	e := &x.entrants[r.entrant]
	f := e.forceOver(g.under, ref.shelter)
	margin := pressing
	if r.comingThrough {
		margin = 1
	}
	own := x.ownW(r)
	return max(own, x.pullW(g, r, own)/fresher)*e.efficiency > float64(margin*(f.at(ref.v)+float64(e.inertia*g.a)))*ref.v
}

// comesThrough tells whether a rider goes to make the pace, and remembers it.
func (x *field) comesThrough(g *group, r, ref *rider) bool {
	r.comingThrough = g.pressing < mostPressing && x.presses(g, r, ref)
	return r.comingThrough
}

// free lets a rider give a power, whatever the speed.
func (r *rider) free(powerW float64) { r.power, r.most = powerW, math.Inf(1) }

// How a wheel is followed: the difference of speeds is made good within speedS, a
// distance critically damped.
const (
	speedS     = 3.0
	distanceS2 = 4 * speedS * speedS
	mostMps2   = 1.2
)

// follow sets the power that brings a rider to a place that moves at v m/s, changing by a
// m/s², up to mostW.
func (x *field) follow(r *rider, at, v, a, braking, mostW float64) {
	b := &x.entrants[r.entrant].body
	a += (v-r.v)/speedS + (at-r.s)/distanceS2
	a = min(max(a, -braking), mostMps2)
	h := x.rules.StepS
	v = r.v + float64(a*h/2) // halfway through the step
	f := b.forceOver(x.ground.over(r.cell, r.s, max(float64(h*v), leastWayM)), r.shelter)
	wheelW := (float64(b.inertia*a) + f.at(v)) * max(v, 1)
	if wheelW <= 0 {
		r.power, r.most = 0, max(r.v+float64(a*x.rules.StepS), 0)
		return
	}
	r.free(min(wheelW/b.efficiency, mostW))
}

// count keeps the books of who is at the front and who was let go.
func (x *field) count(g *group, k int, r *rider) {
	h := x.rules.StepS
	if k == 0 && len(g.members) > 1 {
		r.front += h
	}
	r.resting = max(r.resting-h, 0)
	r.attacking = max(r.attacking-h, 0)
	r.responding = max(r.responding-h, 0)
	front := math.IsInf(g.ahead, 1)
	switch {
	case front && r.behind:
		r.behind = false
		x.happened(CameBack, r)
	case !front && !r.behind && x.frontTail-r.s > letGoM:
		r.behind = true
		x.happened(LetGo, r)
	}
}
