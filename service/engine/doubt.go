package engine

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// Doubt is how uncertain the inputs of rides are, the same for all riders and set-ups,
// and with which probability the times' bands are to hold, in per cent.
type Doubt struct {
	Uncertainties ride.Uncertainties
	CoveragePct   float64
}

// DefaultCoveragePct is the coverage of a band that isn't asked for.
const DefaultCoveragePct = 90

// unstatedDoubt is a doubt of which nothing is given.
func unstatedDoubt() *Doubt {
	unknown := math.NaN()
	return &Doubt{CoveragePct: DefaultCoveragePct, Uncertainties: ride.Uncertainties{
		MassKg: unknown, CdAM2: unknown, Crr: unknown, PowerPct: unknown, WindMps: unknown, TemperatureC: unknown, Efficiency: unknown,
	}}
}

// completed returns the doubt with its defaults, and those that were used.
func (m matrix) completed(road *ride.Road) (*Doubt, []ride.Assumption) {
	if m.doubt == nil {
		return nil, nil
	}
	completed, used := m.doubt.Uncertainties.Completed(road, m.estimates())
	return &Doubt{Uncertainties: completed, CoveragePct: m.doubt.CoveragePct}, used
}

// estimates reports whether a drag area is estimated for any rider on any set-up.
func (m matrix) estimates() bool {
	for _, s := range m.setups {
		for _, r := range m.riders {
			if math.IsNaN(s.CdAM2) && math.IsNaN(r.CdAM2) {
				return true
			}
		}
	}
	return false
}

// examine adds to a prediction what is asked beside its ride: its band and its
// sensitivities. Where nothing is uncertain nothing is computed.
func (m matrix) examine(ctx context.Context, road *ride.Road, p *Prediction) error {
	uncertain := m.doubt != nil && m.doubt.Uncertainties != ride.Uncertainties{}
	var s ride.Sensitivities
	if m.sensitivities || uncertain {
		s = p.Ride.Sensitivities(road)
	}
	if m.sensitivities {
		p.Sensitivities = &s
	}
	if m.doubt == nil {
		return nil
	}
	band, err := p.Ride.Band(ctx, road, s.Whole, m.doubt.Uncertainties, m.doubt.CoveragePct)
	if err != nil {
		return err
	}
	if band.Halt != nil {
		band.Halt = shiftError(band.Halt, m.from)
	}
	p.Band = band
	return nil
}
