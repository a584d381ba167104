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
	leastRelaxation  = 0.25 // |λ|·h far from balance
	closeRelaxation  = 0.5  // within 2 %
	steadyRelaxation = 1.0  // within 0.1 %; Runge-Kutta is stable up to 2.78
	mostChange       = 0.2  // |dE/dx|·h/E
)

// stride returns a step in metres of at most rest that run integrates to about 10⁻⁸ of
// the energy.
func (m *mover) stride(energy, wheelW, rest float64) float64 {
	v := m.speed(energy)
	if top := m.launchTo(v, wheelW); top > v {
		return min(rest, m.sprint(v, top, wheelW).distance)
	}
	push := wheelW / v
	net := math.Abs(push - m.resistance.Force(v))
	rate := (push/v + m.resistance.Slope(v)) / (m.inertia * v) // |λ|
	relaxation := leastRelaxation
	switch deviation := net / (rate * energy); {
	case deviation < 0.001:
		relaxation = steadyRelaxation
	case deviation < 0.02:
		relaxation = closeRelaxation
	}
	h := min(relaxation/rate, mostChange*energy/net)
	if h >= rest {
		return rest
	}
	return rest / math.Ceil(rest/h)
}

// run integrates a step of h metres, no longer than stride's, from a kinetic energy.
func (m *mover) run(energy, wheelW, h float64) leg {
	v := m.speed(energy)
	if top := m.launchTo(v, wheelW); top > v {
		return m.launch(v, top, wheelW, h)
	}
	return m.rungeKutta(energy, wheelW, h)
}

// rungeKutta is the classical fourth-order step of dE/dx = P/v − F(v), with the
// integrals of 1/v, v and the air's force by the same weights, so that the energies
// close to rounding.
func (m *mover) rungeKutta(e, wheelW, h float64) leg {
	r := &m.resistance
	v1 := m.speed(e)
	t1, a1 := 1/v1, r.Aero(v1)
	k1 := wheelW*t1 - a1 - r.steady - r.BearingPerMps*v1
	v2 := m.speed(e + h/2*k1)
	t2, a2 := 1/v2, r.Aero(v2)
	k2 := wheelW*t2 - a2 - r.steady - r.BearingPerMps*v2
	v3 := m.speed(e + h/2*k2)
	t3, a3 := 1/v3, r.Aero(v3)
	k3 := wheelW*t3 - a3 - r.steady - r.BearingPerMps*v3
	v4 := m.speed(e + h*k3)
	t4, a4 := 1/v4, r.Aero(v4)
	k4 := wheelW*t4 - a4 - r.steady - r.BearingPerMps*v4
	w := h / 6
	return leg{
		energy: e + w*(k1+2*(k2+k3)+k4),
		time:   w * (t1 + 2*(t2+t3) + t4),
		path:   w * (v1 + 2*(v2+v3) + v4),
		aero:   w * (a1 + 2*(a2+a3) + a4),
	}
}
