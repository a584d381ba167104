package choice

import (
	"math"

	"parcours.example/analysis/ride"
)

// Quantity is something whose crossing point is looked for.
type Quantity string

// The quantities.
const (
	// RiderMass in kg, at the same power per mass: other riders of the same class. Their
	// drag areas grow with the frontal area of riders of the same height.
	RiderMass Quantity = "rider_mass_kg"
	// Power in W: all of the asked power, in proportion.
	Power Quantity = "power_w"
	// Shelter is the drag in the bunch over the drag alone, all the way.
	Shelter Quantity = "shelter"
	// Gradient in per cent of a road that rises steadily, ridden at the rider's power in
	// still air as dense as at the start.
	Gradient Quantity = "gradient_pct"
)

// The ranges that are searched, widened to the rider's own value.
const (
	lightestKg, heaviestKg = 40.0, 120.0
	// leastPower and mostPower are shares of the rider's own.
	leastPower, mostPower = 0.5, 2.0
	deepestShelter        = 0.05
	leastPct, mostPct     = -5.0, 20.0
)

// axis is a quantity's range, and the rider's own value on it.
type axis struct {
	quantity      Quantity
	own, from, to float64
}

// axis returns that of a quantity for a pair of set-ups.
func (p *pair) axis(q Quantity) axis {
	a := axis{quantity: q}
	switch q {
	case RiderMass:
		a.own, a.from, a.to = p.Rider.MassKg, lightestKg, heaviestKg
	case Power:
		a.own = p.power()
		a.from, a.to = float64(leastPower*a.own), float64(mostPower*a.own)
	case Shelter:
		a.own, a.from, a.to = p.Road.Conditions.Shelter, deepestShelter, 1
	case Gradient:
		return axis{quantity: q, own: unknown, from: leastPct, to: mostPct}
	}
	a.from, a.to = min(a.from, a.own), max(a.to, a.own)
	return a
}

// power stands for that of both set-ups' rides, in W.
func (p *pair) power() float64 { return float64((power(p.Rides[p.low]) + power(p.Rides[p.high])) / 2) }

// varied is what is ridden at another value of a quantity.
type varied struct {
	road  *ride.Road
	rider ride.Rider
	// share is of the asked power, grown of drag areas.
	share, grown float64
}

// at returns what is ridden at a value.
func (a axis) at(x float64, road *ride.Road, rider ride.Rider) varied {
	v := varied{road, rider, 1, 1}
	switch a.quantity {
	case RiderMass:
		v.share, v.rider.MassKg = x/rider.MassKg, x
		height := rider.HeightM
		if math.IsNaN(height) {
			height = ride.TypicalHeightM
		}
		if math.IsNaN(rider.CdAM2) {
			v.rider.CdAM2 = ride.EstimateDragArea(height, rider.MassKg)
		}
		v.grown = ride.FrontalArea(height, x) / ride.FrontalArea(height, rider.MassKg)
		v.rider.CdAM2 *= v.grown
	case Power:
		v.share = x / a.own
	case Shelter:
		sheltered := *road
		sheltered.Conditions.Shelter = x
		v.road = &sheltered
	}
	// What isn't timed isn't computed.
	v.rider.CriticalPowerW, v.rider.WPrimeJ = unknown, unknown
	return v
}

// setup returns a set-up as it is then; one without a drag area of its own takes the
// rider's.
func (v varied) setup(s ride.Setup) ride.Setup {
	s.CdAM2 *= v.grown
	return s
}

// scaled returns the asked power in proportion.
func scaled(e ride.Effort, share float64) ride.Effort {
	steps := make([]ride.Step, len(e.Steps))
	for i, s := range e.Steps {
		steps[i] = ride.Step{EndM: s.EndM, PowerW: s.PowerW * share}
	}
	return ride.Effort{Kind: ride.BySteps, Steps: steps}
}

// steadier returns the speed in m/s by which a bike is faster than another on a road of one
// gradient in per cent, at a power in W and a density of the air in kg/m³.
func steadier(a, b *ride.Bike, gradientPct, powerW, density float64) float64 {
	g := gradientPct / 100
	cos := 1 / math.Sqrt(1+float64(g*g))
	piece := ride.Piece{EndM: 1, RoadM: 1 / cos, Sin: g * cos, Cos: cos, Gradient: g, AirDensityKgM3: density, CrrFactor: 1}
	speed := func(bike *ride.Bike) float64 {
		r := bike.On(&piece)
		return r.SteadySpeed(powerW * bike.Efficiency)
	}
	return speed(a) - speed(b)
}
