package plan

import (
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

var unset = math.NaN()

func conditions() ride.Conditions {
	return ride.Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: 1.2,
		WindMps: unset, WindFromDeg: unset, RoughnessM: unset, HeadwindMps: unset, Shelter: unset,
		LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset, LateralMps2: unset, BrakingMps2: unset,
	}
}

// capable is a rider of 72 kg with a critical power in W and a W′ in J.
func capable(criticalW, wPrimeJ float64) ride.Rider {
	return ride.Rider{
		MassKg: 72, HeightM: unset, CdAM2: unset, CriticalPowerW: criticalW, WPrimeJ: wPrimeJ,
		MaxPowerW: unset, RecoveryRate: unset, GrossEfficiency: unset,
	}
}

func setup() ride.Setup {
	return ride.Setup{
		MassKg: unset, CdAM2: unset, CdAChangeM2: unset, Crr: unset, DrivetrainEfficiency: unset,
		WheelInertiaKgM2: unset, WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
}

// even is a course of equal pieces, without positions, over a profile z(s).
func even(lengthM, pieceM float64, z func(s float64) float64) *course.Course {
	n := int(math.Round(lengthM / pieceM))
	c := &course.Course{S: make([]float64, n+1), Z: make([]float64, n+1)}
	for i := range c.S {
		c.S[i] = lengthM * float64(i) / float64(n)
		c.Z[i] = z(c.S[i])
	}
	return c
}

func mustRoad(t testing.TB, c *course.Course, cond ride.Conditions) *ride.Road {
	t.Helper()
	road, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

func TestBestConstantPowerSpendsAll(t *testing.T) {
	road := mustRoad(t, even(20_000, 20, func(s float64) float64 { return 40 * math.Sin(s/700) }), conditions())
	for name, r := range map[string]ride.Rider{
		"without maximal power": capable(260, 20_000),
		"with maximal power":    func() ride.Rider { r := capable(260, 20_000); r.MaxPowerW = 900; return r }(),
	} {
		p, err := Optimise(t.Context(), road, r, setup(), Unlimited(), nil)
		if err != nil {
			t.Fatal(err)
		}
		needed := 0.0
		if r.MaxPowerW > 0 {
			needed = r.WPrimeJ * (p.ConstantPowerW - r.CriticalPowerW) / (r.MaxPowerW - r.CriticalPowerW)
		}
		if left := p.Constant.Balance.EndJ - needed; left < 0 || left > 0.01 {
			t.Errorf("%s: at %v W %v J are left beside what the limit keeps", name, p.ConstantPowerW, left)
		}
	}
}
