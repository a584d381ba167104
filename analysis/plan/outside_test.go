package plan

import (
	"math"
	"testing"

	"parcours.example/analysis/ride"
)

// Checks against what theory and the literature say of the fastest ride. "Computed" marks
// values worked out from the stated equation with other programs.

func mustPlan(t *testing.T, road *ride.Road, r ride.Rider, s ride.Setup, limits Limits) *Plan {
	t.Helper()
	p, err := Optimise(t.Context(), road, r, s, limits, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.FellBack {
		t.Error("the plan fell back to constant power")
	}
	return p
}

// between returns the least and the highest value of a trace between two positions.
func between(at, values []float64, fromM, toM float64) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for i, s := range at {
		if s >= fromM && s < toM {
			least, most = min(least, values[i]), max(most, values[i])
		}
	}
	return least, most
}

// meanPower is the time-mean of the power between two samples' positions.
func meanPower(r *ride.Ride, fromM, toM float64) float64 {
	work, time := 0.0, 0.0
	for i, s := range r.Trace.DistanceM[:len(r.Trace.DistanceM)-1] {
		if dt := r.Trace.TimeS[i+1] - r.Trace.TimeS[i]; s >= fromM && s < toM {
			work, time = work+r.Trace.PowerW[i]*dt, time+dt
		}
	}
	return work / time
}

func flat(float64) float64 { return 0 }

// On a flat calm road the power settles to a constant (Maronski 1994, J. Sports Sci.
// 12:447–452: constant speed between start and end). From standstill the optimum opens
// far above critical power, and that gains 0.2–0.3 % on the best constant power (computed:
// a rider of 72 kg and an 8 kg bicycle, 0.32 m², CP 260 W, W′ 20 kJ, on 10 km by another
// program 0.264 %).
func TestFlatCalmPlanSettles(t *testing.T) {
	r := capable(260, 20_000)
	r.CdAM2 = 0.32
	for _, lengthM := range []float64{10_000, 20_000} {
		p := mustPlan(t, mustRoad(t, even(lengthM, 10, flat), conditions()), r, setup(), Unlimited())
		least, most := between(p.Ride.Trace.DistanceM, p.Ride.Trace.PowerW, 0.1*lengthM, 0.9*lengthM)
		if most/least > 1.01 {
			t.Errorf("%v m: the power in the middle is %.1f…%.1f W", lengthM, least, most)
		}
		opening := p.Ride.Trace.PowerW[0]
		if opening < 3*r.CriticalPowerW {
			t.Errorf("%v m: the plan opens at %.0f W", lengthM, opening)
		}
		gain := 100 * (1 - p.Ride.TimeS/p.Constant.TimeS)
		t.Logf("%v m: %.3f %% gained, %.2f…%.2f W in the middle", lengthM, gain, least, most)
		if lengthM == 10_000 && (gain < 0.2 || gain > 0.3) {
			t.Errorf("the start gains %.3f %%", gain)
		}
	}
}

// Under a limit of the mean power the same ground speed on every gradient is fastest, not
// the same power (Bos, Slawinski et al. 2024–25, arXiv 2403.03363 and 2503.03235). The
// speeds and times of steady riding are computed: m 80 kg, CdA 0.32 m², Crr 0.004, ρ 1.2,
// η 0.976, no bearings, mean power 300 W, 5 km of road on each slope. A plan may be faster
// than them by the fade to the line, where speed is worth nothing.
func TestConstantSpeedBeatsConstantPowerUphill(t *testing.T) {
	for _, c := range []struct{ first, second, speedMps, timeS, constantS float64 }{
		{0.04, 0.06, 5.96014, 1677.81, 1686.29},
		{0.05, 0.08, 4.98235, 2007.09, 2019.57},
	} {
		foot := 5000 / math.Hypot(1, c.first)
		length := foot + 5000/math.Hypot(1, c.second)
		cond, s := conditions(), setup()
		cond.StartSpeedMps = c.speedMps
		s.MassKg, s.CdAM2, s.DrivetrainEfficiency = 8, 0.32, 0.976
		s.WheelDragAreaM2, s.BearingN, s.BearingNsPerM = 0, 0, 0
		profile := even(length, length/1000, flat)
		for i, at := range profile.S { // the nearest node becomes the foot
			if math.Abs(at-foot) <= length/2000 {
				profile.S[i], at = foot, foot
			}
			profile.Z[i] = c.first*min(at, foot) + c.second*max(at-foot, 0)
		}
		limits := Unlimited()
		limits.MeanPowerW = 300
		rider := capable(unset, unset)
		p := mustPlan(t, mustRoad(t, profile, cond), rider, s, limits)
		if p.Ride.TimeS > c.timeS+0.05 {
			t.Errorf("%v and %v: %.2f s, steady riding takes %.2f s", c.first, c.second, p.Ride.TimeS, c.timeS)
		}
		t.Logf("%v and %v: %.2f s; steady %.2f s at constant speed, %.2f s at constant power", c.first, c.second, p.Ride.TimeS, c.timeS, c.constantS)
		for _, middle := range []float64{foot / 2, (foot + length) / 2} {
			least, most := between(p.Ride.Trace.DistanceM, p.Ride.Trace.SpeedMps, middle-100, middle+100)
			if least < 0.995*c.speedMps || most > 1.005*c.speedMps {
				t.Errorf("at %.0f m: %.4f…%.4f m/s, want %v", middle, least, most, c.speedMps)
			}
		}
	}
}

// On moderate slopes with a fixed allowance of work the optimum is a strong start, one
// speed, and an end of its own (Maronski 1994, J. Sports Sci. 12:447–452, in kind: the
// allowance here is the mean power's). Without wind the speed is the same on every slope
// where the power is free.
func TestModerateSlopesAreRiddenAtOneSpeed(t *testing.T) {
	limits := Unlimited()
	limits.MeanPowerW = 280
	road := mustRoad(t, even(15_000, 10, func(s float64) float64 { return 3 * math.Sin(2*math.Pi*s/1500) }), conditions())
	p := mustPlan(t, road, capable(unset, unset), setup(), limits)
	spread := func(r *ride.Ride) float64 {
		least, most := between(r.Trace.DistanceM, r.Trace.SpeedMps, 1500, 13_500)
		return most/least - 1
	}
	if planned, constant := spread(p.Ride), spread(p.Constant); planned > 0.01 || constant < 0.1 {
		t.Errorf("the speed varies by %.2f %%, at constant power by %.2f %%", 100*planned, 100*constant)
	}
	if start := p.Ride.Trace.PowerW[0]; start < 2*280 {
		t.Errorf("the plan opens at %.0f W", start)
	}
}

// A course shorter than W′ lasts at the highest power leaves nothing to save for: all is
// spent at the line. With a maximal power the rider is at the limit there, and what that holds back is left.
func TestShortCourseSpendsAll(t *testing.T) {
	for _, lengthM := range []float64{500, 1000, 2000} {
		road := mustRoad(t, even(lengthM, 10, func(s float64) float64 { return 0.03 * s }), conditions())
		p := mustPlan(t, road, capable(280, 18_000), setup(), Unlimited())
		if left := p.Ride.Balance.EndJ; left < 0 || left > 1 {
			t.Errorf("%v m: %.2f J are left at the line", lengthM, left)
		}
		r := capable(280, 18_000)
		r.MaxPowerW = 900
		p = mustPlan(t, road, r, setup(), Unlimited())
		end := p.Ride.Trace.PowerW[len(p.Ride.Trace.PowerW)-1]
		if limit := 280 + (900-280)*p.Ride.Balance.EndJ/18_000; end < 0.99*limit {
			t.Errorf("%v m: %.1f W at the line, where %.2f J are left and allow %.1f W", lengthM, end, p.Ride.Balance.EndJ, limit)
		}
	}
}

// More power uphill than downhill and against the wind than with it is faster (Swain 1997,
// Med. Sci. Sports Exerc. 29:1104–1108; Atkinson, Peacock, Passfield 2007, J. Sports Sci.
// 25:1001–1009).
func TestPowerGoesWhereItIsHard(t *testing.T) {
	const halfM = 6000.0
	hilly := even(2*halfM, 10, func(s float64) float64 { return 30 * math.Sin(2*math.Pi*s/3000) })
	up, down := 0.0, 0.0
	p := mustPlan(t, mustRoad(t, hilly, conditions()), capable(260, 20_000), setup(), Unlimited())
	for from := 750.0; from < 2*halfM-1500; from += 1500 {
		mean := meanPower(p.Ride, from, from+1500)
		if math.Mod(from, 3000) > 1500 {
			up += mean
		} else {
			down += mean
		}
	}
	if up < 1.2*down {
		t.Errorf("uphill %.0f W, downhill %.0f W", up/3, down/4)
	}

	for name, fromDeg := range map[string]float64{"into the wind first": 0, "with the wind first": 180} {
		windy := turned(even(2*halfM, 10, flat), func(s float64) float64 {
			if s < halfM {
				return 0
			}
			return 180
		})
		cond := conditions()
		cond.WindMps, cond.WindFromDeg, cond.LateralMps2 = 6, fromDeg, math.Inf(1)
		p := mustPlan(t, mustRoad(t, windy, cond), capable(260, 20_000), setup(), Unlimited())
		against, with := meanPower(p.Ride, 1000, halfM-500), meanPower(p.Ride, halfM+500, 2*halfM-500)
		if fromDeg == 180 {
			against, with = with, against
		}
		if against < 1.01*with {
			t.Errorf("%s: %.1f W against the wind, %.1f W with it", name, against, with)
		}
	}
}
