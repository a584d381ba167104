package aid

import (
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/ride"
)

var unset = math.NaN()

func conditions() ride.Conditions {
	return ride.Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: unset,
		WindMps: unset, WindFromDeg: unset, RoughnessM: unset, HeadwindMps: unset, Shelter: unset,
		LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset, LateralMps2: unset, BrakingMps2: unset,
	}
}

func rider(massKg float64) ride.Rider {
	return ride.Rider{
		MassKg: massKg, HeightM: unset, CdAM2: unset, CriticalPowerW: unset, WPrimeJ: unset,
		MaxPowerW: unset, RecoveryRate: unset, GrossEfficiency: unset,
	}
}

func setup() ride.Setup {
	return ride.Setup{
		MassKg: unset, CdAM2: unset, CdAChangeM2: unset, Crr: unset, DrivetrainEfficiency: unset,
		WheelInertiaKgM2: unset, WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
}

// road is a course of nodes every 10 m over a profile z(s), ridden in a hall.
func road(t testing.TB, lengthM float64, z func(s float64) float64) *ride.Road {
	t.Helper()
	n := int(lengthM / 10)
	c := &course.Course{S: make([]float64, n+1), Z: make([]float64, n+1)}
	for i := range c.S {
		c.S[i] = lengthM * float64(i) / float64(n)
		c.Z[i] = z(c.S[i])
	}
	cond := conditions()
	cond.Indoor = true
	r, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// outside is the same course outdoors, in a wind, with a bend of 25 m every kilometre and
// freewheeling above 40 km/h.
func outside(t testing.TB, lengthM float64, z func(s float64) float64) *ride.Road {
	t.Helper()
	n := int(lengthM / 10)
	c := &course.Course{
		S: make([]float64, n+1), Z: make([]float64, n+1), Pos: make([]geodesy.Vec, n+1),
		Heading: make([]float64, n), Curvature: make([]float64, n+1),
	}
	for i := range c.S {
		c.S[i] = lengthM * float64(i) / float64(n)
		c.Z[i] = z(c.S[i])
		if i%100 == 50 {
			c.Curvature[i] = 1.0 / 25
		}
	}
	for i := range c.Heading {
		c.Heading[i] = float64((i + 50) / 100 * 90 % 360)
	}
	cond := conditions()
	cond.WindMps, cond.WindFromDeg, cond.CoastAboveMps = 4, 200, 11
	r, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// scene is a ride of 75 kg at a power over a road, to its end, with spans.
func scene(t testing.TB, r *ride.Road, powerW float64, spans ...ride.Span) *Scene {
	t.Helper()
	ridden, err := ride.Simulate(t.Context(), r, rider(75), setup(), ride.Effort{Kind: ride.ByPower, PowerW: powerW}, spans)
	if err != nil {
		t.Fatal(err)
	}
	return &Scene{Road: r, Ride: ridden, LineM: r.LengthM(), GapM: 0.3}
}

// hilly is 4 km flat, 3 km at 8 %, 3 km down at 4 %, 2 km flat.
func hilly(s float64) float64 {
	switch {
	case s < 4_000:
		return 0
	case s < 7_000:
		return 0.08 * (s - 4_000)
	case s < 10_000:
		return 240 - 0.04*(s-7_000)
	}
	return 120
}

func level(float64) float64 { return 0 }

func dragAid() Aid { return Aid{Name: "drag", DragFactor: 0.75, WakeFactor: 1, DurationS: 15} }
func massAid() Aid {
	return Aid{Name: "mass", DragFactor: 1, MassChangeKg: -7, WakeFactor: 1, DurationS: 15}
}
func wakeAid() Aid { return Aid{Name: "wake", DragFactor: 1, WakeFactor: 0, DurationS: 10} }

// found finds the uses of an aid.
func found(t testing.TB, s *Scene, a Aid) *Found {
	t.Helper()
	f, err := Find(t.Context(), s, &a)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// at tries an aid at a place.
func at(t testing.TB, s *Scene, a Aid, atM float64) Use {
	t.Helper()
	u, err := newTrial(s, &a).use(t.Context(), atM)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// near fails unless got is within tolerance of want.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}
