package ride

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
)

var unset = math.NaN()

// conditions are conditions of which nothing is given.
func conditions() Conditions {
	return Conditions{
		TemperatureC: unset, PressureHPa: unset, HumidityPct: unset, AirDensityKgM3: unset,
		WindMps: unset, WindFromDeg: unset, RoughnessM: unset, HeadwindMps: unset, Shelter: unset,
		LoadKg: unset, StartSpeedMps: unset, CoastAboveMps: unset, LateralMps2: unset, BrakingMps2: unset,
	}
}

func rider(massKg float64) Rider {
	return Rider{
		MassKg: massKg, HeightM: unset, CdAM2: unset, PowerW: unset, CriticalPowerW: unset, WPrimeJ: unset,
		MaxPowerW: unset, RecoveryRate: unset, GrossEfficiency: unset,
	}
}

func setup() Setup {
	return Setup{
		MassKg: unset, CdAM2: unset, CdAChangeM2: unset, Crr: unset, DrivetrainEfficiency: unset,
		WheelInertiaKgM2: unset, WheelRadiusM: unset, WheelDragAreaM2: unset, BearingN: unset, BearingNsPerM: unset,
	}
}

func watts(w float64) Effort { return Effort{Kind: ByPower, PowerW: w} }

// profile is a course without positions.
func profile(s, z []float64) *course.Course { return &course.Course{S: s, Z: z} }

// even is a course of n equal pieces over a profile z(s).
func even(length float64, n int, z func(s float64) float64) *course.Course {
	c := &course.Course{S: make([]float64, n+1), Z: make([]float64, n+1)}
	for i := range c.S {
		c.S[i] = length * float64(i) / float64(n)
		c.Z[i] = z(c.S[i])
	}
	return c
}

// slope is a course of one gradient.
func slope(length, gradient float64) *course.Course {
	return profile([]float64{0, length}, []float64{0, gradient * length})
}

// turned adds headings and curvatures to a course: heading(s) in degrees.
func turned(c *course.Course, heading func(s float64) float64) *course.Course {
	n := len(c.S)
	t := &course.Course{S: c.S, Z: c.Z, Pos: make([]geodesy.Vec, n), Heading: make([]float64, n-1), Curvature: make([]float64, n)}
	for i := range t.Heading {
		t.Heading[i] = math.Mod(heading((c.S[i]+c.S[i+1])/2)+3600, 360)
	}
	for i := 1; i < n-1; i++ {
		turn := math.Remainder(t.Heading[i]-t.Heading[i-1], 360) * math.Pi / 180
		t.Curvature[i] = turn / ((c.S[i+1] - c.S[i-1]) / 2)
	}
	return t
}

// hills is a rolling profile of moderate gradients.
func hills(r *rand.Rand, height float64) func(s float64) float64 {
	a, b, c := r.Float64(), r.Float64(), r.Float64()
	return func(s float64) float64 {
		return 300 + height*(math.Sin(2*math.Pi*(s/3100+a))+0.3*math.Sin(2*math.Pi*(s/900+b))+0.1*math.Sin(2*math.Pi*(s/410+c)))
	}
}

func mustRoad(t testing.TB, c *course.Course, cond Conditions) *Road {
	t.Helper()
	road, err := NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

func mustRide(t testing.TB, road *Road, r Rider, s Setup, e Effort, spans ...Span) *Ride {
	t.Helper()
	ride, err := Simulate(context.Background(), road, r, s, e, spans)
	if err != nil {
		t.Fatal(err)
	}
	return ride
}

// near fails unless got is within tolerance of want.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}

// speedAt is the speed at a sample of the trace.
func speedAt(t testing.TB, ride *Ride, atM float64) float64 {
	t.Helper()
	for i, d := range ride.Trace.DistanceM {
		if math.Abs(d-atM) < tinyM {
			return ride.Trace.SpeedMps[i]
		}
	}
	t.Fatalf("no sample at %v m", atM)
	return 0
}
