package ride

import "math"

// quantity is a value with its range; NaN stands for not given.
type quantity struct {
	name        string
	value       float64
	least, most float64
}

// leastEfficiency is the lowest efficiency of a drivetrain that is taken.
const leastEfficiency = 0.01

func within(quantities []quantity) error {
	for _, q := range quantities {
		if q.value < q.least || q.value > q.most {
			return invalid("%s is %v, outside %v…%v", q.name, q.value, q.least, q.most)
		}
	}
	return nil
}

func (c Conditions) validate() error {
	return within([]quantity{
		{"temperature", c.TemperatureC, -100, 100},
		{"pressure", c.PressureHPa, 1, 2000},
		{"humidity", c.HumidityPct, 0, 100},
		{"air density", c.AirDensityKgM3, 0, 10},
		{"wind", c.WindMps, 0, 100},
		{"wind direction", c.WindFromDeg, -360, 360},
		{"roughness length", c.RoughnessM, 1e-9, 10},
		{"headwind", c.HeadwindMps, -100, 100},
		{"shelter", c.Shelter, 0, 1},
		{"load", c.LoadKg, 0, 1000},
		{"start speed", c.StartSpeedMps, 0, 100},
		{"coasting speed", c.CoastAboveMps, 0.5, math.Inf(1)},
		{"lateral acceleration", c.LateralMps2, 0.1, math.Inf(1)},
		{"deceleration", c.BrakingMps2, 0.1, math.Inf(1)},
	})
}

func (r Rider) validate() error {
	if math.IsNaN(r.MassKg) {
		return invalid("the rider has no mass")
	}
	return within([]quantity{
		{"rider's mass", r.MassKg, 1, 1000},
		{"height", r.HeightM, 0.1, 5},
		{"drag area", r.CdAM2, 0, 10},
		{"critical power", r.CriticalPowerW, 1, 1e5},
		{"W′", r.WPrimeJ, 1, 1e7},
		{"recovery rate", r.RecoveryRate, 0, 1000},
	})
}

func (s Setup) validate() error {
	return within([]quantity{
		{"set-up's mass", s.MassKg, 0, 1000},
		{"drag area", s.CdAM2, 0, 10},
		{"change of drag area", s.CdAChangeM2, -10, 10},
		{"Crr", s.Crr, 0, 1},
		{"drivetrain efficiency", s.DrivetrainEfficiency, leastEfficiency, 1},
		{"wheels' inertia", s.WheelInertiaKgM2, 0, 100},
		{"wheel radius", s.WheelRadiusM, 0.01, 10},
		{"wheels' drag area", s.WheelDragAreaM2, 0, 10},
		{"bearings' drag", s.BearingN, 0, 1000},
		{"bearings' drag per speed", s.BearingNsPerM, 0, 1000},
	})
}

func validateSurfaces(surfaces []Surface) error {
	last := math.Inf(-1)
	for i, s := range surfaces {
		if !(s.StartM >= last-tinyM && s.EndM > s.StartM && s.CrrFactor >= 0 && s.CrrFactor <= 1000) {
			return invalid("surface %d must start where or after the one before ends, end later, and have a factor of 0…1000", i+1)
		}
		last = s.EndM
	}
	return nil
}

func validateSteps(steps []Step) error {
	if len(steps) == 0 {
		return invalid("an effort in steps needs a step")
	}
	last := 0.0
	for i, s := range steps {
		if !(s.EndM > last && s.PowerW >= 0 && s.PowerW <= highestPowerW) {
			return invalid("step %d must end after the one before and have a power of 0…%v W", i+1, highestPowerW)
		}
		last = s.EndM
	}
	return nil
}
