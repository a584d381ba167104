package plan

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/ride"
)

// slopes are central differences of a function of two energies, in the order of
// duration's and force's fields.
func slopes2(f func(e0, e1 float64) float64, e0, e1 float64) (by0, by1, by00, by01, by11 float64) {
	h0, h1 := 1e-3*e0, 1e-3*e1
	by0 = (f(e0+h0, e1) - f(e0-h0, e1)) / (2 * h0)
	by1 = (f(e0, e1+h1) - f(e0, e1-h1)) / (2 * h1)
	by00 = (f(e0+h0, e1) - 2*f(e0, e1) + f(e0-h0, e1)) / (h0 * h0)
	by11 = (f(e0, e1+h1) - 2*f(e0, e1) + f(e0, e1-h1)) / (h1 * h1)
	by01 = (f(e0+h0, e1+h1) - f(e0+h0, e1-h1) - f(e0-h0, e1+h1) + f(e0-h0, e1-h1)) / (4 * h0 * h1)
	return
}

func TestDerivativesOfACell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		inertia := draw("inertia", 50, 120)
		v0, v1 := draw("v0", 1, 20), draw("v1", 1, 20)
		c := cell{roadM: draw("h", 2, 30), drag: 0.2, headwind: draw("headwind", -0.5, 8), steady: draw("steady", -60, 90), bearing: 0.01}
		e0, e1 := inertia/2*v0*v0, inertia/2*v1*v1
		speed := func(e float64) float64 { return math.Sqrt(2 * e / inertia) }
		near := func(what string, got, want, scale float64) {
			if math.Abs(got-want) > 2e-3*math.Abs(want)+1e-4*scale {
				t.Fatalf("%s: %v, by differences %v", what, got, want)
			}
		}
		d := newDuration(c.roadM, v0, v1, inertia)
		by0, by1, by00, by01, by11 := slopes2(func(a, b float64) float64 { return newDuration(c.roadM, speed(a), speed(b), inertia).value }, e0, e1)
		least := min(e0, e1)
		near("∂T/∂e0", d.by0, by0, d.value/e0)
		near("∂T/∂e1", d.by1, by1, d.value/e1)
		near("∂²T/∂e0²", d.by00, by00, d.value/(least*least))
		near("∂²T/∂e0∂e1", d.by01, by01, d.value/(least*least))
		near("∂²T/∂e1²", d.by11, by11, d.value/(least*least))
		brief, briefBy1 := briefly(c.roadM, v0, v1, inertia)
		near("T in brief", brief, d.value, 0)
		near("∂T/∂e1 in brief", briefBy1, d.by1, 0)
		f := c.force(e0, e1, v0, v1, inertia)
		by0, by1, by00, _, by11 = slopes2(func(a, b float64) float64 { return c.force(a, b, speed(a), speed(b), inertia).value }, e0, e1)
		air := c.drag * 400
		near("∂F/∂e0", f.by0, by0, air/e0)
		near("∂F/∂e1", f.by1, by1, air/e1)
		near("∂²F/∂e0²", f.by00, by00, air/(least*least))
		near("∂²F/∂e1²", f.by11, by11, air/(least*least))
		after, afterBy1 := c.forceAfter(e0, e1, v0, v1, inertia)
		near("F in brief", after, f.value, 0)
		near("∂F/∂e1 in brief", afterBy1, f.by1, 0)
	})
}

func TestDerivativesOfAStock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := stock{
			thresholdW: 260, fullJ: 20_000, rate: rapid.Float64Range(0, 3).Draw(t, "rate"),
			law: rapid.SampledFrom([]stockLaw{proportional, bartram, account}).Draw(t, "law"),
		}
		p, blur := rapid.Float64Range(0, 900).Draw(t, "power"), rapid.Float64Range(1, 20).Draw(t, "blur")
		f, h := s.at(p, blur), 1e-2
		low, high := s.at(p-h, blur), s.at(p+h, blur)
		near := func(what string, got, want, scale float64) {
			if math.Abs(got-want) > 1e-3*math.Abs(want)+scale {
				t.Fatalf("%s at %v W: %v, by differences %v", what, p, got, want)
			}
		}
		near("a'", f.a1, (high.a-low.a)/(2*h), 1e-6)
		near("a''", f.a2, (high.a1-low.a1)/(2*h), 1e-6)
		near("b'", f.b1, (high.b-low.b)/(2*h), 1e-10)
		near("b''", f.b2, (high.b1-low.b1)/(2*h), 1e-10)
	})
}

// programOf states the plan of a rider on a road over cells.
func programOf(t testing.TB, road *ride.Road, r ride.Rider, limits Limits, cellM float64) (*task, *program) {
	t.Helper()
	made, err := newTask(road, r, setup(), limits)
	if err != nil {
		t.Fatal(err)
	}
	return made, made.newProgram(cellM)
}

func TestProgramRidesLikeTheMotion(t *testing.T) {
	cond := conditions()
	cond.CoastAboveMps = 60
	for name, z := range grounds {
		road := mustRoad(t, even(20_000, 20, z), cond)
		made, g := programOf(t, road, capable(260, 20_000), Unlimited(), 10)
		x := newPoint(len(g.cells))
		for k := range x.p {
			x.p[k] = 200 + 100*math.Sin(float64(k)/40)
		}
		g.ride(x, 0)
		r, err := made.simulate(t.Context(), g.steps(x), nil)
		if err != nil {
			t.Fatal(err)
		}
		if off := x.timeOf()/r.TimeS - 1; math.Abs(off) > 5e-4 {
			t.Errorf("%s: %v s, by the motion model %v s", name, x.timeOf(), r.TimeS)
		}
		if off := x.w[len(x.w)-1] - r.Balance.EndJ; math.Abs(off) > 60 {
			t.Errorf("%s: %v J are left, by the motion model %v J", name, x.w[len(x.w)-1], r.Balance.EndJ)
		}
	}
}

// The slope of the barrier function along a step is twice what the step promises, so that
// a small share of it must bring twice its share: a check of all derivatives at once.
func TestSweepKeepsItsPromise(t *testing.T) {
	eased := Unlimited()
	eased.ChangeWPerS = 20
	limited := capable(260, 20_000)
	limited.MaxPowerW = 900
	for name, c := range map[string]struct {
		rider  ride.Rider
		limits Limits
	}{
		"free": {capable(260, 20_000), Unlimited()}, "maximal power": {limited, Unlimited()}, "eased": {capable(260, 20_000), eased},
	} {
		road := mustRoad(t, winding(6000, grounds["rolling"]), conditions())
		made, g := programOf(t, road, c.rider, c.limits, 10)
		constant, err := made.simulate(t.Context(), constantly(250), nil)
		if err != nil {
			t.Fatal(err)
		}
		g.ease(c.limits.ChangeWPerS, constant.Trace)
		powers := make([]float64, len(g.cells))
		for k := range powers {
			powers[k] = 130 + 125*math.Sin(float64(k)/60) // near the least, and back
		}
		s := newSweeper(g, g.from(powers, blurOf(1e-2)))
		s.begin(1e-2)
		for range 4 {
			s.backward()
			cost := s.cost(s.x)
			share := 1e-6
			if !s.forward(share) {
				t.Fatalf("%s: a small step leaves the bounds", name)
			}
			kept := (cost - s.cost(s.trial)) / (2 * share * s.promise)
			if math.Abs(kept-1) > 1e-3 {
				t.Errorf("%s: a small step brings %.4f of what it promises", name, kept)
			}
			if _, better := s.descend(cost); !better {
				t.Errorf("%s: no step is better", name)
			}
		}
	}
}

func TestSearchForgetsWhereItBegan(t *testing.T) {
	road := mustRoad(t, even(20_000, 20, grounds["climb last"]), conditions())
	_, g := programOf(t, road, capable(260, 20_000), Unlimited(), 20)
	var times []float64
	for _, wanted := range []func(m float64) float64{
		func(float64) float64 { return 255 },
		func(m float64) float64 { return 400 - m/100 },
		func(m float64) float64 { return 220 + max(0, m-14_000)/30 },
		func(m float64) float64 { return 260 + 80*math.Sin(m/250) },
	} {
		powers := make([]float64, len(g.cells))
		for k := range powers {
			powers[k] = wanted(g.cells[k].endM)
		}
		s := newSweeper(g, g.from(powers, blurOf(rough)))
		if err := s.optimise(t.Context(), rough, finest); err != nil {
			t.Fatal(err)
		}
		times = append(times, s.outcome().timeS)
	}
	for _, at := range times[1:] {
		if math.Abs(at/times[0]-1) > 5e-5 {
			t.Fatalf("optima of %v s", times)
		}
	}
}

func TestChangesAreBoundedByTheTimeBetweenThem(t *testing.T) {
	road := mustRoad(t, even(6000, 10, grounds["rolling"]), conditions())
	made, g := programOf(t, road, capable(260, 20_000), Unlimited(), 10)
	r, err := made.simulate(t.Context(), constantly(250), nil)
	if err != nil {
		t.Fatal(err)
	}
	g.ease(5, r.Trace)
	sum := 0.0
	for _, change := range g.change[1:] {
		sum += change
	}
	// All of the ride but half of the first and half of the last cell.
	if most := 5 * r.TimeS; sum > most || sum < 0.97*most {
		t.Errorf("changes of %v W in all, of %v W at 5 W/s", sum, most)
	}
}

func TestProgramKnowsWhereRidersCoast(t *testing.T) {
	road := mustRoad(t, even(12_000, 20, grounds["steep"]), conditions())
	l := Unlimited()
	l.MinPowerW = 180
	p := planned(t, road, capable(260, 20_000), l)
	// Cells in which the coasting speed is passed count as wholly above it or below.
	if off := p.outcome.timeS/p.Ride.TimeS - 1; math.Abs(off) > 3e-3 {
		t.Errorf("the program took it for %v s, the ride is one of %v s", p.outcome.timeS, p.Ride.TimeS)
	}
}
