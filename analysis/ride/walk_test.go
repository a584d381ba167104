package ride

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
)

// walked is a ride of 12 km with hills, bends, wind, freewheeling and steps of power, and
// its road.
func walked(t testing.TB) (*Ride, *Road) {
	c := turned(even(12_000, 900, hills(rand.New(rand.NewPCG(3, 4)), 40)), func(s float64) float64 { return s/40 + 60*math.Sin(s/70) })
	cond := conditions()
	cond.WindMps, cond.WindFromDeg = 4, 230
	road := mustRoad(t, c, cond)
	steps := Effort{Kind: BySteps, Steps: []Step{{3_011, 320}, {7_777, 150}, {12_000, 260}}}
	return mustRide(t, road, rider(75), setup(), steps, Span{StartM: 5_003, EndM: 9_007}), road
}

// must fails on an error.
func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// A walk on the ride's own bike is the ride, from wherever it starts.
func TestWalkIsTheRide(t *testing.T) {
	r, road := walked(t)
	w := r.Walk(road)
	for x := 0.0; x < 12_000; x += 617.3 {
		must(t, w.Seek(t.Context(), x))
		near(t, "the place sought", w.AtM(), x, tinyM)
		must(t, w.Until(t.Context(), 9_007, math.Inf(1)))
		if x < 9_007 {
			near(t, "ahead at a span's end", w.AheadS(), 0, 1e-5)
			near(t, "faster there", w.FasterMps(), 0, 1e-5)
		}
		must(t, w.Until(t.Context(), math.Inf(1), math.Inf(1)))
		near(t, "the time", w.TimeS(), r.TimeS, 1e-5)
	}
}

// A walk on another bike all the way is that bike's ride.
func TestWalkOnAnotherBike(t *testing.T) {
	r, road := walked(t)
	light := setup()
	light.MassKg, light.CdAChangeM2 = 6, -0.03
	other := mustRide(t, road, rider(75), light, Effort{Kind: BySteps, Steps: r.steps})
	w := r.Walk(road)
	w.Mount(&other.Bike)
	must(t, w.Until(t.Context(), math.Inf(1), math.Inf(1)))
	near(t, "the time", w.TimeS(), other.TimeS, 1e-6)
	near(t, "ahead", w.AheadS(), r.TimeS-other.TimeS, 1e-6)
	near(t, "the work", w.WorkJ(), other.WorkJ, 1e-2)
}

// A walk ends at its time, wherever in a piece that is, and goes on from there.
func TestWalkUntilATime(t *testing.T) {
	r, road := walked(t)
	w := r.Walk(road)
	for i := 1; i < 200; i++ {
		want := r.TimeS * float64(i) / 200
		must(t, w.Until(t.Context(), math.Inf(1), want))
		near(t, "the clock", w.TimeS(), want, 2*punctualS)
	}
	must(t, w.Until(t.Context(), math.Inf(1), math.Inf(1)))
	near(t, "the time", w.TimeS(), r.TimeS, 1e-5)
}

// Rejoining tells the same time as riding on to the end.
func TestRejoinedIsRiddenOn(t *testing.T) {
	r, road := walked(t)
	aided := r.Bike
	aided.DragAreaM2 *= 0.75
	w, rejoined := r.Walk(road), 0
	for x := 5.0; x < 11_900; x += 97.7 {
		ride := func(rejoin bool) float64 {
			must(t, w.Seek(t.Context(), x))
			w.Mount(&aided)
			must(t, w.Until(t.Context(), math.Inf(1), w.TimeS()+30))
			if rejoin {
				ok, err := w.Rejoin(t.Context(), math.Inf(1))
				must(t, err)
				if ok {
					rejoined++
				}
				return w.AheadS()
			}
			w.Mount(&r.Bike)
			must(t, w.Until(t.Context(), math.Inf(1), math.Inf(1)))
			return w.AheadS()
		}
		near(t, "ahead at the end", ride(true), ride(false), 1e-5)
	}
	if rejoined < 80 {
		t.Errorf("%d walks came back to the ride", rejoined)
	}
}

// A change of mass keeps the speed, a power that is asked for replaces the ride's.
func TestMountAndAsk(t *testing.T) {
	r, road := walked(t)
	w := r.Walk(road)
	must(t, w.Seek(t.Context(), 2_000))
	v, s := w.SpeedMps(), w.TimeS()
	heavy := r.Bike
	heavy.MassKg += 10
	heavy.InertiaKg += 10
	w.Mount(&heavy)
	near(t, "the speed", w.SpeedMps(), v, 1e-12)
	w.Ask(600)
	must(t, w.Until(t.Context(), math.Inf(1), s+5))
	near(t, "the work", w.WorkJ(), 600*5, 600*1e-6)
}

// The motion with a change midway against plain steps of 2 ms in time.
func TestWalkAgainstSmallSteps(t *testing.T) {
	cond := conditions()
	cond.Indoor, cond.StartSpeedMps = true, 9
	road := mustRoad(t, even(3_000, 30, func(s float64) float64 { return 30 * math.Sin(s/300) }), cond)
	r := mustRide(t, road, rider(70), setup(), watts(260))
	aided := r.Bike
	aided.DragAreaM2 *= 0.6
	aided.MassKg -= 8
	aided.InertiaKg -= 8
	w := r.Walk(road)
	must(t, w.Seek(t.Context(), 1_234))
	v, usedS := w.SpeedMps(), w.TimeS()
	w.Mount(&aided)
	must(t, w.Until(t.Context(), math.Inf(1), usedS+20))
	if _, err := w.Rejoin(t.Context(), math.Inf(1)); err != nil {
		t.Fatal(err)
	}
	got := r.TimeS - w.AheadS()

	const dt = 0.002
	x, clock := 1_234.0, usedS
	for x < 3_000 {
		bike := &r.Bike
		if clock < usedS+20 {
			bike = &aided
		}
		slope := func(at, v float64) float64 {
			p := &road.Pieces[min(int(at/(3_000/float64(len(road.Pieces)))), len(road.Pieces)-1)]
			res := bike.On(p)
			return (260*bike.Efficiency/v - res.Force(v)) / bike.InertiaKg
		}
		cos := func(at float64) float64 {
			return road.Pieces[min(int(at/(3_000/float64(len(road.Pieces)))), len(road.Pieces)-1)].Cos
		}
		mid := v + dt/2*slope(x, v)
		next := v + dt*slope(x+dt/2*v, mid)
		x += dt * mid * cos(x)
		v, clock = next, clock+dt
	}
	clock -= (x - 3_000) / v
	near(t, "the time", got, clock, 2e-3)
}

func TestWalkStops(t *testing.T) {
	r, road := walked(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	w := r.Walk(road)
	if err := w.Until(ctx, math.Inf(1), math.Inf(1)); err == nil {
		t.Error("a cancelled walk goes on")
	}
	w.Ask(0)
	if err := w.Until(t.Context(), math.Inf(1), math.Inf(1)); err == nil {
		t.Error("a walk without power climbs")
	}
}

// Any walk goes forward, stops where and when it is told, and ends with the road or a halt.
func TestAnyWalkArrives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "pieces")
		c := &course.Course{S: make([]float64, n+1), Z: make([]float64, n+1)}
		for i := 1; i <= n; i++ {
			length := rapid.Float64Range(0.5, 300).Draw(t, "length")
			c.S[i] = c.S[i-1] + length
			c.Z[i] = c.Z[i-1] + length*rapid.Float64Range(-0.25, 0.2).Draw(t, "gradient")
		}
		c = turned(c, func(s float64) float64 { return s * rapid.Float64Range(0, 2).Draw(t, "turn") })
		cond := conditions()
		cond.CoastAboveMps = rapid.Float64Range(3, 20).Draw(t, "coast")
		cond.Indoor = rapid.Bool().Draw(t, "indoor")
		road, err := NewRoad(c, cond, nil)
		if err != nil {
			t.Fatal(err)
		}
		steps := Effort{Kind: BySteps, Steps: []Step{{c.LengthM() / 3, rapid.Float64Range(0, 900).Draw(t, "power")}, {c.LengthM(), 300}}}
		r, err := Simulate(context.Background(), road, rider(75), setup(), steps, nil)
		if err != nil {
			return
		}
		w := r.Walk(road)
		if err := w.Seek(context.Background(), rapid.Float64Range(-5, c.LengthM()+5).Draw(t, "from")); err != nil {
			t.Fatal(err)
		}
		for w.AtM() < c.LengthM()-1e-5 {
			other := r.Bike
			other.DragAreaM2 *= rapid.Float64Range(0.1, 3).Draw(t, "drag")
			mass := rapid.Float64Range(-60, 100).Draw(t, "mass")
			other.MassKg += mass
			other.InertiaKg += mass
			w.Mount(&other)
			atM, timeS := w.AtM()+rapid.Float64Range(0, 500).Draw(t, "m"), w.TimeS()+rapid.Float64Range(0.001, 40).Draw(t, "s")
			before, clock := w.AtM(), w.TimeS()
			if err := w.Until(context.Background(), atM, timeS); err != nil {
				return
			}
			end := min(atM, c.LengthM())
			if w.AtM() < before || w.TimeS() < clock || w.AtM() > end+1e-5 || w.TimeS() > timeS+1e-6 {
				t.Fatalf("from %v m at %v s to %v m at %v s, until %v m or %v s", before, clock, w.AtM(), w.TimeS(), atM, timeS)
			}
			if w.AtM() < end-1e-5 && w.TimeS() < timeS-1e-6 {
				t.Fatalf("stops at %v m and %v s, before %v m and %v s", w.AtM(), w.TimeS(), atM, timeS)
			}
			if _, err := w.Rejoin(context.Background(), w.AtM()+rapid.Float64Range(0.01, 500).Draw(t, "on")); err != nil {
				return
			}
		}
	})
}
