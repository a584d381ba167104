package ride

import "math"

// From rest dE/dx = P/v − F is singular. While a bike gathers speed the speed itself is
// the better variable: with the net force n = P/v − F(v)
//
//	dx/dv = m·v/n,  dt/dv = m/n
//
// are smooth down to v = 0, with power (n → P/v) and without, and plain quadratures.
const (
	// launchBelowMps is the speed up to which this form is used.
	launchBelowMps = 8.0
	// launchStepMps and leastLaunchMps are the longest and the shortest step.
	launchStepMps  = 0.5
	leastLaunchMps = 0.02
	// stillMps is the speed below which a bike that can't reach it stands.
	stillMps = 0.1
)

// launchTo returns the speed up to which a step in the speed is to be taken from v, 0
// where it isn't the right form.
func (m *mover) launchTo(v, wheelW float64) float64 {
	least := max(leastLaunchMps, 0.1*v)
	if !m.gathers(v, v+least, wheelW) {
		return 0
	}
	step := launchStepMps
	for step > least && !m.gathers(v, v+step, wheelW) {
		step /= 2
	}
	return v + max(step, least)
}

// gathers reports whether from v to top at least half of the force that sets the bike
// going is left to accelerate it.
func (m *mover) gathers(v, top, wheelW float64) bool {
	resistance := m.resistance.Force(top)
	if wheelW > 0 {
		return 2*resistance*top <= wheelW
	}
	return resistance < 0 && 2*resistance <= m.resistance.Force(v)
}

// sprinted is a step in the speed.
type sprinted struct {
	leg
	distance float64
}

// launchNodes and launchWeights are those of Gauss-Legendre quadrature of order ten
// (Abramowitz & Stegun, table 25.4, n = 5).
var (
	launchNodes   = [5]float64{0, -0.538469310105683091, 0.538469310105683091, -0.906179845938663993, 0.906179845938663993}
	launchWeights = [5]float64{0.568888888888888889, 0.478628670499366468, 0.478628670499366468, 0.236926885056189088, 0.236926885056189088}
)

// sprint integrates from one speed to another.
func (m *mover) sprint(from, to, wheelW float64) sprinted {
	half := (to - from) / 2
	s := sprinted{leg: leg{energy: m.energy(to)}}
	for i, node := range launchNodes {
		v := from + float64(half*(1+node))
		dt := half * launchWeights[i] * m.inertia / (wheelW/v - m.resistance.Force(v))
		dx := float64(v * dt)
		s.time += dt
		s.distance += dx
		s.path += float64(v * dx)
		s.aero += float64(m.resistance.Aero(v) * dx)
	}
	return s
}

// launch integrates h metres. The distance is a convex function of the speed reached,
// so that Newton's method comes down to it from the highest.
func (m *mover) launch(from *start, h float64) leg {
	v, top, wheelW := from.speed, from.launchTo, from.wheelW
	s := m.sprint(v, top, wheelW)
	for range 50 {
		excess := s.distance - h
		if math.Abs(excess) <= 1e-13*h {
			break
		}
		next := top - excess*(wheelW/top-m.resistance.Force(top))/(m.inertia*top)
		if !(next > v) || next == top {
			break
		}
		top = next
		s = m.sprint(v, top, wheelW)
	}
	return s.leg
}
