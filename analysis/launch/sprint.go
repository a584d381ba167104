package launch

import (
	"math"

	"parcours.example/analysis"
)

// mostThrust bounds the force at the wheel, as a share of the weight: beyond it the front
// wheel lifts. The mass centre is 0.40 m ahead of the rear wheel's contact and 1.10 m high
// (typical values). It only matters below 5 m/s.
const mostThrust = 0.40 / 1.10

// state is a rider under way.
type state struct {
	// energy is the kinetic energy in J, timeS the time since the head passed the start of
	// the approach, balance that of W′ in J.
	energy, timeS, balance float64
}

// change is how a state changes per metre of road.
type change struct{ energy, timeS, balance float64 }

// plus returns the state h metres on at a change.
func (s state) plus(h float64, c change) state {
	return state{s.energy + float64(h*c.energy), s.timeS + float64(h*c.timeS), s.balance + float64(h*c.balance)}
}

// speed returns the sprinter's speed in m/s.
func (f *follower) speed(s state) float64 {
	return math.Sqrt(s.energy * 2 / f.sprinter.Bike.InertiaKg)
}

// power returns the power in W that the sprinter gives at a state.
func (f *follower) power(s state) float64 {
	return f.powerAt(s, f.speed(s))
}

// powerAt is power at a speed that is known already.
func (f *follower) powerAt(s state, v float64) float64 {
	bike := &f.sprinter.Bike
	return min(f.limit(s.balance), mostThrust*bike.MassKg*analysis.Gravity*v/bike.Efficiency)
}

// change returns how a sprinting rider's state changes, roadM metres into cell i.
func (f *follower) change(i int, roadM float64, s state) change {
	v := f.speed(s)
	power := f.powerAt(s, v)
	r := &f.cells[i].rider
	afterS := s.timeS - (f.passing(i, roadM) + f.behindS() - f.apartS)
	force := r.Force(v) - float64((1-f.lee(afterS, v))*r.Aero(v))
	return change{
		energy:  power*f.sprinter.Bike.Efficiency/v - force,
		timeS:   1 / v,
		balance: -max(power-f.sprinter.Rider.CriticalPowerW, 0) / v,
	}
}

// through sprints from roadM metres into cell i to its end, by the classical Runge-Kutta
// step of fourth order.
func (f *follower) through(i int, roadM float64, s state) state {
	c := &f.cells[i]
	n := substeps(&c.rider, f.sprinter.Bike.InertiaKg, f.power(s)*f.sprinter.Bike.Efficiency, f.speed(s), c.roadM-roadM, f.perJ)
	h := (c.roadM - roadM) / float64(n)
	for k := range n {
		x := roadM + float64(h*float64(k))
		k1 := f.change(i, x, s)
		middle := x + float64(h/2)
		k2 := f.change(i, middle, s.plus(h/2, k1))
		k3 := f.change(i, middle, s.plus(h/2, k2))
		k4 := f.change(i, x+h, s.plus(h, k3))
		s = s.plus(h/6, k1).plus(h/3, k2).plus(h/3, k3).plus(h/6, k4)
	}
	return s
}

// sprint rides all out from a distance from the start of the approach to the line. It
// returns the state at the line and, where see isn't nil, shows it the state at the launch
// and after each cell with the distance from the start. The energy is NaN where the rider
// comes to a halt.
func (f *follower) sprint(fromStartM float64, see func(atM float64, s state)) state {
	s, i, roadM := f.at(fromStartM)
	if see == nil {
		see = func(float64, state) {}
	}
	see(fromStartM, s)
	for ; i < len(f.cells); i++ {
		if s = f.through(i, roadM, s); !(f.speed(s) >= slowestMps) {
			s.energy, s.timeS = math.NaN(), math.NaN()
			return s
		}
		roadM = 0
		see(f.cells[i].startM+f.cells[i].lengthM, s)
	}
	return s
}
