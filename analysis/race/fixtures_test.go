package race_test

import (
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

// conditions are those in which nothing is said.
func conditions() ride.Conditions {
	n := math.NaN()
	return ride.Conditions{
		TemperatureC: n, PressureHPa: n, HumidityPct: n, AirDensityKgM3: n, WindMps: n, WindFromDeg: n, RoughnessM: n,
		HeadwindMps: n, Shelter: n, LoadKg: n, StartSpeedMps: n, CoastAboveMps: n, LateralMps2: n, BrakingMps2: n,
	}
}

func rider(massKg, criticalPowerW, wPrimeJ float64) ride.Rider {
	n := math.NaN()
	return ride.Rider{
		MassKg: massKg, HeightM: n, CdAM2: n, CriticalPowerW: criticalPowerW, WPrimeJ: wPrimeJ, MaxPowerW: n,
		RecoveryRate: n, GrossEfficiency: n,
	}
}

func setup() ride.Setup {
	n := math.NaN()
	return ride.Setup{
		MassKg: n, CdAM2: n, CdAChangeM2: n, Crr: n, DrivetrainEfficiency: n, WheelInertiaKgM2: n, WheelRadiusM: n,
		WheelDragAreaM2: n, BearingN: n, BearingNsPerM: n,
	}
}

// steady is a power throughout.
func steady(powerW float64) []ride.Step { return []ride.Step{{EndM: math.Inf(1), PowerW: powerW}} }

func roadOf(t testing.TB, c *course.Course, cond ride.Conditions) *ride.Road {
	t.Helper()
	road, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}
