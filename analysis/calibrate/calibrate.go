// Package calibrate learns a rider's drag area and rolling resistance from recorded rides
// with power.
//
// Over a stretch of road the work that reaches the wheel goes where the motion model of
// package ride says it goes (Martin et al. 1998, J. Appl. Biomech. 14:276–291):
//
//	η·∫P dt − ΔE_kinetic − ΔE_potential − ∫(bearings, wheels in the air) ds
//	    = CdA·∫½ρ·v_air·|v_air| ds + Crr·∫m·g·cos θ ds + error
//
// which is linear in CdA and Crr: one equation a stretch. Stretches where the bike isn't
// moved by these forces alone (brakes, bends at their limit, stops, gaps) are left out.
//
// The errors are of three kinds, whose sizes are estimated with the rest by restricted
// likelihood: what is new in each stretch (power, position on the bike, gusts); the
// elevation's, shared by all that start or end at the same ground, on whichever lap or
// ride; and the speed's and the place's at each end. An error at the end of one stretch is
// taken off the next, so that short stretches cost nothing. The equations are weighted by
// the inverse of the whole covariance (generalised least squares).
//
// Shelter only ever takes drag away, so errors are not even-handed. Each stretch is own
// air, or sheltered by an unknown share, or spoiled by something else, with a probability
// that is estimated too; it counts as much as it is likely to be own air (a mixture fitted
// by expectation and maximisation; Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B
// 39:1–38).
//
// What is known only to within something (mass, power meter, wind, air, drivetrain) widens
// the errors of the results. No prior is laid on CdA and Crr themselves, so that results of
// several rides can be combined by their errors without counting an expectation twice.
package calibrate

import (
	"context"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
)

// Session is a ride to learn from and what is known about it.
type Session struct {
	Course *course.Course
	Ride   ridden.Ride
	// Rider and Setup are who rode what: their masses count, and the set-up's drivetrain,
	// wheels and bearings. Their drag areas don't. A set-up's Crr is what is assumed where
	// the rides can't tell it.
	Rider ride.Rider
	Setup ride.Setup
	// Conditions are the weather as it is known. Their bounds in bends say what is left
	// out.
	Conditions ride.Conditions
	Surfaces   []ride.Surface
}

// Options say what is sought and what is known. The zero value takes all that is known as
// exact.
type Options struct {
	// Wind has a wind sought for each session that holds for all of it, within what its
	// uncertainty allows: the vector at 10 m, or on courses without positions the headwind.
	Wind bool
	// PowerScale and PowerOffset have a factor, or a number of watts added while
	// pedalling, sought that set the power meter right, within its uncertainty.
	PowerScale, PowerOffset bool
	// Uncertainties are standard deviations of what is known, NaN for a default; that of
	// the drag area is not looked at. WindMps is that of each component of the wind. That
	// of Crr holds where it has to be assumed.
	Uncertainties ride.Uncertainties
}

// Estimate is what rides tell of a rider on a set-up.
type Estimate struct {
	// CdAM2 is the drag area alone in m², without the wheels' as ride.Bike has it, and
	// CdASE its standard error with everything that is uncertain in it.
	CdAM2, CdASE float64
	// Crr is the rolling resistance coefficient on a surface of factor 1.
	Crr, CrrSE float64
	// Correlation is that of the errors of CdA and Crr, −1…1; 0 where Crr is assumed.
	Correlation float64
	// CrrAssumed says that the rides would tell Crr less well than it is known without
	// them: then it is the first session's, and CrrSE that of the uncertainties.
	CrrAssumed bool
	// DragDetermined and RollingDetermined say whether rides like these tell CdA and Crr
	// well enough by their design, whatever came out: see Expected.
	DragDetermined, RollingDetermined bool
	Expected                          Expected

	// Winds are the sessions' winds as used, in their order.
	Winds []Wind
	// PowerScale and PowerOffsetW set the power meter right: the true power is the
	// recorded one times the scale and, while pedalling, plus the offset. 1 and 0 where
	// not sought.
	PowerScale, PowerScaleSE     float64
	PowerOffsetW, PowerOffsetWSE float64

	// Sources say where the errors come from, the rides themselves first.
	Sources []Source
	// ScatterPct is the standard deviation of the resistance over a minute in per cent of
	// it, ElevationErrorM that of the course's elevation at a place in metres, as found.
	ScatterPct, ElevationErrorM float64
	Stretches                   []Stretch
	// Excluded are the stretches of road that were left out, summed up by reason.
	Excluded    []Exclusion
	Assumptions []ride.Assumption
	Notes       []Note
	// Advice are further rides and what they would bring, the best first; none where both
	// are determined.
	Advice []Trial
}

// Applied returns a set-up with the drag area and the rolling resistance as found, in the
// form in which predictions take them. Negative ones stay at 0.
func (e *Estimate) Applied(s ride.Setup) ride.Setup {
	s.CdAM2, s.Crr = max(e.CdAM2, 0), max(e.Crr, 0)
	return s
}

// Wind is a wind that held during a session. Where none was sought it is the one given,
// and the errors are 0.
type Wind struct {
	// WindMps at 10 m comes from WindFromDeg; NaN on a course without positions.
	WindMps, WindFromDeg float64
	// HeadwindMps is the wind at rider height on a course without positions, else NaN.
	HeadwindMps float64
	// NorthSE and EastSE are the standard errors in m/s of the wind's components from the
	// north and from the east; HeadwindSE is that of HeadwindMps.
	NorthSE, EastSE, HeadwindSE float64
}

// Source is one thing that makes the results uncertain, and the standard deviation that it
// alone gives them.
type Source struct {
	Of           SourceOf
	CdASE, CrrSE float64
}

// SourceOf names a source of error.
type SourceOf string

// The sources of error. FromRides takes in all that is sought besides CdA and Crr.
const (
	FromRides       SourceOf = "rides"
	FromCrr         SourceOf = "crr"
	FromMass        SourceOf = "mass_kg"
	FromPower       SourceOf = "power_pct"
	FromWind        SourceOf = "wind_mps"
	FromTemperature SourceOf = "temperature_c"
	FromEfficiency  SourceOf = "drivetrain_efficiency"
)

// Fit finds the drag area and the rolling resistance that the sessions of one rider on one
// set-up have in common. Errors are the context's, those of ride.NewRoad and ride.NewBike,
// and *Error.
func Fit(ctx context.Context, sessions []Session, opt Options) (*Estimate, error) {
	m, err := newModel(ctx, sessions, opt)
	if err != nil {
		return nil, err
	}
	design := m.design()
	m.crrHeld = design.holdsCrr(m)
	s := newSolver(m)
	if err := s.solve(ctx); err != nil {
		return nil, err
	}
	e := s.estimate()
	e.Expected = design.expected(m)
	e.judge(m, design)
	return e, nil
}
