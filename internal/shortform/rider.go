package shortform

import (
	"math"
	"slices"
)

// Rider is a rider as short forms give one; NaN stands for what is left out.
type Rider struct {
	Name                                                    string
	MassKg, PowerW, HeightM, CdAM2, CriticalPowerW, WPrimeJ float64
	// Best rides in the least time, by a plan, in the place of a power.
	Best bool
}

var riderForm = Form{Thing: "rider", Example: "mass=72,power=250"}

// riderFields are the keys with a number, with the ranges that the contract states.
var riderFields = []Field[Rider]{
	{"mass", 20, 250, "kg", func(r *Rider) *float64 { return &r.MassKg }},
	{"power", 0, 4000, "W", func(r *Rider) *float64 { return &r.PowerW }},
	{"height", 1, 2.5, "m", func(r *Rider) *float64 { return &r.HeightM }},
	{"cda", 0.05, 2, "m²", func(r *Rider) *float64 { return &r.CdAM2 }},
	{"cp", 10, 1000, "W", func(r *Rider) *float64 { return &r.CriticalPowerW }},
	{"wprime", 500, 100_000, "J", func(r *Rider) *float64 { return &r.WPrimeJ }},
}

// ParseRider reads a rider's short form, "mass=72,power=250": comma-separated
// key=value of mass (kg, required), power (W), name, height (m), cda (m²), cp
// (critical power, W), wprime (W′, J) and effort, which is best in the place of a power
// and needs cp and wprime; each at most once. A fault is a *Fault.
func ParseRider(text string) (Rider, error) {
	unknown := math.NaN()
	r := Rider{MassKg: unknown, PowerW: unknown, HeightM: unknown, CdAM2: unknown, CriticalPowerW: unknown, WPrimeJ: unknown}
	err := riderForm.Each(text, r.take)
	if err == nil {
		err = r.fault()
	}
	if err != nil {
		return Rider{}, err
	}
	return r, nil
}

// take takes one key with its value.
func (r *Rider) take(key, value string) (err error) {
	switch key {
	case "name":
		r.Name, err = riderForm.Name(value)
		return err
	case "effort":
		if r.Best = value == "best"; !r.Best {
			return riderForm.Fault("the effort is best, or left out beside a power, not %q", Clip(value))
		}
		return nil
	}
	i := slices.IndexFunc(riderFields, func(f Field[Rider]) bool { return f.Key == key })
	if i < 0 {
		return riderForm.Fault("%q is not known; there are mass, power, name, height, cda, cp, wprime and effort", Clip(key))
	}
	return riderFields[i].Set(riderForm, r, value)
}

// fault says what is missing or too much; nil for nothing.
func (r *Rider) fault() error {
	switch {
	case math.IsNaN(r.MassKg):
		return riderForm.Fault("a rider needs a mass, as in %s", riderForm.Example)
	case r.Best && !math.IsNaN(r.PowerW):
		return riderForm.Fault("give a power or effort=best, not both")
	case r.Best && (math.IsNaN(r.CriticalPowerW) || math.IsNaN(r.WPrimeJ)):
		return riderForm.Fault("effort=best needs cp and wprime beside it")
	}
	return nil
}
