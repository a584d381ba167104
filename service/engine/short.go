package engine

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"parcours.example/analysis/ride"
)

// BriefRider is a rider with the power of the ride.
type BriefRider struct {
	ride.Rider
	// PowerW is the constant power in W, NaN where not given.
	PowerW float64
}

// shortField is one key of a rider's short form.
type shortField struct {
	key       string
	low, high float64
	unit      string
	// into is where the number goes.
	into func(*BriefRider) *float64
}

// shortFields are the keys with a number, with the ranges that the contract states.
var shortFields = []shortField{
	{"mass", 20, 250, "kg", func(r *BriefRider) *float64 { return &r.MassKg }},
	{"power", 0, 4000, "W", func(r *BriefRider) *float64 { return &r.PowerW }},
	{"height", 1, 2.5, "m", func(r *BriefRider) *float64 { return &r.HeightM }},
	{"cda", 0.05, 2, "m²", func(r *BriefRider) *float64 { return &r.CdAM2 }},
	{"cp", 10, 1000, "W", func(r *BriefRider) *float64 { return &r.CriticalPowerW }},
	{"wprime", 500, 100_000, "J", func(r *BriefRider) *float64 { return &r.WPrimeJ }},
}

// maxNameRunes is the longest name of a rider in the short form.
const maxNameRunes = 200

// ParseRider reads a rider's short form, "mass=72,power=250": comma-separated
// key=value of mass (kg, required), power (W), name, height (m), cda (m²), cp
// (critical power, W) and wprime (W′, J), each at most once. A fault is an *Error
// with CodeInvalid and the parameter "rider".
func ParseRider(text string) (BriefRider, error) {
	r := BriefRider{Rider: unstatedRider(), PowerW: math.NaN()}
	seen := map[string]bool{}
	for _, pair := range strings.Split(text, ",") {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
		if !ok {
			return BriefRider{}, shortFault("%q is not of the form key=value, as in mass=72,power=250", clip(pair))
		}
		if seen[key] {
			return BriefRider{}, shortFault("%q is given twice", clip(key))
		}
		seen[key] = true
		if err := r.setShort(key, value); err != nil {
			return BriefRider{}, err
		}
	}
	if !seen["mass"] {
		return BriefRider{}, shortFault("a rider needs a mass, as in mass=72,power=250")
	}
	return r, nil
}

// setShort takes one key and its value.
func (r *BriefRider) setShort(key, value string) error {
	if key == "name" {
		if !utf8.ValidString(value) || utf8.RuneCountInString(value) > maxNameRunes {
			return shortFault("the name is longer than %d characters", maxNameRunes)
		}
		r.Name = value
		return nil
	}
	i := slices.IndexFunc(shortFields, func(f shortField) bool { return f.key == key })
	if i < 0 {
		return shortFault("%q is not known; there are mass, power, name, height, cda, cp and wprime", clip(key))
	}
	f := shortFields[i]
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || !(f.low <= x && x <= f.high) {
		return shortFault("%s is a number from %v to %v %s, not %q", f.key, f.low, f.high, f.unit, clip(value))
	}
	*f.into(r) = x
	return nil
}

func shortFault(format string, args ...any) error {
	return &Error{Code: CodeInvalid, Parameter: "rider", Detail: "The rider can't be read: " + fmt.Sprintf(format, args...) + "."}
}

// clip shortens what a caller sent for a message.
func clip(s string) string {
	const most = 40
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return s
}
