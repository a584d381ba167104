package ride

import "math"

// motion is a ride under way.
type motion struct {
	mover
	road       *Road
	efficiency float64

	// piece is the piece under the wheels, at the road metres done on it.
	piece *Piece
	at    float64
	// kinetic is the kinetic energy in J, clock the time in s, work the rider's work.
	kinetic, clock, work float64
	// ridden is the road behind in m, launchedAt that at the last start from a stand,
	// highest the highest kinetic energy.
	ridden, launchedAt, highest float64
	account                     EnergyAccount

	// coast is the kinetic energy above which nobody pedals on this piece, +Inf where
	// they always do.
	coast float64
	// halfInertia turns the square of a speed into a kinetic energy.
	halfInertia float64
}

// coastBelow is the gradient below which riders freewheel. The margin keeps a road of
// exactly −1 % on one side whatever the rounding.
const coastBelow = -0.01 - 1e-9

// Coasts tells whether nobody pedals above the conditions' coasting speed on a piece of the
// road: on gradients below −1 %, outdoors.
func (r *Road) Coasts(p *Piece) bool { return !r.Conditions.Indoor && p.Gradient < coastBelow }

const (
	// slowestMps is the speed that has to be kept after startingM metres of road.
	slowestMps = 0.5
	startingM  = 100.0
	// limitMargin is the relative rounding within which an energy is on a line.
	limitMargin = 1e-12
)

// enter puts the bike at the start of a piece.
func (m *motion) enter(p *Piece, r Resistance) {
	m.piece, m.at, m.resistance = p, 0, r
	m.coast = math.Inf(1)
	if m.road.Coasts(p) {
		m.coast = m.energy(m.road.Conditions.CoastAboveMps)
	}
	if limit := m.limit(0); m.kinetic > limit {
		m.account.BrakingJ += m.kinetic - limit
		m.kinetic = limit
	}
}

// limit is the highest kinetic energy allowed at x metres of road on the piece.
func (m *motion) limit(x float64) float64 { return float64(m.halfInertia * m.piece.limitAt(x)) }

// cover rides towards a place on the piece with a power asked at the wheel, until it is
// there or the power changes. The rider gives
//   - all of it on open road,
//   - at most what holds the coasting speed downhill, nothing above it,
//   - at most what keeps to the speed limit; the brakes take what is too much.
func (m *motion) cover(to, asked float64) error {
	wheelW, first := m.choose(asked, to)
	pedals := wheelW > 0
	for way := first; way == first && (wheelW > 0) == pedals; wheelW, way = m.choose(asked, to) {
		switch way {
		case follow:
			m.follow(wheelW, to)
		case hold:
			m.hold(m.holdUntil(to))
		default:
			if err := m.free(wheelW, to); err != nil {
				return err
			}
		}
		if m.at >= to || (way == follow && m.limitSlope() > 0) {
			break
		}
	}
	return nil
}

// way is how the next metres are ridden.
type way int

const (
	free way = iota
	follow
	hold
)

// choose decides how to ride on, and with how much of the power asked at the wheel.
func (m *motion) choose(asked, to float64) (wheelW float64, w way) {
	wheelW = asked
	if m.kinetic > m.coast {
		wheelW = 0
	}
	atLimit := m.kinetic >= m.limit(m.at)*(1-limitMargin)
	if !atLimit && m.kinetic != m.coast {
		return wheelW, free
	}
	v := m.speed(m.kinetic)
	holding := float64(m.resistance.Force(v) * v)
	if m.kinetic == m.coast {
		wheelW = min(wheelW, max(holding, 0))
	}
	switch {
	case atLimit && wheelW >= holding+float64(m.limitSlope()*v):
		return wheelW, follow
	case m.kinetic == m.coast && wheelW == holding && m.holdUntil(to) > m.at:
		return wheelW, hold
	}
	return wheelW, free
}

// limitSlope is the slope of the limit in J/m.
func (m *motion) limitSlope() float64 {
	if m.piece.StartLimit == m.piece.EndLimit {
		return 0
	}
	return m.halfInertia * (m.piece.EndLimit - m.piece.StartLimit) / m.piece.RoadM
}

// holdUntil returns the place up to which the coasting speed can be held.
func (m *motion) holdUntil(to float64) float64 {
	if m.limit(to) >= m.coast {
		return to
	}
	return min(to, m.at+(m.coast-m.limit(m.at))/m.limitSlope())
}

// hold rides at constant speed; the rider gives what that takes.
func (m *motion) hold(to float64) {
	h, v := to-m.at, m.speed(m.kinetic)
	m.commit(to, leg{energy: m.kinetic, time: h / v, path: h * v, aero: h * m.resistance.Aero(v)})
	m.work += h * m.resistance.Force(v) / m.efficiency
}

// follow rides on along the limit, as far as the power at the wheel keeps up with it.
// Its energy is linear in the distance, so that the time is exact; the air's work is by
// Simpson's rule.
func (m *motion) follow(wheelW, to float64) {
	h := m.followed(wheelW, to)
	if m.at+h >= to {
		h = to - m.at
	}
	next := m.limit(m.at + h)
	if math.Abs(next-m.coast) <= limitMargin*next {
		next = m.coast
	}
	v0, v1, mid := m.speed(m.kinetic), m.speed(next), m.speed((m.kinetic+next)/2)
	l := leg{
		energy: next,
		time:   2 * h / (v0 + v1),
		path:   h / 6 * (v0 + float64(4*mid) + v1),
		aero:   float64(h / 6 * (m.resistance.Aero(v0) + float64(4*m.resistance.Aero(mid)) + m.resistance.Aero(v1))),
	}
	wheel := next - m.kinetic + l.aero + float64(m.resistance.steady*h) + float64(m.resistance.BearingPerMps*l.path)
	m.commit(m.at+h, l)
	if wheel > 0 {
		m.work += wheel / m.efficiency
	} else {
		m.account.BrakingJ -= wheel
	}
}

// The largest changes of the energy in a step along the limit. On a rising one the rider
// gives power, which is sampled as a mean.
const (
	fallingChange = 0.1
	risingChange  = 0.03
)

// followed returns the length in metres of a step along the limit: on a sloping one
// short enough for its energy to change little, and no longer than to where the coasting
// speed is reached or the power falls short.
func (m *motion) followed(wheelW, to float64) float64 {
	h := to - m.at
	slope := m.limitSlope()
	if slope == 0 {
		return h
	}
	change := fallingChange
	if slope > 0 {
		change = risingChange
	}
	h = min(h, max(change*m.kinetic/math.Abs(slope), h/64, tinyM))
	if toCoast := (m.coast - m.kinetic) / slope; toCoast > 0 {
		h = min(h, toCoast)
	}
	short := func(h float64) bool {
		v := m.speed(m.limit(m.at + h))
		return wheelW < (m.resistance.Force(v)+slope)*v
	}
	if !short(h) {
		return h
	}
	low, high := 0.0, h
	for high-low > tinyM {
		if mid := float64((low + high) / 2); short(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// free rides one step with a power at the wheel, as far as the place where the
// coasting speed or the limit is met.
func (m *motion) free(wheelW, to float64) error {
	if m.speed(m.kinetic) < stillMps && wheelW <= m.resistance.Force(stillMps)*stillMps {
		return m.halt()
	}
	from := m.start(m.kinetic, wheelW)
	h := m.stride(&from, to-m.at)
	h, l := m.meet(&from, h, m.run(&from, h))
	if m.at+h >= to || to-(m.at+h) < tinyM*1e-3 {
		m.commit(to, l)
	} else {
		m.commit(m.at+h, l)
	}
	m.work += float64(wheelW / m.efficiency * l.time)
	if m.ridden-m.launchedAt > startingM && m.speed(m.kinetic) < slowestMps {
		return m.halt()
	}
	return nil
}

// commit takes a step of the motion into the account.
func (m *motion) commit(to float64, l leg) {
	h := to - m.at
	m.at = to
	m.ridden += h
	m.kinetic = l.energy
	m.clock += l.time
	m.highest = max(m.highest, l.energy)
	m.account.AerodynamicJ += l.aero
	m.account.RollingJ += float64(m.resistance.Rolling * h)
	m.account.BearingsJ += float64(m.resistance.Bearing*h) + float64(m.resistance.BearingPerMps*l.path)
}

// halt reports a bike that has come to a halt: slower than 0.5 m/s more than 100 m
// after the start, or standing before that.
func (m *motion) halt() error {
	return halted(m.piece.StartM + (m.piece.EndM-m.piece.StartM)*m.at/m.piece.RoadM)
}
