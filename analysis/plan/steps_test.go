package plan

import (
	"context"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

// heldCase is a course with a rider, limits and places of which little is certain.
type heldCase struct {
	road   *ride.Road
	rider  ride.Rider
	limits Limits
	places []Place
}

func drawHeld(t *rapid.T) heldCase {
	n := rapid.IntRange(20, 150).Draw(t, "pieces")
	c := &course.Course{S: make([]float64, n+1), Z: make([]float64, n+1)}
	gradient := 0.0
	for i := range n {
		if i%10 == 0 {
			gradient = rapid.Float64Range(-0.08, 0.08).Draw(t, "gradient")
		}
		c.S[i+1], c.Z[i+1] = c.S[i]+20, c.Z[i]+20*gradient
	}
	cond := conditions()
	cond.HeadwindMps = rapid.Float64Range(-4, 4).Draw(t, "headwind")
	cond.StartSpeedMps = rapid.SampledFrom([]float64{0, 0, 8}).Draw(t, "start speed")
	road, err := ride.NewRoad(c, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := capable(rapid.Float64Range(180, 380).Draw(t, "critical power"), rapid.Float64Range(5_000, 30_000).Draw(t, "W′"))
	r.RecoveryRate = rapid.Float64Range(0.3, 2).Draw(t, "recovery")
	if rapid.Bool().Draw(t, "maximal power") {
		r.MaxPowerW = r.CriticalPowerW * rapid.Float64Range(1.5, 5).Draw(t, "of critical power")
	}
	if rapid.Bool().Draw(t, "law") {
		r.RecoveryLaw = ride.Bartram2018
	}
	return heldCase{road, r, drawLimits(t, r), drawPlaces(t, road.LengthM())}
}

func drawLimits(t *rapid.T, r ride.Rider) Limits {
	l := Unlimited()
	switch rapid.IntRange(0, 5).Draw(t, "limit") {
	case 0:
		l.EndReserveJ = r.WPrimeJ * rapid.Float64Range(0, 1).Draw(t, "reserve")
	case 1:
		l.MaxPowerW = r.CriticalPowerW * rapid.Float64Range(1.01, 2).Draw(t, "most")
	case 2:
		l.MinPowerW = r.CriticalPowerW * rapid.Float64Range(0.1, 0.9).Draw(t, "least")
	case 3:
		l.MeanPowerW = r.CriticalPowerW
	case 4:
		l.ChangeWPerS = rapid.Float64Range(3, 60).Draw(t, "change")
	}
	return l
}

// drawPlaces draws laps between a lead-in and a run-out, with a climb on each.
func drawPlaces(t *rapid.T, lengthM float64) []Place {
	laps := rapid.IntRange(0, 4).Draw(t, "laps")
	if laps == 0 {
		return nil
	}
	in, out := lengthM*rapid.Float64Range(0, 0.2).Draw(t, "lead-in"), lengthM*rapid.Float64Range(0.8, 1).Draw(t, "run-out")
	places := []Place{{Of: OfPart, Kind: kindLeadIn, EndM: in}, {Of: OfPart, Kind: kindRunOut, StartM: out, EndM: lengthM}}
	for i := range laps {
		lap := (out - in) / float64(laps)
		start := in + lap*float64(i)
		places = append(places,
			Place{Of: OfPart, Kind: kindLap, Lap: i + 1, StartM: start, EndM: start + lap},
			Place{Of: OfClimb, ID: "climb-1", Lap: i + 1, Pass: i + 1, StartM: start + lap/4, EndM: start + lap/2})
	}
	return places
}

// hold returns nil where nothing can be planned.
func (c heldCase) hold(t *rapid.T) (*Plan, *Held) {
	p, err := Optimise(context.Background(), c.road, c.rider, setup(), c.limits, nil)
	if err != nil {
		if e, ok := err.(*ride.Error); ok && e.Code == ride.CodeCannotClimb {
			return nil, nil
		}
		t.Fatal(err)
	}
	return p, c.again(t, p)
}

func (c heldCase) again(t *rapid.T, p *Plan) *Held {
	h, err := Hold(context.Background(), c.road, c.rider, setup(), c.limits, p, c.places, nil)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestHeldPlans(t *testing.T) {
	lost, worst := 0.0, 0.0
	rapid.Check(t, func(t *rapid.T) {
		c := drawHeld(t)
		p, h := c.hold(t)
		if p == nil {
			return
		}
		c.checkSteps(t, h)
		if h.Ride.TimeS > p.Constant.TimeS {
			t.Errorf("%v s in steps, %v s at constant power", h.Ride.TimeS, p.Constant.TimeS)
		}
		c.checkLimits(t, h, h.Powers)
		c.checkLimits(t, h, asSteps(h.Steps))
		if again := c.again(t, p); !reflect.DeepEqual(again.Steps, h.Steps) {
			t.Errorf("%+v, then %+v", h.Steps, again.Steps)
		}
		lost = h.Ride.TimeS/p.Ride.TimeS - 1
		worst = max(worst, lost)
	})
	t.Logf("steps lose at most %.2f %% of the time", 100*worst)
}

func asSteps(held []HeldStep) []ride.Step {
	steps := make([]ride.Step, len(held))
	for i, s := range held {
		steps[i] = ride.Step{EndM: s.EndM, PowerW: s.PowerW}
	}
	return steps
}

// checkSteps demands steps that cover the road without gap, in whole watts and with words,
// a dozen in each part at most.
func (c heldCase) checkSteps(t *rapid.T, h *Held) {
	at := 0.0
	for i, s := range h.Steps {
		if s.StartM != at || s.EndM <= s.StartM {
			t.Fatalf("step %d runs from %v m to %v m, after %v m", i+1, s.StartM, s.EndM, at)
		}
		at = s.EndM
		if s.PowerW != math.Round(s.PowerW) && len(h.Steps) > 1 {
			t.Errorf("step %d asks for %v W", i+1, s.PowerW)
		}
		if s.PowerW < c.limits.MinPowerW || s.PowerW > c.limits.MaxPowerW {
			t.Errorf("step %d asks for %v W", i+1, s.PowerW)
		}
		if s.Of == "" || s.Reason == "" {
			t.Errorf("step %d is without words: %+v", i+1, s)
		}
	}
	if at != c.road.LengthM() {
		t.Fatalf("the steps end at %v m of %v m", at, c.road.LengthM())
	}
	for _, part := range sections(c.places, c.road.LengthM()) {
		n := 0
		for _, s := range h.Steps {
			if part.overlap(s.StartM, s.EndM) > sameM {
				n++
			}
		}
		if n > 12 {
			t.Errorf("%d steps in %s", n, part)
		}
	}
}

// checkLimits rides powers again, by which all limits must hold.
func (c heldCase) checkLimits(t *rapid.T, h *Held, powers []ride.Step) {
	again, err := ride.Simulate(context.Background(), c.road, c.rider, setup(), ride.Effort{Kind: ride.BySteps, Steps: powers}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if reflect.DeepEqual(powers, h.Powers) && math.Abs(again.TimeS-h.Ride.TimeS) > 1e-6 {
		t.Errorf("ridden again the powers take %v s, not %v s", again.TimeS, h.Ride.TimeS)
	}
	if c.limits.MeanPowerW > 0 {
		if again.MeanPowerW > c.limits.MeanPowerW+1e-9 {
			t.Errorf("a mean of %v W", again.MeanPowerW)
		}
		return
	}
	const rounding = 1e-6 // J, as in package ride
	if again.Balance.MinJ < -rounding || again.Balance.EndJ < orZero(c.limits.EndReserveJ)-rounding {
		t.Errorf("the balance falls to %v J and ends at %v J", again.Balance.MinJ, again.Balance.EndJ)
	}
	for i, w := range again.Trace.WBalanceJ[1:] {
		most := 4 * c.rider.CriticalPowerW
		if !math.IsNaN(c.rider.MaxPowerW) {
			most = c.rider.CriticalPowerW + (c.rider.MaxPowerW-c.rider.CriticalPowerW)*w/c.rider.WPrimeJ
		}
		if power := again.Trace.PowerW[i]; power > most*(1+1e-9) {
			t.Fatalf("%v W at %v J, the limit is %v W", power, w, most)
		}
	}
}

func TestRampsKeepToTheBoundOfChanges(t *testing.T) {
	road := mustRoad(t, even(8_000, 10, func(s float64) float64 { return 15 * math.Sin(s/300) }), conditions())
	limits := Unlimited()
	limits.ChangeWPerS = 8
	p, err := Optimise(t.Context(), road, capable(260, 20_000), setup(), limits, nil)
	if err != nil {
		t.Fatal(err)
	}
	h, err := Hold(t.Context(), road, capable(260, 20_000), setup(), limits, p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Steps) < 3 || len(h.Powers) < 2*len(h.Steps) {
		t.Fatalf("%d steps, ridden at %d powers", len(h.Steps), len(h.Powers))
	}
	middle, start := 0.0, 0.0
	for i, s := range h.Powers {
		next := stateAt(&h.Ride.Trace, (start+s.EndM)/2).timeS
		if i > 0 {
			if rate := math.Abs(s.PowerW-h.Powers[i-1].PowerW) / (next - middle); rate > limits.ChangeWPerS {
				t.Errorf("at %v m the power changes by %v W/s", start, rate)
			}
		}
		start, middle = s.EndM, next
	}
}

// Roads too short for a step, and bounds that leave no whole watt, are held all the same.
func TestShortRoadsAndNarrowBoundsAreHeld(t *testing.T) {
	narrow := map[string]func(l *Limits){
		"none":           func(*Limits) {},
		"little power":   func(l *Limits) { l.MaxPowerW = 120 },
		"no whole watt":  func(l *Limits) { l.MinPowerW, l.MaxPowerW = 200.2, 200.8 },
		"a mean":         func(l *Limits) { l.MeanPowerW = 150 },
		"hardly changes": func(l *Limits) { l.ChangeWPerS = 0.1 },
		"all kept":       func(l *Limits) { l.EndReserveJ = 20_000 },
	}
	for name, limit := range narrow {
		for _, length := range []float64{1, 3, 7, 40, 200} {
			for _, gradient := range []float64{-0.1, 0, 0.04} {
				road := mustRoad(t, even(length, min(10, length), func(s float64) float64 { return gradient * s }), conditions())
				l := Unlimited()
				limit(&l)
				p, err := Optimise(t.Context(), road, capable(260, 20_000), setup(), l, nil)
				if err != nil {
					t.Fatalf("%s, %v m at %v: %v", name, length, gradient, err)
				}
				h, err := Hold(t.Context(), road, capable(260, 20_000), setup(), l, p, nil, nil)
				if err != nil {
					t.Fatalf("%s, %v m at %v: %v", name, length, gradient, err)
				}
				if h.Ride.TimeS > p.Constant.TimeS || h.Steps[len(h.Steps)-1].EndM != road.LengthM() {
					t.Errorf("%s, %v m at %v: %v s in steps, %v s at constant power", name, length, gradient, h.Ride.TimeS, p.Constant.TimeS)
				}
			}
		}
	}
}

// Of more hills than steps those are told that matter most.
func TestManyHillsAreHeldInTwelveSteps(t *testing.T) {
	road := mustRoad(t, even(24_000, 20, func(s float64) float64 { return 30 * math.Sin(s/400) }), conditions())
	p, err := Optimise(t.Context(), road, capable(260, 20_000), setup(), Unlimited(), nil)
	if err != nil {
		t.Fatal(err)
	}
	h, err := Hold(t.Context(), road, capable(260, 20_000), setup(), Unlimited(), p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Steps) != 12 {
		t.Errorf("%d steps", len(h.Steps))
	}
}

func BenchmarkHold(b *testing.B) {
	for name, z := range grounds {
		b.Run(name, func(b *testing.B) {
			road := mustRoad(b, even(40_000, 20, z), conditions())
			p, err := Optimise(b.Context(), road, capable(260, 20_000), setup(), Unlimited(), nil)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := Hold(b.Context(), road, capable(260, 20_000), setup(), Unlimited(), p, nil, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
