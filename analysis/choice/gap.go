package choice

import (
	"math"

	"parcours.example/analysis/ride"
)

// Doubt is what is uncertain.
type Doubt struct {
	// Common errs alike for all set-ups: the rider, the power, the road and the weather. It
	// must be completed.
	Common ride.Uncertainties
	// Own errs for each set-up on its own.
	Own OwnDoubt
	// CoveragePct is the probability in per cent with which a gap lies in its band.
	CoveragePct float64
}

// OwnDoubt holds the standard deviations of what is a set-up's own: errors of one set-up
// that another doesn't share. Where two set-ups have the same value it is the same part, and
// errs alike. NaN means not given in every field.
type OwnDoubt struct {
	MassKg, CdAM2, Crr, Efficiency float64
}

// Default is a value that is taken where none is given.
type Default struct {
	// Name is the contract's.
	Name   string
	Value  float64
	Unit   string
	Source string
}

// Completed returns the doubt with its defaults filled in, and the defaults that were
// used.
func (d OwnDoubt) Completed() (OwnDoubt, []Default) {
	var used []Default
	fill := func(value *float64, def Default) {
		if math.IsNaN(*value) {
			*value = def.Value
			used = append(used, def)
		}
	}
	fill(&d.MassKg, Default{"mass_kg", 0.1, "kg", "common practice: a bicycle weighed as it is ridden"})
	fill(&d.CdAM2, Default{"cda_m2", 0.003, "m²", "common practice: about 1 % of a drag area tells two bicycles under one rider apart"})
	fill(&d.Crr, Default{"crr", 0.0002, "1", "common practice: from one measurement of a tyre to another"})
	fill(&d.Efficiency, Default{"drivetrain_efficiency", 0.003, "1", "common practice: clean and well lubricated drivetrains of one kind"})
	return d, used
}

// Gap is the time by which one set-up is behind another.
type Gap struct {
	// S is in s, not negative for a gap to the fastest.
	S float64
	// LowS and HighS bound it with the doubt's coverage, SDS is its standard deviation, to
	// first order.
	LowS, HighS, SDS float64
	// Tied says that the two can't be told apart: no gap at all lies in the band.
	Tied bool
}

// leastGapS is the gap in s that the motion model itself can't tell from none.
const leastGapS = 0.01

// between is the gap of set-up b's measure behind set-up a's.
func (t *table) between(ahead, behind measure, a, b int) Gap {
	g := Gap{S: behind.timeS - ahead.timeS, SDS: t.Doubt.spread(ahead.by, behind.by, &t.Rides[a].Bike, &t.Rides[b].Bike)}
	off := float64(t.z * g.SDS)
	g.LowS, g.HighS = g.S-off, g.S+off
	g.Tied = math.Abs(g.S) <= max(off, leastGapS)
	return g
}

// spread is the standard deviation of the difference of two times. A common error moves
// both, so that only the difference of what it does to them counts; errors of their own
// count for each.
func (d *Doubt) spread(by, other ride.Sensitivity, a, b *ride.Bike) float64 {
	apart, u := plus(other, by, -1), d.Common
	variance := squares(apart.PerKg*u.MassKg, apart.PerCdAM2*u.CdAM2, apart.PerCrr*u.Crr, apart.PerPowerPct*u.PowerPct,
		apart.PerWindMps*u.WindMps, apart.PerC*u.TemperatureC, apart.PerEfficiency*u.Efficiency)
	if a.MassKg != b.MassKg {
		variance += squares(by.PerKg*d.Own.MassKg, other.PerKg*d.Own.MassKg)
	}
	if a.CdAM2 != b.CdAM2 {
		variance += squares(by.PerCdAM2*d.Own.CdAM2, other.PerCdAM2*d.Own.CdAM2)
	}
	if a.Crr != b.Crr {
		variance += squares(by.PerCrr*d.Own.Crr, other.PerCrr*d.Own.Crr)
	}
	if a.Efficiency != b.Efficiency {
		variance += squares(by.PerEfficiency*d.Own.Efficiency, other.PerEfficiency*d.Own.Efficiency)
	}
	return math.Sqrt(variance)
}

func squares(xs ...float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += float64(x * x)
	}
	return sum
}

// plus adds a share of a sensitivity to another.
func plus(s, more ride.Sensitivity, share float64) ride.Sensitivity {
	return ride.Sensitivity{
		PerKg: s.PerKg + float64(share*more.PerKg), PerW: s.PerW + float64(share*more.PerW),
		PerPowerPct: s.PerPowerPct + float64(share*more.PerPowerPct), PerCdAM2: s.PerCdAM2 + float64(share*more.PerCdAM2),
		PerCrr: s.PerCrr + float64(share*more.PerCrr), PerC: s.PerC + float64(share*more.PerC),
		PerWindMps: s.PerWindMps + float64(share*more.PerWindMps), PerEfficiency: s.PerEfficiency + float64(share*more.PerEfficiency),
	}
}
