package ride

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// stinted rides in stints, nil where the rider comes to a halt.
func stinted(t rapid.TB, road *Road, r Rider, stints []Stint, e Effort, spans ...Span) *Ride {
	t.Helper()
	ride, err := SimulateStints(context.Background(), road, r, stints, e, spans)
	var halt *Error
	if errors.As(err, &halt) && halt.Code == CodeCannotClimb {
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	return ride
}

func on(s Setup, endM float64) Stint { return Stint{EndM: endM, Setup: s, Shelter: unset} }

func drawChange(t *rapid.T, lengthM float64) float64 {
	return lengthM * rapid.Float64Range(0.01, 0.99).Draw(t, "changed at a share")
}

func TestAChangeToTheSameBikeIsNoChange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		road := mustRoad2(t, d.course, d.conditions)
		whole := d.over(t, road)
		if whole == nil {
			return
		}
		at := drawChange(t, road.LengthM())
		parts := stinted(t, road, d.rider, []Stint{on(d.setup, at), on(d.setup, 0)}, watts(d.powerW))
		if parts == nil {
			t.Fatal("a halt")
		}
		if !reflect.DeepEqual(parts.Trace, whole.Trace) || parts.Energy != whole.Energy {
			t.Fatalf("%+v\nis not\n%+v", parts.Energy, whole.Energy)
		}
	})
}

// Nearly the same bike is nearly the same ride: the change itself costs nothing.
func TestAChangeUnderWayCostsNothingItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		road := mustRoad2(t, d.course, d.conditions)
		whole := d.over(t, road)
		other := d.setup
		other.Crr = 0.004 * (1 + 1e-12)
		if whole == nil {
			return
		}
		parts := stinted(t, road, d.rider, []Stint{on(d.setup, drawChange(t, road.LengthM())), on(other, 0)}, watts(d.powerW))
		if parts == nil || !(math.Abs(parts.TimeS-whole.TimeS) <= 1e-4*whole.TimeS) {
			t.Fatalf("%+v, not %v s", parts, whole.TimeS)
		}
	})
}

func TestEnergyClosesOverChanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		road := mustRoad2(t, d.course, d.conditions)
		other := setup()
		other.MassKg = rapid.Float64Range(5, 20).Draw(t, "mass")
		other.WheelInertiaKgM2 = rapid.Float64Range(0, 0.3).Draw(t, "inertia")
		other.DrivetrainEfficiency = rapid.Float64Range(0.9, 1).Draw(t, "efficiency")
		changed := on(other, 0)
		changed.Shelter = rapid.Float64Range(0.3, 1).Draw(t, "shelter")
		if changed.Stops = rapid.Bool().Draw(t, "stops"); changed.Stops {
			changed.StandingS = rapid.SampledFrom([]float64{0, 12}).Draw(t, "standing")
		}
		ride := stinted(t, road, d.rider, []Stint{on(d.setup, drawChange(t, road.LengthM())), changed}, watts(d.powerW))
		if ride == nil {
			return
		}
		if share := ride.Energy.ResidualShare(); !(share <= 1e-6) {
			t.Fatalf("%.3g of the energy is missing: %+v", share, ride.Energy)
		}
		for i := 1; i < len(ride.Trace.TimeS); i++ {
			if ride.Trace.TimeS[i] <= ride.Trace.TimeS[i-1] || ride.Trace.DistanceM[i] < ride.Trace.DistanceM[i-1] {
				t.Fatalf("sample %d doesn't follow the one before", i)
			}
		}
	})
}

// atSteady is the road with a start at the speed that a power holds on its first piece.
func atSteady(t testing.TB, c Conditions, length, gradient, powerW float64) (*Road, float64) {
	t.Helper()
	road := mustRoad(t, slope(length, gradient), c)
	bike, err := NewBike(rider(75), setup(), road.Conditions)
	if err != nil {
		t.Fatal(err)
	}
	r := bike.On(&road.Pieces[0])
	v := r.SteadySpeed(powerW * bike.Efficiency)
	c.StartSpeedMps = v
	return mustRoad(t, slope(length, gradient), c), v
}

// On a steady road a stop costs v/2a of braking, the standing, and a start from rest.
func TestWhatAStopCosts(t *testing.T) {
	const length, at, powerW, standingS = 6000, 2500, 250, 14
	for _, braking := range []float64{unset, 4, math.Inf(1)} {
		c := conditions()
		c.BrakingMps2, c.AirDensityKgM3 = braking, 1.2
		road, v := atSteady(t, c, length, 0.02, powerW)
		through := mustRide(t, road, rider(75), setup(), watts(powerW))
		stop := on(setup(), 0)
		stop.Stops, stop.StandingS = true, standingS
		stopped := stinted(t, road, rider(75), []Stint{on(setup(), at), stop}, watts(powerW))
		c.StartSpeedMps = 0
		restart := mustRide(t, mustRoad(t, slope(length-at, 0.02), c), rider(75), setup(), watts(powerW))
		brakes := DefaultBrakingMps2
		if !math.IsNaN(braking) {
			brakes = braking
		}
		want := through.TimeS*at/length + v/(2*brakes) + standingS + restart.TimeS
		near(t, "time with a stop", stopped.TimeS, want, 1e-3)
		if whole := 0.5 * through.Bike.InertiaKg * v * v; !(stopped.Energy.BrakingJ > 0.8*whole && stopped.Energy.BrakingJ <= whole*(1+1e-9)) {
			t.Errorf("the brakes take %v J of %v J", stopped.Energy.BrakingJ, whole)
		}
	}
}

// The clock of a section that ends at the stop ends before it, that of one which starts
// there starts after it; W′ recovers meanwhile as its law says.
func TestStandingBelongsToNoSection(t *testing.T) {
	const at, standingS = 2000.0, 60.0
	c := conditions()
	c.Indoor = true
	road := mustRoad(t, slope(4000, 0.05), c)
	r := rider(70)
	r.CriticalPowerW, r.WPrimeJ = 250, 20_000
	stop := on(setup(), 0)
	stop.Stops, stop.StandingS = true, standingS
	spans := []Span{{ID: "before", EndM: at}, {ID: "after", StartM: at, EndM: 4000}, {ID: "line", StartM: at + 1e-9, EndM: at + 1e-9}}
	ride := stinted(t, road, r, []Stint{on(setup(), at), stop}, watts(300), spans...)
	before, after := ride.Splits[0].TimeS, ride.Splits[1].TimeS
	near(t, "the sections and the standing", before+after+standingS, ride.TimeS, 1e-9)
	near(t, "the line", ride.Splits[2].TimeS, before, 1e-9)
	i := ride.Trace.departure(ride.Trace.sampleAt(at))
	reserve, _ := NewReserve(r)
	near(t, "W′ after standing", ride.Trace.WBalanceJ[i], reserve.After(ride.Trace.WBalanceJ[i-1], 0, standingS), 1e-6)
	near(t, "power standing", ride.Trace.PowerW[i-1], 0, 0)
}

// On a wall the rider starts as slowly as at its foot, and is no slower for it than half a
// metre per second; the highest speed is the one before.
func TestAStopOnAWall(t *testing.T) {
	road := mustRoad(t, profile([]float64{0, 1000, 2000}, []float64{0, -20, 100}), conditions())
	stop := on(setup(), 0)
	stop.Stops, stop.Setup.MassKg = true, 16
	ride := stinted(t, road, rider(75), []Stint{on(setup(), 1500), stop}, watts(68))
	if ride == nil {
		t.Fatal("a halt")
	}
	near(t, "highest speed", ride.MaxSpeedMps, speedAt(t, ride, 1000), 1e-6)
}

// A bunch lost at the change is air to ride against.
func TestShelterOfAStint(t *testing.T) {
	c := conditions()
	c.Shelter = 0.6
	road := mustRoad(t, slope(5000, 0), c)
	alone := c
	alone.Shelter = 1
	lost := on(setup(), 0)
	lost.Shelter = 1
	kept := mustRide(t, road, rider(75), setup(), watts(220)).TimeS
	all := mustRide(t, mustRoad(t, slope(5000, 0), alone), rider(75), setup(), watts(220)).TimeS
	half := stinted(t, road, rider(75), []Stint{on(setup(), 2500), lost}, watts(220)).TimeS
	if !(kept < half && half < all) {
		t.Errorf("%v s sheltered, %v s half of the way, %v s alone", kept, half, all)
	}
}

// Braking for a stop, the rider keeps to the bends' limits before it.
func TestStopsKeepTheLimits(t *testing.T) {
	c := turned(even(3000, 300, hills(rand.New(rand.NewPCG(3, 4)), 20)), func(s float64) float64 { return 60 * math.Sin(s/60) })
	road := mustRoad(t, c, conditions())
	for at := 40.0; at < 3000; at += 61.7 {
		stop := on(setup(), 0)
		stop.Stops = true
		stopping := road.stopping([]Stint{on(setup(), at), stop})
		for i := range stopping.Pieces {
			p := &stopping.Pieces[i]
			for _, share := range []float64{0, 0.5, 1} {
				x := p.StartM + (p.EndM-p.StartM)*share
				whole := &road.Pieces[c.PieceAt(min(x, 2999.99))]
				limit := whole.limitAt((x - whole.StartM) / whole.Cos)
				if got := p.limitAt(p.RoadM * share); got > limit+1e-6 {
					t.Fatalf("a stop at %v m lets ride faster at %v m: %v, not %v", at, x, got, limit)
				}
				rest := 2 * DefaultBrakingMps2 * (at - x) * 1.02 // road is longer than its map
				if got := p.limitAt(p.RoadM * share); x < at && got > rest+1e-6 && got > limit+1e-6 {
					t.Fatalf("a stop at %v m can't be braked for from %v m/s at %v m", at, math.Sqrt(got), x)
				}
			}
		}
		if stinted(t, road, rider(75), []Stint{on(setup(), at), stop}, watts(260)) == nil {
			t.Errorf("a halt after a stop at %v m", at)
		}
	}
}

func TestStintsThatCannotBe(t *testing.T) {
	road := mustRoad(t, slope(1000, 0), conditions())
	standing := on(setup(), 0)
	standing.StandingS = 3
	negative := on(setup(), 0)
	negative.Stops, negative.StandingS = true, -1
	bare := on(setup(), 0)
	bare.Shelter = 1.2
	for name, stints := range map[string][]Stint{
		"none": {}, "out of order": {on(setup(), 600), on(setup(), 500), on(setup(), 0)}, "at the start": {on(setup(), 0), on(setup(), 0)},
		"at the end": {on(setup(), 1000), on(setup(), 0)}, "standing without a stop": {on(setup(), 500), standing},
		"negative": {on(setup(), 500), negative}, "shelter": {on(setup(), 500), bare},
	} {
		var fault *Error
		if _, err := SimulateStints(context.Background(), road, rider(70), stints, watts(200), nil); !errors.As(err, &fault) || fault.Code != CodeInvalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}
