package engine

import (
	"errors"

	"parcours.example/analysis/ride"
	"parcours.example/internal/shortform"
)

// BriefRider is a rider who may ride otherwise than the others.
type BriefRider struct {
	ride.Rider
	// Best rides in the least time, by a plan, whatever the others do.
	Best bool
}

// ParseRider reads a rider's short form, as shortform.ParseRider does. A fault is an *Error
// with CodeInvalid and the parameter "rider".
func ParseRider(text string) (BriefRider, error) {
	short, err := shortform.ParseRider(text)
	if err != nil {
		return BriefRider{}, faultOfShort(err, "rider")
	}
	r := BriefRider{Rider: unstatedRider(), Best: short.Best}
	r.Name, r.MassKg, r.PowerW, r.HeightM = short.Name, short.MassKg, short.PowerW, short.HeightM
	r.CdAM2, r.CriticalPowerW, r.WPrimeJ = short.CdAM2, short.CriticalPowerW, short.WPrimeJ
	return r, nil
}

// faultOfShort is the *Error of a text that is no short form, where the parameter holds it.
func faultOfShort(err error, parameter string) error {
	if fault, ok := errors.AsType[*shortform.Fault](err); ok {
		return &Error{Code: CodeInvalid, Parameter: parameter, Detail: fault.Detail}
	}
	return err
}
