package plan

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/ride"
)

// grounds are profiles that a plan has something to do on.
var grounds = map[string]func(s float64) float64{
	"flat":        func(float64) float64 { return 0 },
	"rolling":     func(s float64) float64 { return 15 * math.Sin(s/300) },
	"steep":       func(s float64) float64 { return 40 * math.Sin(s/500) },
	"climb last":  func(s float64) float64 { return 10*math.Sin(s/250) + 0.07*max(0, s-14_000) },
	"climb first": func(s float64) float64 { return min(s/20, 300) + min(0.04*max(0, s-12_000), 100) },
}

func TestPlansBeatConstantPowerWithinTheLimits(t *testing.T) {
	for name, z := range grounds {
		road := mustRoad(t, even(20_000, 20, z), conditions())
		for _, maxW := range []float64{unset, 900} {
			r := capable(260, 20_000)
			r.MaxPowerW = maxW
			p, err := Optimise(t.Context(), road, r, setup(), Unlimited(), nil)
			if err != nil {
				t.Fatal(err)
			}
			if p.FellBack || p.Ride.TimeS >= p.Constant.TimeS {
				t.Errorf("%s: %v s, at constant power %v s", name, p.Ride.TimeS, p.Constant.TimeS)
			}
			if p.Ride.Balance.MinJ < 0 {
				t.Errorf("%s: the balance falls to %v J", name, p.Ride.Balance.MinJ)
			}
			limit := func(balance float64) float64 {
				if maxW > 0 {
					return 260 + (maxW-260)*balance/20_000
				}
				return 4 * 260
			}
			w := p.Ride.Trace.WBalanceJ
			for i, power := range p.Ride.Trace.PowerW[:len(w)-1] {
				if most := limit(min(w[i], w[i+1])); power > most+1e-6 {
					t.Fatalf("%s: %v W at %v J, the limit is %v W", name, power, w[i+1], most)
				}
			}
		}
	}
}

func TestPlanOfASplinterCourseIsSpentAtTheLine(t *testing.T) {
	road := mustRoad(t, even(900, 15, func(s float64) float64 { return 0.05 * s }), conditions())
	p, err := Optimise(t.Context(), road, capable(280, 18_000), setup(), Unlimited(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if left := p.Ride.Balance.EndJ; left < 0 || left > 1 {
		t.Errorf("%v J are left at the line", left)
	}
}

func BenchmarkPlan(b *testing.B) {
	for name, km := range map[string]float64{"40km": 40, "100km": 100} {
		for _, z := range []string{"flat", "rolling", "steep"} {
			b.Run(name+"/"+z, func(b *testing.B) {
				road := mustRoad(b, even(km*1000, 20, grounds[z]), conditions())
				for b.Loop() {
					if p, err := Optimise(b.Context(), road, capable(260, 20_000), setup(), Unlimited(), nil); err != nil || p.FellBack {
						b.Fatal(err, p)
					}
				}
			})
		}
	}
}

// winding is a road with bends and a heading that turns, over a profile.
func winding(lengthM float64, z func(s float64) float64) *course.Course {
	c := even(lengthM, 10, z)
	n := len(c.S)
	c.Pos, c.Heading, c.Curvature = make([]geodesy.Vec, n), make([]float64, n-1), make([]float64, n)
	for i := range c.Heading {
		c.Heading[i] = math.Mod(720+80*math.Sin(c.S[i]/90)+c.S[i]/30, 360)
	}
	for i := 1; i < n-1; i++ {
		turn := math.Remainder(c.Heading[i]-c.Heading[i-1], 360) * math.Pi / 180
		c.Curvature[i] = turn / ((c.S[i+1] - c.S[i-1]) / 2)
	}
	return c
}

// planned plans, and demands that it needn't fall back.
func planned(t testing.TB, road *ride.Road, r ride.Rider, limits Limits) *Plan {
	t.Helper()
	p, err := Optimise(t.Context(), road, r, setup(), limits, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.FellBack {
		t.Error("the plan fell back to constant power")
	}
	return p
}

func TestPlanKeepsToItsBounds(t *testing.T) {
	road := mustRoad(t, winding(12_000, grounds["rolling"]), conditions())
	free := planned(t, road, capable(260, 20_000), Unlimited())
	bounded := func(change func(*Limits)) *Plan {
		l := Unlimited()
		change(&l)
		p := planned(t, road, capable(260, 20_000), l)
		byMean := !math.IsNaN(l.MeanPowerW) // which may be more than W′ allows
		if p.Ride.TimeS >= p.Constant.TimeS || p.Ride.TimeS < free.Ride.TimeS-0.01 && !byMean {
			t.Errorf("%+v: %v s, free %v s, at constant power %v s", l, p.Ride.TimeS, free.Ride.TimeS, p.Constant.TimeS)
		}
		return p
	}
	for _, s := range bounded(func(l *Limits) { l.MinPowerW, l.MaxPowerW = 120, 330 }).Powers {
		if s.PowerW > 330 || s.PowerW < 120 && s.PowerW != 0 {
			t.Fatalf("%v W up to %v m, asked for 120 to 330 W", s.PowerW, s.EndM)
		}
	}
	if p := bounded(func(l *Limits) { l.EndReserveJ = 8000 }); p.Ride.Balance.EndJ < 8000 || p.Ride.Balance.EndJ > 8001 {
		t.Errorf("%v J are left of an asked reserve of 8000 J", p.Ride.Balance.EndJ)
	}
	if p := bounded(func(l *Limits) { l.MeanPowerW = 265 }); p.Ride.MeanPowerW > 265 || p.Ride.MeanPowerW < 264.99 {
		t.Errorf("a mean of %v W, asked for 265 W", p.Ride.MeanPowerW)
	}
}

func TestPlanChangesPowerGradually(t *testing.T) {
	road := mustRoad(t, even(12_000, 10, grounds["rolling"]), conditions())
	free := planned(t, road, capable(260, 20_000), Unlimited())
	last := free
	for _, change := range []float64{20, 5, 1} {
		l := Unlimited()
		l.ChangeWPerS = change
		p := planned(t, road, capable(260, 20_000), l)
		if p.Ride.TimeS < last.Ride.TimeS-0.05 || p.Ride.TimeS > p.Constant.TimeS {
			t.Errorf("changes of %v W/s: %v s after %v s, at constant power %v s", change, p.Ride.TimeS, last.Ride.TimeS, p.Constant.TimeS)
		}
		if worst := steepest(p); worst > 1.01*change {
			t.Errorf("the power changes by %v W/s, asked for %v", worst, change)
		}
		last = p
	}
}

// steepest is the fastest change of a plan's powers, between the middles of its steps.
func steepest(p *Plan) float64 {
	clock := func(m float64) float64 {
		tr := &p.Ride.Trace
		i, _ := slices.BinarySearch(tr.DistanceM, m)
		i = min(max(i, 1), len(tr.DistanceM)-1)
		return tr.TimeS[i-1] + (tr.TimeS[i]-tr.TimeS[i-1])*(m-tr.DistanceM[i-1])/(tr.DistanceM[i]-tr.DistanceM[i-1])
	}
	worst, start := 0.0, 0.0
	for i := 1; i < len(p.Powers); i++ {
		a, b := p.Powers[i-1], p.Powers[i]
		dt := clock((a.EndM+b.EndM)/2) - clock((start+a.EndM)/2)
		worst, start = max(worst, math.Abs(b.PowerW-a.PowerW)/dt), a.EndM
	}
	return worst
}

func TestNobodyIsAskedToPedalBeyondTheCoastingSpeed(t *testing.T) {
	road := mustRoad(t, even(10_000, 20, func(s float64) float64 { return 400 - 0.06*min(s, 5000) }), conditions())
	p := planned(t, road, capable(260, 20_000), Unlimited())
	tr := &p.Ride.Trace
	for _, s := range p.Powers {
		i, _ := slices.BinarySearch(tr.DistanceM, s.EndM)
		if tr.DistanceM[i] < 4990 && tr.SpeedMps[i] > 17.5 && s.PowerW > 1 {
			t.Fatalf("%v W at %v m/s, %v m", s.PowerW, tr.SpeedMps[i], s.EndM)
		}
	}
}

func TestPlanEndsWithItsCaller(t *testing.T) {
	road := mustRoad(t, even(12_000, 10, grounds["rolling"]), conditions())
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Optimise(ctx, road, capable(260, 20_000), setup(), Unlimited(), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestNothingIsAskedWhereItHasNoEffect(t *testing.T) {
	road := mustRoad(t, even(8000, 20, func(s float64) float64 { return 900 - 0.09*s }), conditions())
	p := planned(t, road, capable(260, 20_000), Unlimited())
	if p.Ride.TimeS > p.Constant.TimeS {
		t.Errorf("%v s, at constant power %v s", p.Ride.TimeS, p.Constant.TimeS)
	}
	for _, s := range p.Powers {
		if s.EndM > 2000 && s.PowerW > 1 {
			t.Fatalf("%v W up to %v m, where it is too fast to pedal", s.PowerW, s.EndM)
		}
	}
	h, err := Hold(t.Context(), road, capable(260, 20_000), setup(), Unlimited(), p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range h.Steps {
		if s.StartM > 500 && s.PowerW > 0 {
			t.Errorf("%v W held from %v m to %v m, where it is too fast to pedal", s.PowerW, s.StartM, s.EndM)
		}
	}
}
