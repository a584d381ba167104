package engine

import (
	"math"
	"slices"

	"parcours.example/analysis/ride"
)

// BriefRider is a rider who may ride otherwise than the others.
type BriefRider struct {
	ride.Rider
	// Best rides in the least time, by a plan, whatever the others do.
	Best bool
}

var shortRider = shortForm{parameter: "rider", example: "mass=72,power=250"}

// riderFields are the keys with a number, with the ranges that the contract states.
var riderFields = []shortField[BriefRider]{
	{"mass", 20, 250, "kg", func(r *BriefRider) *float64 { return &r.MassKg }},
	{"power", 0, 4000, "W", func(r *BriefRider) *float64 { return &r.PowerW }},
	{"height", 1, 2.5, "m", func(r *BriefRider) *float64 { return &r.HeightM }},
	{"cda", 0.05, 2, "m²", func(r *BriefRider) *float64 { return &r.CdAM2 }},
	{"cp", 10, 1000, "W", func(r *BriefRider) *float64 { return &r.CriticalPowerW }},
	{"wprime", 500, 100_000, "J", func(r *BriefRider) *float64 { return &r.WPrimeJ }},
}

// ParseRider reads a rider's short form, "mass=72,power=250": comma-separated
// key=value of mass (kg, required), power (W), name, height (m), cda (m²), cp
// (critical power, W), wprime (W′, J) and effort, which is best in the place of a power
// and needs cp and wprime; each at most once. A fault is an *Error with CodeInvalid and
// the parameter "rider".
func ParseRider(text string) (BriefRider, error) {
	r := BriefRider{Rider: unstatedRider()}
	err := shortRider.each(text, func(key, value string) (err error) {
		switch key {
		case "name":
			r.Name, err = shortRider.name(value)
			return err
		case "effort":
			if r.Best = value == string(Best); !r.Best {
				return shortRider.fault("the effort is %s, or left out beside a power, not %q", Best, clip(value))
			}
			return nil
		}
		i := slices.IndexFunc(riderFields, func(f shortField[BriefRider]) bool { return f.key == key })
		if i < 0 {
			return shortRider.fault("%q is not known; there are mass, power, name, height, cda, cp, wprime and effort", clip(key))
		}
		return riderFields[i].set(shortRider, &r, value)
	})
	if err == nil {
		err = r.fault()
	}
	if err != nil {
		return BriefRider{}, err
	}
	return r, nil
}

// fault says what is missing or too much in a rider's short form; nil for nothing.
func (r BriefRider) fault() error {
	switch {
	case math.IsNaN(r.MassKg):
		return shortRider.fault("a rider needs a mass, as in %s", shortRider.example)
	case r.Best && !math.IsNaN(r.PowerW):
		return shortRider.fault("give a power or effort=%s, not both", Best)
	case r.Best && (math.IsNaN(r.CriticalPowerW) || math.IsNaN(r.WPrimeJ)):
		return shortRider.fault("effort=%s needs cp and wprime beside it", Best)
	}
	return nil
}
