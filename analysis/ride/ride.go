// Package ride moves riders over a course: air, resistances, the one motion model,
// and the balance of work above critical power.
//
// A Road is a course in given conditions, a Bike a rider on a set-up in them;
// Simulate rides the one over the other at an Effort. The motion is that of Martin et
// al. (1998), Validation of a mathematical model for road cycling power, J. Appl.
// Biomech. 14:276–291:
//
//	dE/dx = ηP/v − F(v),  E = ½(m + I/r²)v²
//	F(v) = ½ρ(CdA + Fw)·v_air·|v_air| + Crr·m·g·cos θ + (b₀ + b₁·v) + m·g·sin θ
//
// with the kinetic energy E as the state and the distance x along the sloping road as
// the variable. Distances along the course (…M) are horizontal. Speeds are along the
// road. Outdoors bends limit the speed, brakes the deceleration, and nobody pedals
// above a set speed downhill; indoors there is no wind either.
package ride

// Rider is who rides. NaN means not given in every optional field.
type Rider struct {
	Name string
	// MassKg is the rider's body mass.
	MassKg float64
	// HeightM is the body height, optional (1.80 m is assumed where it is needed).
	HeightM float64
	// CdAM2 is the rider's drag area with the bicycle, optional.
	CdAM2 float64
	// PowerW is the power that the rider means to hold, optional; efforts ByOwnPower ride
	// it.
	PowerW float64
	// CriticalPowerW and WPrimeJ are the capability, optional.
	CriticalPowerW, WPrimeJ float64
	// MaxPowerW is the maximal power, optional.
	MaxPowerW float64
	// RecoveryRate scales the reconstitution of W′; default 1.
	RecoveryRate float64
	// RecoveryLaw is how W′ is reconstituted; empty means Proportional.
	RecoveryLaw RecoveryLaw
	// GrossEfficiency turns work into energy spent; default 0.22.
	GrossEfficiency float64
}

// Setup is what is ridden. NaN means not given in every optional field.
type Setup struct {
	Name   string
	MassKg float64
	// CdAM2 replaces the rider's drag area; CdAChangeM2 is added to it.
	CdAM2, CdAChangeM2 float64
	Crr                float64
	// DrivetrainEfficiency is power at the wheel over the rider's power.
	DrivetrainEfficiency float64
	// WheelInertiaKgM2 is the moment of both wheels, WheelRadiusM their radius.
	WheelInertiaKgM2, WheelRadiusM float64
	// WheelDragAreaM2 is the extra drag area of the turning wheels.
	WheelDragAreaM2 float64
	// BearingN and BearingNsPerM are the coefficients of the bearings' drag, in N
	// and N·s/m.
	BearingN, BearingNsPerM float64
}

// Conditions are the weather and the manner of riding. NaN means not given in
// every optional field.
type Conditions struct {
	// TemperatureC, PressureHPa and HumidityPct hold at the start's elevation.
	TemperatureC, PressureHPa, HumidityPct float64
	// AirDensityKgM3, where given, holds everywhere.
	AirDensityKgM3 float64
	// WindMps is the wind at 10 m, WindFromDeg the true direction it comes from,
	// RoughnessM the ground's roughness length.
	WindMps, WindFromDeg, RoughnessM float64
	// HeadwindMps is a wind at rider height straight against the rider, for courses
	// without positions.
	HeadwindMps float64
	Indoor      bool
	// Shelter is the drag in the bunch over the drag alone, 0…1; default 1.
	Shelter float64
	// LoadKg is carried beside rider and set-up.
	LoadKg float64
	// StartSpeedMps is the speed at the start.
	StartSpeedMps float64
	// CoastAboveMps is the speed above which the rider doesn't pedal downhill.
	CoastAboveMps float64
	// LateralMps2 is the highest lateral acceleration in bends, BrakingMps2 the
	// highest deceleration; +Inf switches either off.
	LateralMps2, BrakingMps2 float64
}
