package race_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"parcours.example/analysis/course"
	. "parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
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

// season is a road of the invented season.
func season(t testing.TB, name string, cond ride.Conditions) *ride.Road {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../../testdata/season", name+".gpx"))
	if err != nil {
		t.Fatal(err)
	}
	read, err := track.ReadGPX(b, track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := course.FromTrack(read, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return roadOf(t, c, cond)
}

func raced(t testing.TB, road *ride.Road, field []Entrant, lines []float64, rules Rules, run int) *Run {
	t.Helper()
	r, err := New(road, field, lines, rules)
	if err != nil {
		t.Fatal(err)
	}
	var out Run
	if err := r.Ride(context.Background(), run, &out); err != nil {
		t.Fatal(err)
	}
	return &out
}
