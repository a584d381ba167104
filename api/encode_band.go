package api

import (
	"fmt"

	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
)

// encodeTimeBand adds a time's band; nil for none.
func encodeTimeBand(out *Prediction, b *ride.Band) {
	if b == nil {
		return
	}
	out.TimeLowS, out.TimeHighS = finite(b.LowS, decimalsM), finite(b.HighS, decimalsM)
	out.Band = &Band{CoveragePct: b.CoveragePct, SdS: metres(b.SDS), Shares: each(b.Shares, func(s ride.Share) BandShare {
		return BandShare{Source: BandShareSource(s.Source), Share: round(s.Share, decimalsRatio)}
	})}
	if b.Halt != nil {
		out.Band.Halt = &BandHalt{Code: b.Halt.Code, AtM: metres(b.Halt.AtM), Detail: fmt.Sprintf(
			"At the slow end of the band the rider comes to a halt at %.0f m of the course: no time is too slow to be expected. Plan with more power, or with less to carry.", b.Halt.AtM)}
	}
}

// encodeSensitivities writes sensitivities per step of each parameter.
func encodeSensitivities(s ride.Sensitivities) []Sensitivity {
	var out []Sensitivity
	for _, p := range []struct {
		name SensitivityParameter
		step float64
		of   func(ride.Sensitivity) float64
	}{
		{"mass_kg", 1, func(s ride.Sensitivity) float64 { return s.PerKg }},
		{"power_w", 10, func(s ride.Sensitivity) float64 { return s.PerW }},
		{"cda_m2", 0.01, func(s ride.Sensitivity) float64 { return s.PerCdAM2 }},
		{"crr", 0.001, func(s ride.Sensitivity) float64 { return s.PerCrr }},
		{"temperature_c", 1, func(s ride.Sensitivity) float64 { return s.PerC }},
		{"wind_mps", 1, func(s ride.Sensitivity) float64 { return s.PerWindMps }},
		{"drivetrain_efficiency", 0.01, func(s ride.Sensitivity) float64 { return s.PerEfficiency }},
	} {
		per := func(s ride.Sensitivity) float64 { return round(p.of(s)*p.step, decimalsRatio) }
		out = append(out, Sensitivity{Parameter: p.name, Step: p.step, TimeS: per(s.Whole), SplitsS: each(s.Splits, per)})
	}
	return out
}
