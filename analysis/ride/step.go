package ride

import "math"

// mover is a bike on one piece: the equation of motion and its integration over
// distances on which the power at the wheel is constant.
type mover struct {
	resistance Resistance
	// inertia is m + I/r² in kg, perInertia is 2/inertia.
	inertia, perInertia float64
}

// leg is what one step does.
type leg struct {
	// energy is the kinetic energy at its end in J.
	energy float64
	// time is in s.
	time float64
	// path is ∫v dx in m²/s, aero the work of the air's force in J.
	path, aero float64
}

func (m *mover) speed(energy float64) float64 { return math.Sqrt(energy * m.perInertia) }

func (m *mover) energy(v float64) float64 { return 0.5 * m.inertia * v * v }

// Bounds of a step of h metres. λ = d(dE/dx)/dE is the rate at which the energy
// relaxes to the balance of power and resistance; on a slow climb it is large, but
// where the energy is near that balance already the steps needn't follow it closely.
const (
	leastRelaxation  = 0.08 // |λ|·h far from balance
	someRelaxation   = 0.7  // within 20 %
	closeRelaxation  = 1.4  // within 2 %
	steadyRelaxation = 2.0  // within 0.1 %; Runge-Kutta is stable up to 2.78
	mostChange       = 0.18 // |dE/dx|·h/E
)

// start is the state at the start of a step, and the constant power at the wheel.
type start struct {
	energy, wheelW float64
	// speed is in m/s, slowness its inverse.
	speed, slowness float64
	// aero is the air's force, net what is left to accelerate, in N.
	aero, net float64
	// launchTo is the speed up to which a launch is to be taken, 0 for no launch.
	launchTo float64
}

func (m *mover) start(energy, wheelW float64) start {
	v := m.speed(energy)
	s := start{energy: energy, wheelW: wheelW, speed: v, slowness: 1 / v, aero: m.resistance.Aero(v)}
	resistance := s.aero + m.resistance.steady + float64(m.resistance.BearingPerMps*v)
	s.net = float64(wheelW*s.slowness) - resistance
	if v < launchBelowMps && 2*resistance*v <= wheelW {
		s.launchTo = m.launchTo(v, wheelW)
	}
	return s
}

// stride returns a step in metres of at most rest that run integrates to about 10⁻⁷ of
// the energy.
func (m *mover) stride(s *start, rest float64) float64 {
	if s.launchTo > 0 {
		return min(rest, m.sprint(s.speed, s.launchTo, s.wheelW).distance)
	}
	net := math.Abs(s.net)
	rate := (float64(s.wheelW*s.slowness*s.slowness) + m.resistance.Slope(s.speed)) * s.slowness / m.inertia // |λ|
	balance := rate * s.energy
	relaxation := leastRelaxation
	switch {
	case net < 0.001*balance:
		relaxation = steadyRelaxation
	case net < 0.02*balance:
		relaxation = closeRelaxation
	case net < 0.2*balance:
		relaxation = someRelaxation
	}
	if relaxation >= rest*rate && mostChange*s.energy >= net*rest {
		return rest
	}
	h := min(relaxation/rate, mostChange*s.energy/net)
	return rest / math.Ceil(rest/h)
}

// run integrates a step of h metres, no longer than stride's.
func (m *mover) run(s *start, h float64) leg {
	if s.launchTo > 0 {
		return m.launch(s, h)
	}
	return m.rungeKutta(s, h)
}

// rungeKutta is the classical fourth-order step of dE/dx = P/v − F(v), with the
// integrals of 1/v, v and the air's force by the same weights, so that the energies
// close to rounding.
func (m *mover) rungeKutta(s *start, h float64) leg {
	r := &m.resistance
	e, k1 := s.energy, s.net
	v2 := m.speed(e + float64(h/2*k1))
	t2, a2 := 1/v2, r.Aero(v2)
	k2 := float64(s.wheelW*t2) - a2 - r.steady - float64(r.BearingPerMps*v2)
	v3 := m.speed(e + float64(h/2*k2))
	t3, a3 := 1/v3, r.Aero(v3)
	k3 := float64(s.wheelW*t3) - a3 - r.steady - float64(r.BearingPerMps*v3)
	v4 := m.speed(e + float64(h*k3))
	t4, a4 := 1/v4, r.Aero(v4)
	k4 := float64(s.wheelW*t4) - a4 - r.steady - float64(r.BearingPerMps*v4)
	w := h / 6
	return leg{
		energy: e + float64(w*(k1+float64(2*(k2+k3))+k4)),
		time:   w * (s.slowness + float64(2*(t2+t3)) + t4),
		path:   w * (s.speed + float64(2*(v2+v3)) + v4),
		aero:   w * (s.aero + float64(2*(a2+a3)) + a4),
	}
}
