package ride

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/internal/figures"
	"parcours.example/internal/seeded"
)

// anyRide is a ride of anybody over any small course: shape gives the pieces.
type anyRide struct {
	shape                     []byte
	power, mass, start, windM float64
	indoor                    bool
}

// course is the ride's, turned by some degrees and raised by some metres.
func (a anyRide) course(turnDeg, riseM float64) *course.Course {
	c := &course.Course{S: []float64{0}, Z: []float64{100 + riseM}}
	for i, b := range a.shape {
		c.S = append(c.S, c.S[i]+1+float64(b%7)*20)
		c.Z = append(c.Z, c.Z[i]+(float64(b)-128)/4)
	}
	return turned(c, func(s float64) float64 { return turnDeg + 90*float64(a.shape[c.PieceAt(s)]%5) })
}

// asked is what of the ride the laws change: where it lies, and how much of everything that has
// mass, power or drag there is.
type asked struct{ turnDeg, riseM, times float64 }

// ridden rides it.
func (a anyRide) ridden(as asked) (*Road, *Ride, error) {
	cond := conditions()
	cond.StartSpeedMps, cond.Indoor, cond.LoadKg = a.start, a.indoor, 2*as.times
	cond.WindMps, cond.WindFromDeg = math.Abs(a.windM), math.Mod(10+as.turnDeg, 360)
	cond.AirDensityKgM3 = 1.2 // else it goes with the height
	road, err := NewRoad(a.course(as.turnDeg, as.riseM), cond, nil)
	if err != nil {
		return nil, nil, err
	}
	r, s := rider(a.mass*as.times), setup().completed(&assumptions{})
	r.CdAM2, r.CriticalPowerW, r.WPrimeJ = 0.3*as.times, 250*as.times, 15_000*as.times
	for _, x := range []*float64{&s.MassKg, &s.WheelInertiaKgM2, &s.WheelDragAreaM2, &s.BearingN, &s.BearingNsPerM} {
		*x *= as.times
	}
	ride, err := Simulate(context.Background(), road, r, s, watts(a.power*as.times), nil)
	return road, ride, err
}

// checkLaws rides it as it is, with everything doubled, and elsewhere: the time must be the
// same, the work in proportion, and every ride sound. It returns the reason where it can't be
// ridden.
func (a anyRide) checkLaws(t *testing.T) error {
	t.Helper()
	road, ride, err := a.ridden(asked{times: 1})
	if err != nil {
		return err
	}
	finite(t, ride)
	finiteDoubts(t, road, ride)
	inOrder(t, ride)
	for name, as := range map[string]asked{
		"twice the mass, the power and the drag": {times: 2}, "turned with its wind": {turnDeg: 90, times: 1}, "higher up": {riseM: 1024, times: 1},
	} {
		if as.times > 1 && (a.mass > 500 || a.power > 40_000) { // beyond what is taken
			continue
		}
		_, other, err := a.ridden(as)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if math.Abs(other.TimeS/ride.TimeS-1) > 1e-6 || math.Abs(other.WorkJ-as.times*ride.WorkJ) > 1e-6*(1+other.WorkJ) {
			t.Fatalf("%s: %v s, %v J against %v s, %v J: %+v", name, other.TimeS, other.WorkJ, ride.TimeS, ride.WorkJ, a)
		}
	}
	return nil
}

// inOrder demands that distance and time go on from sample to sample.
func inOrder(t *testing.T, ride *Ride) {
	t.Helper()
	if !(ride.TimeS > 0) {
		t.Fatalf("%v s", ride.TimeS)
	}
	d, s := ride.Trace.DistanceM, ride.Trace.TimeS
	for i := 1; i < len(d); i++ {
		if !(d[i] > d[i-1]) || !(s[i] > s[i-1]) {
			t.Fatalf("from %v m at %v s to %v m at %v s", d[i-1], s[i-1], d[i], s[i])
		}
	}
}

// TestT03LawsOfRides holds random rides against the laws of motion. Fuzzing does the same.
func TestT03LawsOfRides(t *testing.T) {
	n, refused := seeded.Cases(20_000), 0
	first := seeded.First(t)
	for i := range n {
		seed := first + uint64(i) //nolint:gosec // not negative
		r := rand.New(rand.NewPCG(seed, 3))
		a := anyRide{
			shape: make([]byte, 1+r.IntN(40)), power: 500 * r.Float64(), mass: 40 + 80*r.Float64(),
			start: 15 * r.Float64(), windM: 8 * r.Float64(), indoor: r.IntN(4) == 0,
		}
		for i := range a.shape {
			a.shape[i] = byte(118 + r.IntN(20))
		}
		if err := a.checkLaws(t); err != nil {
			var known *Error
			if !errors.As(err, &known) {
				t.Fatalf("seed %d: %v", seed, err)
			}
			refused++
		}
	}
	figures.Report(t, "T3", "%d random rides, %d of them refused with a reason: 0 break a law of motion", n, refused)
}

// On a level road without drag, twice the mass takes twice the power for the same time.
func TestT03MassAndPowerWithoutDrag(t *testing.T) {
	cond := conditions()
	cond.Shelter = 0
	road := mustRoad(t, slope(2000, 0), cond)
	timeS := func(times float64) float64 {
		r, s := rider(70*times), setup().completed(&assumptions{})
		s.MassKg, s.WheelInertiaKgM2, s.WheelDragAreaM2, s.BearingN, s.BearingNsPerM = 8*times, 0.14*times, 0, 0, 0
		ride, err := Simulate(context.Background(), road, r, s, watts(200*times), nil)
		if err != nil {
			t.Fatal(err)
		}
		return ride.TimeS
	}
	if a, b := timeS(1), timeS(2); math.Abs(a/b-1) > 1e-9 {
		t.Errorf("%v s, with twice of both %v s", a, b)
	}
}
