package race

import (
	"math"

	"parcours.example/analysis"
)

const gravity = analysis.Gravity

// body is an entrant on the set-up in the numbers that move it.
type body struct {
	// weight is in N, inertia in kg, drag the drag area in m².
	weight, inertia, drag, crr float64
	bearing, bearingPerMps     float64
	efficiency                 float64
}

// Where a step is divided, and into how many parts.
const (
	// slowMps is a low speed; fastShare and hardShare are changes of the speed within a step,
	// as shares of it.
	slowMps, fastShare, slowParts = 1.5, 0.3, 10
	hardShare, hardParts          = 0.15, 4
	// climbingParts divide a step on a slow climb, where the speed follows the slope fast.
	climbingMps, climbingParts = 6.0, 2
	// bentMps2 and brokenMps2 are changes of gravity's pull within a step.
	bentMps2, bentParts     = 0.12, 2
	brokenMps2, brokenParts = 0.4, 12
	// coastingParts divide a step near the speed above which nobody pedals downhill.
	coastingMps, coastingParts = 1.0, 3
	// limitParts divide a step near the speed limit of a bend.
	limitParts = 5
	// nearMps2 is an acceleration that hardly anybody has.
	nearMps2 = 1.5
)

// parts returns into how many parts a step of h seconds is divided.
func (x *field) parts(r *rider, h float64) int {
	parts := 1
	switch {
	case r.v < slowMps || math.Abs(r.a)*h > fastShare*r.v:
		parts = slowParts
	case math.Abs(r.a)*h > hardShare*r.v:
		parts = hardParts
	case r.v < climbingMps:
		parts = climbingParts
	}
	steeper, changes := x.ground.ahead(r, h)
	switch {
	case steeper*gravity > brokenMps2:
		parts = max(parts, brokenParts)
	case steeper*gravity > bentMps2:
		parts = max(parts, bentParts)
	}
	coasts := x.ground.cells[r.cell].coasts
	if changes && r.v > x.ground.coastMps-coastingMps || coasts && math.Abs(r.v-x.ground.coastMps) < coastingMps {
		parts = max(parts, coastingParts)
	}
	if r.nearLimit {
		parts = max(parts, limitParts)
	}
	return parts
}

// ahead returns by how much the slope's sine changes within h seconds at the speed, and
// whether riders coast on some of the way and not on the rest.
func (g *ground) ahead(r *rider, h float64) (steeper float64, changes bool) {
	c, to := &g.cells[r.cell], r.s+float64(h*r.v)
	for i := r.cell + 1; i < len(g.cells) && g.cells[i].start < to; i++ {
		d := &g.cells[i]
		steeper = max(steeper, math.Abs(d.sin-c.sin))
		changes = changes || d.coasts != c.coasts
	}
	return steeper, changes
}

// advance rides for h seconds at a power at the wheel. It solves
//
//	m·dv/dt = P/v − F(v)
//
// by the exponential midpoint rule (Rosenbrock–Euler): exact where the right side is
// linear in v, steady speeds included. The slope is the mean over the way that is
// expected; what was expected wrongly is made good in the next step, so that no height is
// lost or won.
func (x *field) advance(r *rider, b *body, wheelW, h float64) {
	r.nearLimit = x.ground.limited && x.near(r, h)
	v, parts := r.v, x.parts(r, h)
	worked := 0.0
	for range parts {
		worked += x.push(r, b, wheelW, h/float64(parts))
	}
	r.power = worked / (float64(parts) * b.efficiency)
	r.a = (r.v - v) / h
}

// expected returns the acceleration that a rider's power gives in the next step, over what
// is ahead.
func (x *field) expected(r *rider, ahead stretch) float64 {
	e, h := &x.entrants[r.entrant], x.rules.StepS
	if r.v < slowMps {
		return r.a
	}
	m := e.forceOver(ahead, r.shelter)
	wheelW := r.power * e.efficiency
	if x.ground.cells[r.cell].coasts && r.v > x.ground.coastMps {
		wheelW = 0
	}
	next, way := m.step(r.v, wheelW, e.inertia, h)
	if x.ground.limited {
		next, _ = x.ground.within(r, next, way, h)
	}
	return (next - r.v) / h
}

// stretch is what lies on some way: the means of the slope's sine, of what multiplies the
// rolling resistance and of the headwind, and half the air's density at its start.
type stretch struct{ slope, roll, head, halfDensity float64 }

// forceOver is the force against a body over a stretch in some lee.
func (b *body) forceOver(s stretch, shelter float64) force {
	return force{
		steady: float64(b.weight*(s.slope+float64(b.crr*s.roll))) + b.bearing, perMps: b.bearingPerMps,
		drag: float64(s.halfDensity * b.drag * shelter), head: s.head,
	}
}

// near tells whether the limit of a bend may be met within h seconds.
func (x *field) near(r *rider, h float64) bool {
	most := r.v + float64(nearMps2*h)
	square := most * most
	for i, to := r.cell, r.s+float64(most*h); i < len(x.ground.cells); i++ {
		c := &x.ground.cells[i]
		if c.limit < square || c.limit+float64(c.limitSlope*(c.end-c.start)) < square {
			return true
		}
		if c.end > to {
			break
		}
	}
	return false
}

// push is one step of advance. It returns the power at the wheel that was given.
func (x *field) push(r *rider, b *body, wheelW, h float64) float64 {
	c := &x.ground.cells[r.cell]
	expected := max(float64(h*(r.v+float64(h/2*r.a))), leastWayM)
	ahead := x.ground.over(r.cell, r.s, expected)
	ahead.slope += r.debt / expected
	m := b.forceOver(ahead, r.shelter)
	if c.coasts && r.v > x.ground.coastMps {
		wheelW = 0
	}
	next, way := m.step(r.v, wheelW, b.inertia, h)
	if c.coasts && r.v <= x.ground.coastMps && next > x.ground.coastMps {
		next, way, wheelW = m.coast(r.v, next, wheelW, b.inertia, h, x.ground.coastMps)
	}
	if r.nearLimit {
		slower, shorter := x.ground.within(r, next, way, h)
		wheelW = max(wheelW-b.inertia*(float64(next*next)-float64(slower*slower))/(2*h), 0)
		next, way = slower, shorter
	}
	from := c.riseAt(r.s)
	r.s += way
	r.v = next
	r.cell = x.ground.find(r.cell, r.s)
	r.debt += x.ground.cells[r.cell].riseAt(r.s) - from - float64(ahead.slope*way)
	return wheelW
}

// over returns what lies on a way that starts in a cell.
func (g *ground) over(cell int, from, way float64) stretch {
	c, to := &g.cells[cell], from+way
	s := stretch{c.sin, c.roll, c.head, c.halfDensity}
	if to <= c.end || cell+1 == len(g.cells) {
		return s
	}
	if !g.varied { // slopes change rolling resistance by too little to weigh them
		d := &g.cells[g.find(cell+1, to)]
		s.slope, s.roll = (d.riseAt(to)-c.riseAt(from))/way, (c.roll+d.roll)/2
		return s
	}
	s.slope, s.roll, s.head = 0, 0, 0
	for at := from; at < to; cell++ {
		d := &g.cells[cell]
		end := min(d.end, to)
		if cell+1 == len(g.cells) {
			end = to
		}
		share := (end - at) / way
		s.slope += float64(d.sin * share)
		s.roll += float64(d.roll * share)
		s.head += float64(d.head * share)
		at = end
	}
	return s
}

// within returns the speed at the end of a step of h seconds that would end at next m/s,
// and its way, as far as bends allow: at the first node on it, from which the speed goes on
// changing as it would have, and at the end.
func (g *ground) within(r *rider, next, way, h float64) (speed, covered float64) {
	c := &g.cells[r.cell]
	if ahead := c.end - r.s; way > ahead && r.cell+1 < len(g.cells) {
		most := math.Sqrt(max(g.cells[r.cell+1].limit, 1))
		if there := r.v + float64((next-r.v)*ahead/way); there > most {
			rest := max(h-2*ahead/(r.v+most), 0)
			next = most + float64(max(next-r.v, 0)/h*rest)
			way = ahead + float64((most+next)/2*rest)
		}
	}
	to := r.s + way
	d := &g.cells[g.find(r.cell, to)]
	most := math.Sqrt(max(d.limit+float64(d.limitSlope*(to-d.start)), 1))
	if next <= most {
		return next, way
	}
	return most, min(way, float64(h*(r.v+most)/2))
}

const (
	// stillMps is the speed below which all power goes into speed.
	stillMps = 0.3
	// leastWayM keeps slopes finite where hardly anything is ridden.
	leastWayM = 0.05
)

// force is the force against a body over a step, as a function of its speed.
type force struct {
	// steady is rolling, gravity and bearings in N, perMps the bearings' in N·s/m.
	steady, perMps float64
	// drag is ½ρ·CdA·shelter in kg/m, head the wind against it in m/s.
	drag, head float64
}

func (f *force) at(v float64) float64 {
	w := v + f.head
	return float64(f.drag*w*math.Abs(w)) + f.steady + float64(f.perMps*v)
}

// step returns the speed after h seconds from v on, and the way.
func (f *force) step(v, wheelW, inertia, h float64) (next, way float64) {
	if v < stillMps {
		square := float64(v*v) + 2*h*(wheelW-float64(f.at(v)*v))/inertia
		if wheelW == 0 && v == 0 {
			square = max(-f.steady, 0) * h / inertia
			square *= square
		}
		next = math.Sqrt(max(square, 0))
		return next, h * (v + float64(2*next)) / 3
	}
	net := wheelW/v - f.at(v)
	slope := -(wheelW/float64(v*v) + float64(2*f.drag*math.Abs(v+f.head)) + f.perMps)
	z := h * slope / inertia
	next = max(v+float64(h*net/inertia)/(1-z/2+float64(z*z)/12), 0)
	return next, h * (v + next) / 2
}

// coast returns how a step ends in which the speed reaches what nobody pedals above: from
// there on the power holds it, or the road is steep enough to go on faster without any.
func (f *force) coast(v, next, wheelW, inertia, h, coastMps float64) (speed, way, givenW float64) {
	before := h * (coastMps - v) / (next - v)
	after, pull := h-before, -f.at(coastMps)
	speed = coastMps + max(pull, 0)*after/inertia
	way = float64(before*(v+coastMps)/2) + float64(after*(coastMps+speed)/2)
	return speed, way, (float64(wheelW*before) + float64(min(max(-pull, 0)*coastMps, wheelW)*after)) / h
}
