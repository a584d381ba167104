package plan

import "math"

// toBoundary is the share of the room to a bound that one step may use.
const toBoundary = 0.99

// within tells whether a step keeps to a bound.
func within(was, is float64) bool { return is >= (1-toBoundary)*was }

// forward rides a share of the step into trial: the feedback gives power and brakes from
// where the ride has come to, kept within their bounds, and the equations the next node.
// It fails where the ride leaves the bounds of energy, stock or change.
func (s *sweeper) forward(share float64) bool {
	x, y := s.x, s.trial
	y.e[0], y.w[0], y.v[0] = x.e[0], x.w[0], x.v[0]
	dp := 0.0
	for k := range s.cells {
		c, fb := &s.grid.cells[k], &s.cells[k]
		de, dw := y.e[k]-x.e[k], y.w[k]-x.w[k]
		dp = float64(share*fb.power[0]) + float64(fb.power[1]*de) + float64(fb.power[2]*dw) + float64(fb.power[3]*dp)
		p := s.keep(k, x.p[k]+dp)
		dp = p - x.p[k]
		beta := 0.0
		if s.brakes {
			beta = x.beta[k] + float64(share*fb.brake[0]) + float64(fb.brake[1]*de) + float64(fb.brake[2]*dw) + float64(fb.brake[3]*dp)
			beta = max(beta, (1-toBoundary)*x.beta[k])
		}
		guess := x.e[k+1] + float64(fb.je[0]*de) + float64(fb.je[1]*dp) + float64(fb.je[2]*(beta-x.beta[k]))
		ridden := s.effective(k, p)
		y.e[k+1], y.v[k+1], y.t[k] = s.after(c, y.e[k], y.v[k], ridden, beta, guess)
		y.w[k+1] = s.restock(y.w[k], ridden, y.t[k], s.blur)
		y.p[k], y.beta[k] = p, beta
		y.rooms[k] = s.roomAt(y, k)
		if !s.inside(k) {
			return false
		}
	}
	return true
}

// keep returns a power for cell k within its own bounds.
func (s *sweeper) keep(k int, p float64) float64 {
	was := s.x.p[k]
	low := s.least[k] + float64((1-toBoundary)*(was-s.least[k]))
	high := s.most[k] - float64((1-toBoundary)*(s.most[k]-was))
	return min(max(p, low), high)
}

// inside tells whether the trial keeps to the bounds of cell k that depend on the ride.
func (s *sweeper) inside(k int) bool {
	was, is := &s.x.rooms[k], &s.trial.rooms[k]
	return !math.IsNaN(s.trial.e[k+1]) &&
		within(was.floor, is.floor) && within(was.speed, is.speed) && within(was.creep, is.creep) &&
		within(was.rider, is.rider) &&
		within(was.up, is.up) && within(was.down, is.down) &&
		within(was.least, is.least) && within(was.most, is.most)
}

// multipliers sets those of the trial: a Newton step on z·room = μ, kept near it.
func (s *sweeper) multipliers() {
	for k := range s.cells {
		was, is := &s.x.rooms[k], &s.trial.rooms[k]
		mu := s.mu * s.weight(k)
		z, old := &s.trial.z[k], &s.x.z[k]
		z.floor = multiplier(mu, old.floor, was.floor, is.floor)
		z.creep = multiplier(mu, old.creep, was.creep, is.creep)
		z.least = multiplier(mu, old.least, was.least, is.least)
		z.most = multiplier(mu, old.most, was.most, is.most)
		if s.limitPerJ > 0 {
			z.rider = multiplier(mu, old.rider, was.rider, is.rider)
		}
		if s.brakes {
			z.speed = multiplier(mu, old.speed, was.speed, is.speed)
			z.beta = multiplier(mu, old.beta, was.beta, is.beta)
		}
		if s.eased(k) {
			z.up = multiplier(mu, old.up, was.up, is.up)
			z.down = multiplier(mu, old.down, was.down, is.down)
		}
	}
}

// farFromCentre is the largest factor between z·room and μ.
const farFromCentre = 1e4

func multiplier(mu, z, was, is float64) float64 {
	if math.IsInf(is, 1) {
		return 0
	}
	next := max((mu-float64(z*(is-was)))/was, (1-toBoundary)*z)
	return min(max(next, mu/(farFromCentre*is)), farFromCentre*mu/is)
}

// central sets the multipliers of a point to the barrier's.
func (g *program) central(x *point, mu float64) {
	for k := range g.cells {
		r, m := &x.rooms[k], mu*g.weight(k)
		x.z[k] = room{
			floor: m / r.floor, speed: m / r.speed, creep: m / r.creep, least: m / r.least, most: m / r.most,
			rider: m / r.rider, beta: m / r.beta, up: m / r.up, down: m / r.down,
		}
	}
}
