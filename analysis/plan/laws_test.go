package plan

import (
	"errors"
	"math"
	"testing"

	"parcours.example/analysis/ride"
	measured "parcours.example/internal/figures"
	"parcours.example/internal/seeded"
)

// checkLaws plans what is asked, and the same with twice of everything that has mass, power or
// drag: both plans are sound, and take the same time. It returns by what share they don't, and
// the reason where nothing can be planned.
func (a *asked) checkLaws(t *testing.T) (float64, error) {
	t.Helper()
	s := ride.Setup{
		MassKg: 8, CdAM2: 0.32, CdAChangeM2: unset, Crr: 0.004, DrivetrainEfficiency: 0.977,
		WheelInertiaKgM2: 0.14, WheelRadiusM: 0.311, WheelDragAreaM2: 0.0044, BearingN: 0.091, BearingNsPerM: 0.0087,
	}
	p, err := Optimise(t.Context(), a.road, a.rider, s, a.limits, nil)
	if err != nil {
		return 0, err
	}
	a.checkSound(t, p)
	// Bartram's law is in watts, not in shares of one's own; and who recovers faster than they
	// spend gains by power that goes up and down, in many ways that are each the best around.
	if a.rider.RecoveryLaw == ride.Bartram2018 || a.rider.RecoveryRate > 1 {
		return 0, nil
	}
	b, road := *a, *a.road
	road.Conditions.LoadKg *= 2
	b.road = &road
	for _, x := range []*float64{
		&b.rider.MassKg, &b.rider.CriticalPowerW, &b.rider.WPrimeJ, &b.rider.MaxPowerW,
		&s.MassKg, &s.CdAM2, &s.WheelInertiaKgM2, &s.WheelDragAreaM2, &s.BearingN, &s.BearingNsPerM,
		&b.limits.MinPowerW, &b.limits.MaxPowerW, &b.limits.EndReserveJ, &b.limits.ChangeWPerS, &b.limits.MeanPowerW,
	} {
		*x *= 2
	}
	twice, err := Optimise(t.Context(), b.road, b.rider, s, b.limits, nil)
	if err != nil {
		t.Fatalf("%v\ntwice of everything: %v", a, err)
	}
	b.checkSound(t, twice)
	return math.Abs(twice.Ride.TimeS/p.Ride.TimeS - 1), nil
}

// checkSound demands a plan without faults, whose ride goes on in time and distance and loses
// no energy.
func (a *asked) checkSound(t *testing.T, p *Plan) {
	t.Helper()
	if found := a.faults(p); found != nil {
		t.Fatalf("%v\n%v", a, found)
	}
	if share := p.Ride.Energy.ResidualShare(); !(share <= 1e-3) {
		t.Fatalf("%v\n%.3g of the energy is missing", a, share)
	}
	d, s := p.Ride.Trace.DistanceM, p.Ride.Trace.TimeS
	for i := 1; i < len(d); i++ {
		if !(d[i] > d[i-1]) || !(s[i] > s[i-1]) || math.IsInf(s[i], 0) {
			t.Fatalf("%v\nfrom %v m at %v s to %v m at %v s", a, d[i-1], s[i-1], d[i], s[i])
		}
	}
}

// TestT03LawsOfPlans holds random plans against the laws of plans. Fuzzing does the same.
func TestT03LawsOfPlans(t *testing.T) {
	n, refused, worst := seeded.Cases(100), 0, 0.0
	first := seeded.First(t)
	for i := range n {
		off, err := askedOf(t, first+uint64(i)).checkLaws(t) //nolint:gosec // not negative
		var known *ride.Error
		switch {
		case errors.As(err, &known):
			refused++
		case err != nil:
			t.Fatal(err)
		}
		worst = max(worst, off)
	}
	measured.Report(t, "T3", "%d random plans, %d of them refused with a reason: 0 break a law of plans; with twice of everything the time is another by %.2g at most", n, refused, worst)
	if worst > mostOff {
		t.Errorf("with twice of everything the time is another by %.3g", worst)
	}
}

// mostOff is by what share of its time a plan may differ from that with twice of everything,
// where the search ends in another optimum, as for riders who can do more.
const mostOff = 5e-3

// FuzzOptimise plans whatever a seed asks for: whatever it is, there is a plan that is lawful,
// or a reason.
func FuzzOptimise(f *testing.F) {
	for seed := range uint64(3) {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, seed uint64) {
		off, err := askedOf(t, seed).checkLaws(t)
		var known *ride.Error
		if err != nil && !errors.As(err, &known) {
			t.Fatal(err)
		}
		if off > mostOff {
			t.Fatalf("with twice of everything the time is another by %.3g", off)
		}
	})
}
