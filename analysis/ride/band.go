package ride

import (
	"context"
	"errors"
	"math"

	"parcours.example/analysis/elementary"
)

// Band is the interval in which a ride's time lies with a probability, by the stated
// uncertainties of its inputs; the model's own errors are not in it.
type Band struct {
	// CoveragePct is the probability in per cent; as much lies below as above.
	CoveragePct float64
	// LowS and HighS are the ends in s. NaN for an end at which the rider comes to a
	// halt, Halt then says where.
	LowS, HighS float64
	Halt        *Error
	// SDS is the standard deviation of the time to first order, in s.
	SDS float64
	// Shares are those of the variance to first order, in the order of the fields of
	// Uncertainties, without sources that have none. They sum to 1.
	Shares []Share
}

// Share is a source's part of the variance.
type Share struct {
	// Source is the contract's name of an uncertainty: "mass_kg", ….
	Source string
	Share  float64
}

// source is an uncertainty, and where it stands.
type source struct {
	name  string
	perSD float64 // s per standard deviation, to first order
	sd    float64
	of    func(*deviation) *float64
}

// bySourceWind is the wind's index in sources.
const bySourceWind = 4

func sources(u Uncertainties, s Sensitivity) []source {
	return []source{
		{"mass_kg", float64(s.PerKg * u.MassKg), u.MassKg, func(d *deviation) *float64 { return &d.MassKg }},
		{"cda_m2", float64(s.PerCdAM2 * u.CdAM2), u.CdAM2, func(d *deviation) *float64 { return &d.CdAM2 }},
		{"crr", float64(s.PerCrr * u.Crr), u.Crr, func(d *deviation) *float64 { return &d.Crr }},
		{"power_pct", float64(s.PerPowerPct * u.PowerPct), u.PowerPct, func(d *deviation) *float64 { return &d.PowerPct }},
		{"wind_mps", float64(s.PerWindMps * u.WindMps), u.WindMps, func(d *deviation) *float64 { return &d.WindMps }},
		{"temperature_c", float64(s.PerC * u.TemperatureC), u.TemperatureC, func(d *deviation) *float64 { return &d.TemperatureC }},
		{"drivetrain_efficiency", float64(s.PerEfficiency * u.Efficiency), u.Efficiency, func(d *deviation) *float64 { return &d.Efficiency }},
	}
}

// Band returns the interval that holds the ride's time with a probability of
// coveragePct per cent, 0…100 exclusive. The uncertainties must be completed, the
// sensitivity the whole ride's. Its ends are those of the advanced mean value method (Wu,
// Millwater, Cruse 1990, AIAA J. 28:1663–1669): the ride is simulated at the most
// probable deviation that takes the time to either quantile to first order, so that the
// curvature on the way counts. Across that way only the wind's curvature matters: on a
// loop, wind from any side costs time; a further ride gives it. The ends are the
// quantiles of the quadratic through these rides: those at the ends themselves where the
// time grows all along the way and nothing is curved across. Errors are the context's and
// *Error with CodeInvalid.
func (r *Ride) Band(ctx context.Context, road *Road, whole Sensitivity, u Uncertainties, coveragePct float64) (*Band, error) {
	if err := u.validate(); err != nil {
		return nil, err
	}
	if !(coveragePct > 0 && coveragePct < 100) {
		return nil, invalid("a coverage of %v %%", coveragePct)
	}
	b := &Band{CoveragePct: coveragePct, LowS: r.TimeS, HighS: r.TimeS}
	from := sources(u, whole)
	b.spread(from)
	if b.SDS == 0 {
		return b, nil
	}
	z := CentralQuantile(coveragePct / 100)
	var err error
	if b.LowS, err = b.end(ctx, r, road, from, -z); err != nil {
		return nil, err
	}
	if b.HighS, err = b.end(ctx, r, road, from, z); err != nil {
		return nil, err
	}
	s := through(b.LowS, r.TimeS, b.HighS, z, b.SDS)
	if err := s.curve(ctx, b, r, road, from); err != nil {
		return nil, err
	}
	outside := (1 - coveragePct/100) / 2
	if !math.IsNaN(b.LowS) {
		b.LowS = s.quantile(outside)
	}
	if !math.IsNaN(b.HighS) {
		b.HighS = s.quantile(1 - outside)
	}
	return b, nil
}

// spread sets the standard deviation and its shares.
func (b *Band) spread(from []source) {
	variance := 0.0
	for _, s := range from {
		variance += float64(s.perSD * s.perSD)
	}
	b.SDS = math.Sqrt(variance)
	for _, s := range from {
		if s.perSD != 0 {
			b.Shares = append(b.Shares, Share{s.name, s.perSD * s.perSD / variance})
		}
	}
}

// end returns the time at the most probable deviation for a quantile, NaN for a halt.
func (b *Band) end(ctx context.Context, r *Ride, road *Road, from []source, z float64) (float64, error) {
	var d deviation
	for _, s := range from {
		*s.of(&d) = z * s.sd * s.perSD / b.SDS
	}
	timeS, err := r.deviated(ctx, road, d)
	var halt *Error
	if errors.As(err, &halt) && halt.Code == CodeCannotClimb {
		b.Halt = halt
		return math.NaN(), nil
	}
	return timeS, err
}

// deviated returns the time of the ride with inputs that deviate.
func (r *Ride) deviated(ctx context.Context, road *Road, d deviation) (float64, error) {
	bike, steps := d.bike(r.Bike, road.Conditions.Shelter), d.steps(r.steps)
	rec, err := travel(ctx, d.road(road), &bike, steps, cutsOf(steps, nil, road.LengthM()))
	if err != nil {
		return 0, err
	}
	return rec.clock, nil
}

// CentralQuantile returns the z up to which a standard normal error lies on either side
// with a probability.
func CentralQuantile(probability float64) float64 {
	low, high := 0.0, 40.0
	for range 100 {
		mid := (low + high) / 2
		if elementary.Erfc(mid/math.Sqrt2) > 1-probability {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}
