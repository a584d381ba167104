package engine

import (
	"math"

	"parcours.example/analysis/ride"
)

// defaultSetupName names the set-up that is ridden where none is given.
const defaultSetupName = "All-round road bicycle"

// UnstatedConditions are conditions of which nothing is given.
func UnstatedConditions() ride.Conditions {
	unknown := math.NaN()
	return ride.Conditions{
		TemperatureC: unknown, PressureHPa: unknown, HumidityPct: unknown, AirDensityKgM3: unknown,
		WindMps: unknown, WindFromDeg: unknown, RoughnessM: unknown, HeadwindMps: unknown,
		Shelter: unknown, LoadKg: unknown, StartSpeedMps: unknown, CoastAboveMps: unknown,
		LateralMps2: unknown, BrakingMps2: unknown,
	}
}

// unstatedRider is a rider of whom nothing is given.
func unstatedRider() ride.Rider {
	unknown := math.NaN()
	return ride.Rider{
		MassKg: unknown, HeightM: unknown, CdAM2: unknown, PowerW: unknown, CriticalPowerW: unknown, WPrimeJ: unknown,
		MaxPowerW: unknown, RecoveryRate: unknown, GrossEfficiency: unknown,
	}
}

// unstatedSetup is a set-up of which nothing is given.
func unstatedSetup() ride.Setup {
	unknown := math.NaN()
	return ride.Setup{
		MassKg: unknown, CdAM2: unknown, CdAChangeM2: unknown, Crr: unknown, DrivetrainEfficiency: unknown,
		WheelInertiaKgM2: unknown, WheelRadiusM: unknown, WheelDragAreaM2: unknown, BearingN: unknown, BearingNsPerM: unknown,
	}
}
