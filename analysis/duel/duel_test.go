package duel_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/duel"
	"parcours.example/analysis/ride"
)

// onto is a course through heights at even distances.
func onto(lengthM float64, z ...float64) *course.Course {
	c := &course.Course{}
	for i, h := range z {
		c.S = append(c.S, lengthM*float64(i)/float64(len(z)-1))
		c.Z = append(c.Z, h)
	}
	return c
}

// road is a course in calm air, ridden from standstill.
func road(t testing.TB, c *course.Course) *ride.Road {
	t.Helper()
	nan := math.NaN()
	r, err := ride.NewRoad(c, ride.Conditions{
		TemperatureC: nan, PressureHPa: nan, HumidityPct: nan, AirDensityKgM3: nan, WindMps: nan, WindFromDeg: nan,
		RoughnessM: nan, HeadwindMps: nan, Shelter: nan, LoadKg: nan, StartSpeedMps: nan, CoastAboveMps: nan,
		LateralMps2: nan, BrakingMps2: nan,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// contestant is a rider of a mass who gives a power per mass, of whom nothing else is known.
func contestant(name string, massKg, wPerKg float64) duel.Contestant {
	nan := math.NaN()
	return duel.Contestant{
		Rider: ride.Rider{
			Name: name, MassKg: massKg, HeightM: nan, CdAM2: nan, CriticalPowerW: nan, WPrimeJ: nan, MaxPowerW: nan,
			RecoveryRate: nan, GrossEfficiency: nan,
		},
		Setup: ride.Setup{
			MassKg: nan, CdAM2: nan, CdAChangeM2: nan, Crr: nan, DrivetrainEfficiency: nan, WheelInertiaKgM2: nan,
			WheelRadiusM: nan, WheelDragAreaM2: nan, BearingN: nan, BearingNsPerM: nan,
		},
		Steps: []ride.Step{{EndM: math.Inf(1), PowerW: massKg * wPerKg}},
	}
}

func ridden(t testing.TB, r *ride.Road, q duel.Question) *duel.Answer {
	t.Helper()
	a, err := duel.Ride(context.Background(), r, q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// timeOf is how long a contestant takes with all of the power scaled.
func timeOf(t testing.TB, r *ride.Road, c duel.Contestant, factor float64) float64 {
	t.Helper()
	ridden, err := ride.Simulate(context.Background(), r, c.Rider, c.Setup, ride.Effort{Kind: ride.BySteps, Steps: timesFactor(c.Steps, factor)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return ridden.TimeS
}

func timesFactor(steps []ride.Step, factor float64) []ride.Step {
	scaled := make([]ride.Step, len(steps))
	for i, s := range steps {
		scaled[i] = ride.Step{EndM: s.EndM, PowerW: s.PowerW * factor}
	}
	return scaled
}

// rolling draws a course that rolls and then climbs, and the climb.
func rolling(t *rapid.T) (*course.Course, ride.Span) {
	length := rapid.Float64Range(2000, 10_000).Draw(t, "rolling m")
	z := []float64{100}
	for i := range 10 {
		z = append(z, 100+rapid.Float64Range(-0.02, 0.02).Draw(t, "rise")*length/10*float64(i%2))
	}
	c := onto(length, z...)
	climb := rapid.Float64Range(500, 4000).Draw(t, "climb m")
	gradient := rapid.Float64Range(0.04, 0.1).Draw(t, "gradient")
	top := length + climb
	c.S = append(c.S, top, top+1000)
	c.Z = append(c.Z, z[10]+gradient*climb, z[10]+gradient*climb)
	return c, ride.Span{Of: "climb", ID: "climb-1", Pass: 1, StartM: length, EndM: top}
}

// duelists draws a heavier and a lighter rider.
func duelists(t *rapid.T) (heavier, lighter duel.Contestant) {
	light := rapid.Float64Range(45, 80).Draw(t, "lighter kg")
	heavy := light + rapid.Float64Range(5, 30).Draw(t, "difference kg")
	wPerKg := rapid.Float64Range(2.5, 5).Draw(t, "W/kg")
	return contestant("Bram", heavy, wPerKg), contestant("Nour", light, wPerKg)
}

// At equal power per body mass the heavier rider is ahead on the flat and, by a smaller
// share of the time, on a climb; the lighter one comes back with more power per mass, and
// at the same power per mass with the heavier one's mass.
func TestHeavierRidersAreAheadAtEqualPowerPerMass(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		heavier, lighter := duelists(rt)
		gradient := rapid.Float64Range(0.03, 0.12).Draw(rt, "gradient")
		flat := ridden(t, road(t, onto(5000, 0, 0)), duel.Question{Heavier: heavier, Lighter: lighter})
		up := ridden(t, road(t, onto(5000, 0, 5000*gradient)), duel.Question{Heavier: heavier, Lighter: lighter})
		onFlat, onClimb := flat.GapS/flat.Heavier.TimeS, up.GapS/up.Heavier.TimeS
		if !(onFlat > onClimb && onClimb > 0) {
			rt.Errorf("behind by %v of the time on the flat, by %v on the climb", onFlat, onClimb)
		}
		for _, a := range []*duel.Answer{flat, up} {
			if !(a.Power.Found && a.Power.Factor > 1) {
				rt.Errorf("level with %+v", a.Power)
			}
			if math.Abs(a.Mass.Value/heavier.Rider.MassKg-1) > 1e-6 {
				rt.Errorf("level at %+v, the other has %v kg", a.Mass, heavier.Rider.MassKg)
			}
		}
		if math.Abs(up.Power.Factor-1) > math.Abs(flat.Power.Factor-1) {
			rt.Errorf("takes %v on the climb, %v on the flat", up.Power.Factor, flat.Power.Factor)
		}
	})
}

// What tips the duel does so to 10⁻⁶ and not before.
func TestTippingValuesTip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, climb := rolling(rt)
		r := road(t, c)
		heavier, lighter := duelists(rt)
		form := rapid.Float64Range(0.8, 1.3).Draw(rt, "form")
		lighter.Steps = []ride.Step{
			{EndM: climb.StartM / 2, PowerW: lighter.Steps[0].PowerW * form},
			{EndM: climb.EndM, PowerW: lighter.Steps[0].PowerW * form * 1.05},
		}
		a := ridden(t, r, duel.Question{Heavier: heavier, Lighter: lighter, LastClimb: &climb})
		wanted := timeOf(t, r, heavier, 1)
		slower, faster := timeOf(t, r, lighter, a.Power.Factor*(1-1e-6)), timeOf(t, r, lighter, a.Power.Factor*(1+1e-6))
		if !(a.Power.Found && slower > wanted && faster < wanted) {
			rt.Errorf("level at %+v: %v s and %v s around %v s", a.Power, slower, faster, wanted)
		}
		steps := timesFactor(lighter.Steps, a.Power.Factor)
		if got := ridden(t, r, duel.Question{Heavier: heavier, Lighter: duel.Contestant{Rider: lighter.Rider, Setup: lighter.Setup, Steps: steps}}); math.Abs(got.Lighter.WPerKg/a.Power.Value-1) > 1e-9 {
			rt.Errorf("level at %v W/kg, which are %v", a.Power.Value, got.Lighter.WPerKg)
		}
	})
}

// Gains add up: by stretch, by slope, before the last climb and on it.
func TestGainsAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, climb := rolling(rt)
		heavier, lighter := duelists(rt)
		length := c.S[len(c.S)-1]
		a := ridden(t, road(t, c), duel.Question{
			Heavier: heavier, Lighter: lighter, LastClimb: &climb,
			Spans: []ride.Span{{EndM: 1234}, {StartM: 1234, EndM: climb.EndM}, {StartM: climb.EndM, EndM: length}, {StartM: 1234, EndM: 1234}},
		})
		stretches, ground, metres := 0.0, 0.0, 0.0
		for _, s := range a.Stretches {
			stretches += s.GainS()
			near(rt, "the gap at a stretch's end", s.StartGapS-s.GainS(), s.EndGapS)
		}
		for _, g := range a.Ground {
			ground += g.GainS()
			metres += g.LengthM
		}
		near(rt, "by stretch", -stretches, a.GapS)
		near(rt, "by slope", -ground, a.GapS)
		near(rt, "length", metres, length)
		near(rt, "times", a.Lighter.TimeS-a.Heavier.TimeS, a.GapS)
		first, last := a.Gaps[0], a.Gaps[len(a.Gaps)-1]
		if first != (duel.Gap{}) || last.AtM != length || len(a.Gaps) != 200 {
			rt.Errorf("the gaps go from %+v to %+v", first, last)
		}
		near(rt, "the last gap", last.GapS, a.GapS)
		near(rt, "the clocks at a stretch's end", a.Stretches[2].LighterClockS, a.Lighter.TimeS)
		near(rt, "the clocks at a stretch's end", a.Stretches[2].HeavierClockS, a.Heavier.TimeS)
		near(rt, "the point's gap", a.Stretches[3].EndGapS, a.Stretches[0].EndGapS)
		near(rt, "the climb's top", a.LastClimb.EndGapS, a.Stretches[2].StartGapS)
	})
}

func near(t *rapid.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-6) {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// With the power that it asks for on the last climb the lighter rider is level at its top;
// a lead at the foot of as much as can be closed is closed there.
func TestTheLastClimbDecides(t *testing.T) {
	c := onto(12_000, 0, 0, 0, 0, 0, 0, 0, 0, 0, 80, 160, 240, 240)
	climb := ride.Span{StartM: 8000, EndM: 11_000}
	heavier, lighter := contestant("Bram", 80, 3.6), contestant("Nour", 60, 4)
	q := duel.Question{Heavier: heavier, Lighter: lighter, LastClimb: &climb}
	r := road(t, c)
	last := ridden(t, r, q).LastClimb
	if !last.Needed.Found || last.StartGapS < 5 || last.GainS() < 5 || last.ClosableS() != last.GainS() {
		t.Fatalf("%+v", last)
	}
	q.Lighter.Steps = []ride.Step{{EndM: 8000, PowerW: 240}, {EndM: 11_000, PowerW: last.Needed.Value * 60}, {EndM: 12_000, PowerW: 240}}
	if gap := ridden(t, r, q).LastClimb.EndGapS; math.Abs(gap) > 0.001 {
		t.Errorf("%v s at the top", gap)
	}
	q.Lighter = contestant("Nour", 60, 3)
	if weak := ridden(t, r, q).LastClimb; weak.GainS() >= 0 || weak.ClosableS() != 0 {
		t.Errorf("a weaker rider gains: %+v", weak)
	}
}

// A drag area tips the duel at the same mass whether it was given or estimated.
func TestGivenDragAreasFollowTheMass(t *testing.T) {
	r := road(t, onto(9000, 0, 0, 0, 200))
	heavier, lighter := contestant("Bram", 80, 3.6), contestant("Nour", 60, 3.8)
	want := ridden(t, r, duel.Question{Heavier: heavier, Lighter: lighter}).Mass
	own := ride.EstimateDragArea(1.8, 60)
	byRider, bySetup := lighter, lighter
	byRider.Rider.HeightM, byRider.Rider.CdAM2 = 1.8, own
	bySetup.Setup.CdAM2, bySetup.Rider.CdAM2 = own, 0.5
	for name, c := range map[string]duel.Contestant{"the rider's": byRider, "the set-up's": bySetup} {
		if got := ridden(t, r, duel.Question{Heavier: heavier, Lighter: c}).Mass; !want.Found || math.Abs(got.Value-want.Value) > 1e-6 {
			t.Errorf("%s given: %v kg, not %v", name, got.Value, want.Value)
		}
	}
}

func TestTwoOfAKindAreLevel(t *testing.T) {
	climb := ride.Span{StartM: 3000, EndM: 5000}
	a := ridden(t, road(t, onto(5000, 0, 10, 0, 0, 90, 180)), duel.Question{
		Heavier: contestant("Bram", 70, 4), Lighter: contestant("Nour", 70, 4), LastClimb: &climb,
	})
	if a.GapS != 0 || a.Power.Factor != 1 || a.Mass.Value != 70 || a.LastClimb.Needed.Factor != 1 {
		t.Errorf("%+v", a)
	}
}

// A lighter rider far ahead is level only where another would come to a halt.
func TestHaltsAreLate(t *testing.T) {
	r := road(t, onto(3000, 0, 0, 200, 400))
	heavier, lighter := contestant("Bram", 90, 1.2), contestant("Nour", 60, 2.53)
	a := ridden(t, r, duel.Question{Heavier: heavier, Lighter: lighter})
	if !a.Power.Found || a.Power.Value > 1.5 {
		t.Errorf("level at %+v", a.Power)
	}
	heavier = contestant("Bram", 90, 0.1)
	_, err := duel.Ride(context.Background(), r, duel.Question{Heavier: heavier, Lighter: lighter})
	var halt *ride.Error
	if !errors.As(err, &halt) || halt.Code != ride.CodeCannotClimb {
		t.Errorf("got %v", err)
	}
}

func TestBeyondAllBounds(t *testing.T) {
	a := ridden(t, road(t, onto(3000, 0, 0)), duel.Question{Heavier: contestant("Bram", 90, 6), Lighter: contestant("Nour", 50, 0.5)})
	if a.Power.Found || a.Mass.Found || math.Abs(a.Power.High-1.5) > 1e-9 || a.Mass.High != 150 {
		t.Errorf("%+v %+v", a.Power, a.Mass)
	}
}

// W′ bounds what is feasible.
func TestWhatTipsMayNotLast(t *testing.T) {
	lighter := contestant("Nour", 60, 4)
	lighter.Rider.CriticalPowerW, lighter.Rider.WPrimeJ = 240, 1000
	a := ridden(t, road(t, onto(10_000, 0, 0)), duel.Question{Heavier: contestant("Bram", 80, 4), Lighter: lighter})
	if !a.Lighter.Feasible || !a.Power.Found || a.Power.Feasible {
		t.Errorf("%+v %+v", a.Lighter, a.Power)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := duel.Ride(ctx, road(t, onto(3000, 0, 0)), duel.Question{Heavier: contestant("a", 70, 4), Lighter: contestant("b", 60, 4)})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// BenchmarkDuel40km is a duel over 40 km of rolling road in 4,000 pieces.
func BenchmarkDuel40km(b *testing.B) {
	z := make([]float64, 4001)
	for i := range z {
		z[i] = 15 * math.Sin(float64(i)/60)
	}
	r := road(b, onto(40_000, z...))
	climb := ride.Span{StartM: 39_000, EndM: 40_000}
	q := duel.Question{Heavier: contestant("Bram", 80, 4), Lighter: contestant("Nour", 60, 4), LastClimb: &climb}
	for b.Loop() {
		if _, err := duel.Ride(context.Background(), r, q); err != nil {
			b.Fatal(err)
		}
	}
}
