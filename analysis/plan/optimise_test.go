package plan

import (
	"math"
	"testing"
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
