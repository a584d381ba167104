package ride

import (
	"context"
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
)

// drawn is a random ride of which nothing is certain but that it is finite.
type drawn struct {
	course     *course.Course
	conditions Conditions
	rider      Rider
	setup      Setup
	powerW     float64
}

func drawRide(t *rapid.T) drawn {
	n := rapid.IntRange(2, 80).Draw(t, "pieces")
	c := &course.Course{S: make([]float64, n+1), Z: make([]float64, n+1)}
	headings := make([]float64, n)
	gradient := 0.0
	for i := range n {
		ds := rapid.Float64Range(2, 60).Draw(t, "ds")
		gradient = 0.6*gradient + rapid.Float64Range(-0.06, 0.06).Draw(t, "bend of the profile")
		c.S[i+1], c.Z[i+1] = c.S[i]+ds, c.Z[i]+gradient*ds
		headings[i] = rapid.Float64Range(-40, 40).Draw(t, "turn")
		if i > 0 {
			headings[i] += headings[i-1]
		}
	}
	cond := conditions()
	if rapid.Bool().Draw(t, "positions") {
		c = turned(c, func(s float64) float64 { return headings[c.PieceAt(s)] })
		cond.WindMps, cond.WindFromDeg = rapid.Float64Range(0, 12).Draw(t, "wind"), rapid.Float64Range(0, 360).Draw(t, "from")
	}
	cond.CoastAboveMps = rapid.Float64Range(5, 20).Draw(t, "coast above")
	cond.StartSpeedMps = rapid.SampledFrom([]float64{0, 0, 3, 12}).Draw(t, "start speed")
	r := rider(rapid.Float64Range(45, 110).Draw(t, "mass"))
	r.CriticalPowerW, r.WPrimeJ = 250, 15_000
	return drawn{c, cond, r, setup(), rapid.Float64Range(120, 900).Draw(t, "power")}
}

// ride returns nil where the rider comes to a halt.
func (d drawn) ride(t *rapid.T) *Ride {
	road, err := NewRoad(d.course, d.conditions, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d.over(t, road)
}

func (d drawn) over(t *rapid.T, road *Road) *Ride {
	ride, err := Simulate(context.Background(), road, d.rider, d.setup, watts(d.powerW), nil)
	if err != nil {
		if halt, ok := err.(*Error); ok && halt.Code == CodeCannotClimb {
			return nil
		}
		t.Fatal(err)
	}
	return ride
}

func TestEnergyCloses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ride := drawRide(t).ride(t)
		if ride == nil {
			return
		}
		if share := ride.Energy.ResidualShare(); !(share <= 1e-6) {
			t.Fatalf("%.3g of the energy is missing: %+v", share, ride.Energy)
		}
		if ride.Energy.BrakingJ < 0 || ride.Energy.RollingJ <= 0 || ride.WorkJ < 0 {
			t.Fatalf("losses of the wrong sign: %+v", ride.Energy)
		}
	})
}

func TestRideIsFiniteAndInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ride := drawRide(t).ride(t)
		if ride == nil {
			return
		}
		for i := range ride.Trace.TimeS {
			for _, x := range []float64{ride.Trace.TimeS[i], ride.Trace.SpeedMps[i], ride.Trace.PowerW[i], ride.Trace.WBalanceJ[i]} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("sample %d isn't finite: %+v", i, ride.Trace)
				}
			}
			if i > 0 && ride.Trace.TimeS[i] <= ride.Trace.TimeS[i-1] {
				t.Fatalf("time stands still at sample %d", i)
			}
		}
	})
}

// halved is the road with every piece cut in two.
func halved(r *Road) *Road {
	h := *r
	h.Pieces = nil
	for _, p := range r.Pieces {
		a, b := p, p
		a.EndM = (p.StartM + p.EndM) / 2
		b.StartM = a.EndM
		a.RoadM, b.RoadM = p.RoadM/2, p.RoadM/2
		if !math.IsInf(p.StartLimit, 1) {
			a.EndLimit = (p.StartLimit + p.EndLimit) / 2
			b.StartLimit = a.EndLimit
		}
		h.Pieces = append(h.Pieces, a, b)
	}
	return &h
}

func TestHalvingThePiecesChangesNothing(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		road, err := NewRoad(d.course, d.conditions, nil)
		if err != nil {
			t.Fatal(err)
		}
		whole, half := d.over(t, road), d.over(t, halved(road))
		if whole == nil || half == nil {
			return
		}
		moved := math.Abs(half.TimeS/whole.TimeS - 1)
		worst = max(worst, moved)
		if !(moved < 1e-4) {
			t.Fatalf("halving moves %v s by %.3g", whole.TimeS, moved)
		}
	})
	t.Logf("at most %.2g of the time", worst)
}

func TestMorePowerIsNeverSlower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		weak := d.ride(t)
		d.powerW *= 1 + rapid.Float64Range(0.01, 0.5).Draw(t, "more")
		strong := d.ride(t)
		if weak != nil && (strong == nil || strong.TimeS > weak.TimeS*(1+1e-7)) {
			t.Fatalf("more power is slower: %+v after %v s", strong, weak.TimeS)
		}
	})
}

func TestMassOnSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		gradient := rapid.Float64Range(0.01, 0.12).Draw(t, "gradient")
		mass := rapid.Float64Range(45, 100).Draw(t, "mass")
		more := mass + rapid.Float64Range(0.5, 20).Draw(t, "more")
		power := rapid.Float64Range(200, 500).Draw(t, "power")
		r, s := rider(mass), setup()
		r.CdAM2 = 0.3
		heavy := r
		heavy.MassKg = more
		cond := conditions()
		cond.StartSpeedMps, cond.CoastAboveMps = 8, math.Inf(1)
		up := mustRoad2(t, slope(3000, gradient), cond)
		if a, b := timeOf(t, up, r, s, power), timeOf(t, up, heavy, s, power); b <= a {
			t.Fatalf("uphill the heavier rider takes %v s, the lighter %v s", b, a)
		}
		down := mustRoad2(t, slope(3000, -gradient), cond)
		if a, b := timeOf(t, down, r, s, 0), timeOf(t, down, heavy, s, 0); b > a*(1+1e-9) {
			t.Fatalf("downhill the heavier rider takes %v s, the lighter %v s", b, a)
		}
	})
}

func mustRoad2(t *rapid.T, c *course.Course, cond Conditions) *Road {
	road, err := NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return road
}

func timeOf(t *rapid.T, road *Road, r Rider, s Setup, power float64) float64 {
	ride, err := Simulate(context.Background(), road, r, s, watts(power), nil)
	if err != nil {
		t.Fatal(err)
	}
	return ride.TimeS
}

// Turning the wind and the direction of travel around together changes nothing on the
// flat.
func TestWindAndDirectionReversed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heading := rapid.Float64Range(0, 360).Draw(t, "heading")
		from := rapid.Float64Range(0, 180).Draw(t, "from")
		flat := even(2000, 50, func(float64) float64 { return 0 })
		ride := func(turn float64) float64 {
			cond := conditions()
			cond.WindMps, cond.WindFromDeg = 7, from+turn
			road := mustRoad2(t, turned(flat, func(float64) float64 { return heading + turn }), cond)
			return timeOf(t, road, rider(75), setup(), 220)
		}
		if a, b := ride(0), ride(180); math.Abs(a-b) > 1e-8*a {
			t.Fatalf("%v s one way, %v s the other", a, b)
		}
	})
}

// Indoors is outdoors with everything that the hall lacks switched off.
func TestIndoorsIsOutdoorsSwitchedOff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		d.conditions.WindMps, d.conditions.WindFromDeg = unset, unset
		d.conditions.AirDensityKgM3 = 1.2
		in, out := d, d
		in.conditions.Indoor = true
		out.conditions.CoastAboveMps, out.conditions.LateralMps2 = math.Inf(1), math.Inf(1)
		a, b := in.ride(t), out.ride(t)
		if (a == nil) != (b == nil) || (a != nil && a.TimeS != b.TimeS) {
			t.Fatalf("indoors %+v, outdoors %+v", a, b)
		}
	})
}

// A trace given back as steps is the same ride.
func TestTraceAsStepsIsTheSameRide(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		d := drawRide(t)
		road := mustRoad2(t, d.course, d.conditions)
		ride := d.over(t, road)
		if ride == nil || ride.TimeS < 10 {
			return // the power between two samples is too large a part of the ride
		}
		again, err := Simulate(context.Background(), road, d.rider, d.setup, Effort{Kind: BySteps, Steps: stepsOf(ride.Trace)}, nil)
		if err != nil {
			t.Fatal(err)
		}
		moved := math.Abs(again.TimeS/ride.TimeS - 1)
		worst = max(worst, moved)
		if moved > 5e-4 {
			t.Fatalf("%v s became %v s", ride.TimeS, again.TimeS)
		}
	})
	t.Logf("at most %.2g of the time", worst)
}

func stepsOf(trace Trace) []Step {
	steps := make([]Step, len(trace.DistanceM)-1)
	for i := range steps {
		steps[i] = Step{trace.DistanceM[i+1], trace.PowerW[i]}
	}
	return steps
}
