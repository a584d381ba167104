// Package roster reads riders as people keep them: in a short form on a command line, and as
// a table out of a spreadsheet.
package roster

import (
	"math"

	"parcours.example/api/contract"
	"parcours.example/internal/shortform"
)

// Rider is a rider who may ride otherwise than the others.
type Rider struct {
	contract.Rider
	// Best rides in the least time, by a plan, in the place of a power.
	Best bool
}

// ParseRider reads a rider's short form, "mass=72,power=250": comma-separated key=value of
// mass (kg, required), power (W), name, height (m), cda (m²), cp (critical power, W), wprime
// (W′, J) and effort, which is best in the place of a power and needs cp and wprime; each at
// most once. An error is a sentence that says what is wrong.
func ParseRider(text string) (Rider, error) {
	short, err := shortform.ParseRider(text)
	if err != nil {
		return Rider{}, err
	}
	r := Rider{Best: short.Best, Rider: contract.Rider{
		MassKg: short.MassKg, PowerW: given(short.PowerW), HeightM: given(short.HeightM), CdaM2: given(short.CdAM2),
		CriticalPowerW: given(short.CriticalPowerW), WPrimeJ: given(short.WPrimeJ),
	}}
	if short.Name != "" {
		r.Name = &short.Name
	}
	return r, nil
}

// given is a value as the contract has it; nil for NaN.
func given(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}
