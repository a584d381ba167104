package ride

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"parcours.example/internal/seeded"
	"pgregory.net/rapid"
)

func mustBand(t testing.TB, o tour, u Uncertainties, coveragePct float64) (*Ride, *Band) {
	t.Helper()
	road, ride := o.road(t), o.ridden(t)
	b, err := ride.Band(context.Background(), road, ride.Sensitivities(road).Whole, u, coveragePct)
	if err != nil {
		t.Fatal(err)
	}
	return ride, b
}

// doubts are uncertainties as the defaults have them, all at once.
func doubts() Uncertainties {
	return Uncertainties{MassKg: 1, CdAM2: 0.02, Crr: 0.0005, PowerPct: 2.5, WindMps: 1, TemperatureC: 2, Efficiency: 0.01}
}

// deviations turns a deviation into changes of a request, kept to what can be asked.
func (o tour) deviating(d deviation) tour {
	for _, c := range changes(o) {
		by := map[string]float64{
			"mass": d.MassKg, "power in per cent": d.PowerPct, "drag area": d.CdAM2, "Crr": max(d.Crr, -o.setup.Crr),
			"temperature": d.TemperatureC, "wind": d.WindMps, "efficiency": min(d.Efficiency, 1-o.setup.DrivetrainEfficiency),
		}[c.name]
		c.apply(&o, by)
	}
	if o.conditions.WindMps < 0 {
		o.conditions.WindMps, o.conditions.WindFromDeg = -o.conditions.WindMps, o.conditions.WindFromDeg-180
	}
	return o
}

// A ride that deviates is the ride that the deviating request asks for.
func TestDeviationsAreRequests(t *testing.T) {
	for kind, terrain := range terrains {
		for seed := range uint64(4) {
			o, r := drawTour(kind, seed), rand.New(rand.NewPCG(seed, 9))
			d := drawDeviation(r, doubts())
			other := o.deviating(d)
			want, err := Simulate(context.Background(), other.road(t), other.rider, other.setup, other.effort, nil)
			if codeOf(err) == CodeCannotClimb {
				continue
			}
			got, err := o.ridden(t).deviated(context.Background(), o.road(t), d)
			if err != nil {
				t.Fatal(err)
			}
			near(t, terrain.name, got, want.TimeS, 1e-4*want.TimeS)
		}
	}
}

// drawDeviation draws normal errors.
func drawDeviation(r *rand.Rand, u Uncertainties) deviation {
	return deviation{
		MassKg: u.MassKg * r.NormFloat64(), CdAM2: u.CdAM2 * r.NormFloat64(), Crr: u.Crr * r.NormFloat64(), PowerPct: u.PowerPct * r.NormFloat64(),
		WindMps: u.WindMps * r.NormFloat64(), TemperatureC: u.TemperatureC * r.NormFloat64(), Efficiency: u.Efficiency * r.NormFloat64(),
	}
}

// TestBandsMatchDraws holds the ends against the quantiles of 2,000 rides with drawn
// errors, within 5 % of the band's half-width. That many draws scatter a quantile by 3 %
// themselves: most of it is taken off by the scatter of the same draws' sums to first
// order, whose quantile is known.
func TestBandsMatchDraws(t *testing.T) {
	first, worst := seeded.First(t), 0.0
	for kind, terrain := range terrains {
		if testing.Short() && kind%3 != 0 {
			continue
		}
		for seed := first; seed < first+uint64(seeded.Cases(20)); seed++ {
			o := drawTour(kind, seed)
			_, err := Simulate(context.Background(), o.road(t), o.rider, o.setup, o.effort, nil)
			if codeOf(err) == CodeCannotClimb {
				continue
			}
			low, high := offDraws(t, o, doubts(), seed)
			worst = max(worst, math.Abs(low), math.Abs(high))
			if math.Abs(low) > 0.05 || math.Abs(high) > 0.05 {
				t.Errorf("%s, seed %d: the ends are off by %.3f and %.3f of the half-width", terrain.name, seed, low, high)
			}
		}
	}
	t.Logf("off by at most %.3f of the half-width", worst)
}

// offDraws returns how far a band's ends are from those of 2,000 draws, in half-widths.
func offDraws(t *testing.T, o tour, u Uncertainties, seed uint64) (low, high float64) {
	const draws, coverage = 2000, 90
	r := rand.New(rand.NewPCG(seed, 5))
	road, ridden := o.road(t), o.ridden(t)
	whole := ridden.Sensitivities(road).Whole
	_, b := mustBand(t, o, u, coverage)
	times, sums := make([]float64, draws), make([]float64, draws)
	for i := range draws {
		d := drawDeviation(r, u)
		var err error
		if times[i], err = ridden.deviated(context.Background(), road, d); err != nil {
			times[i] = math.Inf(1)
		}
		sums[i] = whole.PerKg*d.MassKg + whole.PerCdAM2*d.CdAM2 + whole.PerCrr*d.Crr + whole.PerPowerPct*d.PowerPct +
			whole.PerWindMps*d.WindMps + whole.PerC*d.TemperatureC + whole.PerEfficiency*d.Efficiency
	}
	sort.Float64s(times)
	sort.Float64s(sums)
	const below = draws * (100 - coverage) / 200
	lowest, highest := times[below-1]/2+times[below]/2, times[draws-below-1]/2+times[draws-below]/2
	scatterLow, scatterHigh := sums[below-1]/2+sums[below]/2+1.6448536*b.SDS, sums[draws-below-1]/2+sums[draws-below]/2-1.6448536*b.SDS
	half := (b.HighS - b.LowS) / 2
	return (b.LowS - lowest + scatterLow) / half, (b.HighS - highest + scatterHigh) / half
}

// Without uncertainties, or with such as don't act, the band is the time.
func TestBandsVanish(t *testing.T) {
	o := drawTour(4, 3)
	for _, u := range []Uncertainties{{}, {WindMps: 3}} {
		ride, b := mustBand(t, o, u, 90)
		if b.LowS != ride.TimeS || b.HighS != ride.TimeS || b.SDS != 0 || len(b.Shares) != 0 {
			t.Errorf("got %+v for %v s", b, ride.TimeS)
		}
	}
}

func TestBandsGrow(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		o := drawTour(rapid.IntRange(0, len(terrains)-1).Draw(r, "terrain"), rapid.Uint64Range(0, 1000).Draw(r, "seed"))
		road := o.road(t)
		ride, err := Simulate(context.Background(), road, o.rider, o.setup, o.effort, nil)
		if codeOf(err) == CodeCannotClimb {
			return
		}
		whole := ride.Sensitivities(road).Whole
		u := Uncertainties{PowerPct: rapid.Float64Range(0.5, 5).Draw(r, "power"), CdAM2: rapid.Float64Range(0, 0.03).Draw(r, "drag area")}
		narrow, err := ride.Band(context.Background(), road, whole, u, 50)
		if err != nil {
			r.Fatal(err)
		}
		wide, err := ride.Band(context.Background(), road, whole, u, 95)
		if err != nil {
			r.Fatal(err)
		}
		if !(wide.LowS < narrow.LowS && narrow.LowS < ride.TimeS && ride.TimeS < narrow.HighS && (narrow.HighS < wide.HighS || wide.Halt != nil)) {
			r.Fatalf("%v s within %+v within %+v", ride.TimeS, narrow, wide)
		}
		sum := 0.0
		for _, s := range wide.Shares {
			sum += s.Share
		}
		if math.Abs(sum-1) > 1e-12 {
			r.Fatalf("the shares sum to %v", sum)
		}
	})
}

// A rider who is hardly up the course has no slow end.
func TestBandsWithoutASlowEnd(t *testing.T) {
	o := tour{course: even(2000, 100, func(s float64) float64 { return 0.15 * s }), conditions: conditions(), rider: rider(75), setup: setup(), effort: watts(75)}
	_, b := mustBand(t, o, Uncertainties{PowerPct: 10}, 90)
	if !math.IsNaN(b.HighS) || b.Halt == nil || !(b.Halt.AtM > 50) || !(b.LowS > 0) {
		t.Errorf("got %+v", b)
	}
}

// For a target time the power that takes it is uncertain: the band is that power's.
func TestBandOfATargetTime(t *testing.T) {
	o := drawTour(0, 4)
	u := doubts()
	byPower, want := mustBand(t, o, u, 80)
	o.effort = Effort{Kind: ByTime, TimeS: byPower.TimeS}
	byTime, got := mustBand(t, o, u, 80)
	near(t, "time in s", byTime.TimeS, byPower.TimeS, 1e-5)
	near(t, "fast end in s", got.LowS, want.LowS, 1e-3)
	near(t, "slow end in s", got.HighS, want.HighS, 1e-3)
}

func TestBandRefusals(t *testing.T) {
	o := drawTour(0, 1)
	road, ride := o.road(t), o.ridden(t)
	for name, c := range map[string]struct {
		u        Uncertainties
		coverage float64
	}{
		"negative": {Uncertainties{MassKg: -1}, 90}, "not completed": {Uncertainties{Crr: unset}, 90},
		"certain": {Uncertainties{}, 100}, "never": {Uncertainties{}, 0}, "no coverage": {Uncertainties{}, unset},
	} {
		if _, err := ride.Band(context.Background(), road, Sensitivity{}, c.u, c.coverage); codeOf(err) != CodeInvalid {
			t.Errorf("%s: got %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := ride.Band(ctx, road, ride.Sensitivities(road).Whole, doubts(), 90); codeOf(err) != "" || err == nil {
		t.Errorf("cancelled: got %v", err)
	}
}

func TestUncertaintiesCompleted(t *testing.T) {
	blank := Uncertainties{MassKg: unset, CdAM2: unset, Crr: unset, PowerPct: unset, WindMps: unset, TemperatureC: unset, Efficiency: unset}
	windy := drawTour(2, 1)
	given, used := blank.Completed(windy.road(t), false)
	if len(used) != 7 || given.WindMps != 1.5 || given.CdAM2 != 0.01 {
		t.Errorf("got %+v", given)
	}
	ahead := drawTour(0, 1)
	ahead.conditions.HeadwindMps = -2
	if u, _ := blank.Completed(ahead.road(t), false); math.Abs(u.WindMps-0.906) > 1e-3 {
		t.Errorf("a headwind is off by %v m/s", u.WindMps)
	}
	estimated, _ := blank.Completed(drawTour(4, 1).road(t), true)
	if estimated.WindMps != 0 || estimated.TemperatureC != 0 || estimated.CdAM2 != 0.03 {
		t.Errorf("in a hall: %+v", estimated)
	}
	if again, used := given.Completed(windy.road(t), true); again != given || len(used) != 0 {
		t.Errorf("given: %+v, %v", again, used)
	}
}

// Quantiles of the normal distribution (Abramowitz & Stegun 1964, table 26.5).
func TestCentralQuantile(t *testing.T) {
	for probability, want := range map[float64]float64{0.5: 0.674490, 0.9: 1.644854, 0.95: 1.959964, 0.99: 2.575829} {
		near(t, "z", CentralQuantile(probability), want, 1e-6)
	}
}
