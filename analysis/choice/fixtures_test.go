package choice

import (
	"context"
	"math"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

func conditions() ride.Conditions {
	return ride.Conditions{
		TemperatureC: unknown, PressureHPa: unknown, HumidityPct: unknown, AirDensityKgM3: unknown,
		WindMps: unknown, WindFromDeg: unknown, RoughnessM: unknown, HeadwindMps: unknown, Shelter: unknown,
		LoadKg: unknown, StartSpeedMps: unknown, CoastAboveMps: unknown, LateralMps2: unknown, BrakingMps2: unknown,
	}
}

func rider(massKg float64) ride.Rider {
	return ride.Rider{
		MassKg: massKg, HeightM: unknown, CdAM2: unknown, CriticalPowerW: unknown, WPrimeJ: unknown,
		MaxPowerW: unknown, RecoveryRate: unknown, GrossEfficiency: unknown,
	}
}

// setup is a set-up of a mass in kg and a change of the drag area in m².
func setup(name string, massKg, cdaChangeM2 float64) ride.Setup {
	return ride.Setup{
		Name: name, MassKg: massKg, CdAM2: unknown, CdAChangeM2: cdaChangeM2, Crr: unknown, DrivetrainEfficiency: unknown,
		WheelInertiaKgM2: unknown, WheelRadiusM: unknown, WheelDragAreaM2: unknown, BearingN: unknown, BearingNsPerM: unknown,
	}
}

// profile is a course without positions.
func profile(s, z []float64) *course.Course { return &course.Course{S: s, Z: z} }

// slope is a course of one gradient.
func slope(lengthM, gradient float64) *course.Course {
	return profile([]float64{0, lengthM}, []float64{0, gradient * lengthM})
}

func mustRoad(t rapid.TB, c *course.Course, cond ride.Conditions) *ride.Road {
	t.Helper()
	road, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

func finish(road *ride.Road) Ambition {
	return Ambition{Name: "the finish", Passes: []Pass{{road.LengthM(), road.LengthM()}}}
}

// doubtless is a doubt of nothing.
func doubtless() Doubt { return Doubt{CoveragePct: 90} }

// doubtful is one with the defaults for a road.
func doubtful(road *ride.Road) Doubt {
	d := Doubt{CoveragePct: 90, Own: OwnDoubt{unknown, unknown, unknown, unknown}}
	d.Common, _ = ride.Uncertainties{MassKg: unknown, CdAM2: unknown, Crr: unknown, PowerPct: unknown, WindMps: unknown, TemperatureC: unknown, Efficiency: unknown}.Completed(road, true)
	d.Own, _ = d.Own.Completed()
	return d
}

// at rides a case's set-ups at a constant power.
func (c Case) at(t rapid.TB, powerW float64) Case {
	t.Helper()
	c.Rides = make([]*ride.Ride, len(c.Setups))
	spans := Spans(c.Ambitions, c.Changes, c.Road.LengthM())
	for i, s := range c.Setups {
		var err error
		if c.Rides[i], err = ride.Simulate(context.Background(), c.Road, c.Rider, s, ride.Effort{Kind: ride.ByPower, PowerW: powerW}, spans); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func decide(t rapid.TB, c Case) *Verdict {
	t.Helper()
	v, err := Decide(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// near fails unless got is within tolerance of want.
func near(t rapid.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}
