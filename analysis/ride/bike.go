package ride

import (
	"math"
)

// Bike is a rider on a set-up in given conditions, in the numbers that move it.
type Bike struct {
	// MassKg is rider, set-up and load; InertiaKg adds I/r² of the wheels.
	MassKg, InertiaKg float64
	// CdAM2 is the drag area alone, without the wheels' and before shelter.
	CdAM2 float64
	// DragAreaM2 is what meets the air: CdA and the wheels' drag area, times shelter, which
	// is the drag in the bunch over the drag alone.
	DragAreaM2 float64
	Crr        float64
	// Efficiency is power at the wheel over the rider's power.
	Efficiency float64
	// BearingN and BearingNsPerM are the coefficients of the bearings' drag.
	BearingN, BearingNsPerM float64
	// GrossEfficiency is the rider's work over the energy expended.
	GrossEfficiency float64
	// Assumptions are the rider's and the set-up's defaults that were used.
	Assumptions []Assumption
}

// NewBike resolves a rider on a set-up in a road's completed conditions. The drag area
// is the set-up's, else the rider's or its estimate plus the set-up's change. Errors are
// *Error with CodeInvalid.
func NewBike(rider Rider, setup Setup, conditions Conditions) (Bike, error) {
	if err := rider.validate(); err != nil {
		return Bike{}, err
	}
	if err := setup.validate(); err != nil {
		return Bike{}, err
	}
	var used assumptions
	rider = rider.completed(setup, &used)
	setup = setup.completed(&used)
	b := Bike{
		MassKg:     rider.MassKg + setup.MassKg + conditions.LoadKg,
		CdAM2:      dragArea(rider, setup),
		Crr:        setup.Crr,
		Efficiency: setup.DrivetrainEfficiency,
		BearingN:   setup.BearingN, BearingNsPerM: setup.BearingNsPerM,
		GrossEfficiency: rider.GrossEfficiency,
		Assumptions:     used,
	}
	if b.CdAM2 < 0 {
		return Bike{}, invalid("the drag area would be %.3f m²", b.CdAM2)
	}
	b.InertiaKg = b.MassKg + setup.WheelInertiaKgM2/float64(setup.WheelRadiusM*setup.WheelRadiusM)
	b.DragAreaM2 = (b.CdAM2 + setup.WheelDragAreaM2) * conditions.Shelter
	return b, nil
}

func dragArea(rider Rider, setup Setup) float64 {
	switch {
	case !math.IsNaN(setup.CdAM2):
		return setup.CdAM2
	case !math.IsNaN(setup.CdAChangeM2):
		return rider.CdAM2 + setup.CdAChangeM2
	}
	return rider.CdAM2
}

// Resistance is the force against a bike on one piece as a function of its speed v in
// m/s along the road:
//
//	F(v) = Drag·(v + Headwind)·|v + Headwind| + Rolling + Gravity + Bearing + BearingPerMps·v
//
// after Martin et al. 1998.
type Resistance struct {
	// Drag is ½ρ(CdA + Fw) in kg/m.
	Drag float64
	// HeadwindMps is the wind against the rider.
	HeadwindMps float64
	// Rolling, Gravity and Bearing are in N; gravity is negative downhill.
	Rolling, Gravity, Bearing float64
	// BearingPerMps is in N·s/m.
	BearingPerMps float64

	// steady is Rolling + Gravity + Bearing.
	steady float64
}

// On returns the bike's resistance on a piece.
func (b *Bike) On(p *Piece) Resistance {
	r := Resistance{
		Drag:          0.5 * p.AirDensityKgM3 * b.DragAreaM2,
		HeadwindMps:   p.HeadwindMps,
		Rolling:       float64(b.Crr * p.CrrFactor * b.MassKg * gravity * p.Cos),
		Gravity:       float64(b.MassKg * gravity * p.Sin),
		Bearing:       b.BearingN,
		BearingPerMps: b.BearingNsPerM,
	}
	r.steady = r.Rolling + r.Gravity + r.Bearing
	return r
}

// Aero returns the air's part of the force in N at v m/s, negative when the air
// pushes.
func (r *Resistance) Aero(v float64) float64 {
	air := v + r.HeadwindMps
	return float64(r.Drag * air * math.Abs(air))
}

// Force returns the whole force against the bike in N at v m/s.
func (r *Resistance) Force(v float64) float64 {
	return r.Aero(v) + r.steady + float64(r.BearingPerMps*v)
}

// ForceOn returns the whole force against the bike on a piece in N at v m/s.
func (b *Bike) ForceOn(p *Piece, v float64) float64 {
	r := b.On(p)
	return r.Force(v)
}

// Slope returns dF/dv in N·s/m at v m/s.
func (r *Resistance) Slope(v float64) float64 {
	return float64(2*r.Drag*math.Abs(v+r.HeadwindMps)) + r.BearingPerMps
}

// SteadySpeed returns the speed in m/s, up to 1,000, at which a power at the wheel of
// wheelW watts balances the resistance, the fastest one; 0 where none does.
func (r *Resistance) SteadySpeed(wheelW float64) float64 {
	low, high := 0.0, math.Sqrt(fastestSquare)
	for range 200 {
		mid := float64((low + high) / 2)
		if r.Force(mid)*mid > wheelW || (wheelW == 0 && r.Force(mid) > 0) {
			high = mid
		} else {
			low = mid
		}
		if high-low <= 1e-14*high {
			break
		}
	}
	return low
}
