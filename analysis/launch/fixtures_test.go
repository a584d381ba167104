package launch

import (
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

var unset = math.NaN()

// stretch is a length in metres at a gradient.
type stretch struct{ lengthM, gradient float64 }

// roadOf lays stretches after one another, in calm or with a wind from ahead.
func roadOf(t testing.TB, headwind float64, stretches ...stretch) *ride.Road {
	t.Helper()
	c := &course.Course{S: []float64{0}, Z: []float64{200}}
	for _, s := range stretches {
		last := len(c.S) - 1
		c.S, c.Z = append(c.S, c.S[last]+s.lengthM), append(c.Z, c.Z[last]+s.lengthM*s.gradient)
	}
	road, err := ride.NewRoad(c, ride.Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: 1.2, WindMps: unset, WindFromDeg: unset,
		RoughnessM: unset, HeadwindMps: headwind, Shelter: unset, LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset,
		LateralMps2: unset, BrakingMps2: unset,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

func piecesOf(t testing.TB, headwind float64, stretches ...stretch) []ride.Piece {
	t.Helper()
	road := roadOf(t, headwind, stretches...)
	return road.Stretch(0, road.LengthM())
}

// sprinter is a fresh rider on an ordinary set-up.
func sprinter(t testing.TB, massKg, criticalW, wPrimeJ, maxW float64) Sprinter {
	t.Helper()
	r := ride.Rider{
		MassKg: massKg, HeightM: unset, CdAM2: unset, CriticalPowerW: criticalW, WPrimeJ: wPrimeJ, MaxPowerW: maxW,
		RecoveryRate: unset, GrossEfficiency: unset,
	}
	bike, err := ride.NewBike(r, unstated(), ride.Conditions{Shelter: 1})
	if err != nil {
		t.Fatal(err)
	}
	return Sprinter{Rider: r, Bike: bike, BalanceJ: wPrimeJ}
}

func unstated() ride.Setup {
	return ride.Setup{
		MassKg: unset, CdAM2: unset, CdAChangeM2: unset, Crr: unset, DrivetrainEfficiency: unset, WheelInertiaKgM2: unset,
		WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
}

// anySprinter draws a rider.
func anySprinter(t testing.TB, r *rand.Rand) Sprinter {
	mass, critical, decay := 50+40*r.Float64(), 170+250*r.Float64(), 16+14*r.Float64()
	most := critical * (2.8 + 1.6*r.Float64())
	return sprinter(t, mass, critical, (most-critical)*decay, most)
}

// behind is an approach of a gradient at a speed, 20 s long, behind the first wheel.
func behind(t testing.TB, gradient, headwind, speedMps float64) Approach {
	t.Helper()
	return Approach{Pieces: piecesOf(t, headwind, stretch{UsualS * speedMps, gradient}), SpeedMps: speedMps, Place: 2, Shelter: PlaceShelter(2)}
}

// demanding is the speed that a rider holds alone on a gradient with a share of what is
// above critical power.
func demanding(t testing.TB, s Sprinter, gradient, headwind, share float64) float64 {
	t.Helper()
	return steadySpeed(piecesOf(t, headwind, stretch{300, gradient}), &s.Bike, s.Rider.CriticalPowerW+share*(s.Rider.MaxPowerW-s.Rider.CriticalPowerW))
}

func mustFind(t testing.TB, a Approach, s Sprinter) *Sprint {
	t.Helper()
	found, err := Find(t.Context(), a, s)
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// near fails unless got is within tolerance of want.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}
