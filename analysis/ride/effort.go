package ride

import "math"

// EffortKind is how an effort is given.
type EffortKind string

// The kinds of efforts.
const (
	// ByPower: PowerW throughout.
	ByPower EffortKind = "power"
	// ByOwnPower: the rider's PowerW throughout.
	ByOwnPower EffortKind = "own_power"
	// ByFraction: OfCriticalPower times the rider's critical power.
	ByFraction EffortKind = "fraction"
	// ByMass: WPerKg watts per kilogram of body mass.
	ByMass EffortKind = "power_per_mass"
	// BySteps: Steps; power after the last step's end stays that step's.
	BySteps EffortKind = "steps"
	// ByTime: the constant power that takes TimeS seconds.
	ByTime EffortKind = "time"
)

// Effort is the power that a rider gives. Only the fields of its kind count.
type Effort struct {
	Kind            EffortKind
	PowerW          float64
	OfCriticalPower float64
	WPerKg          float64
	Steps           []Step
	TimeS           float64
}

// Step is a stretch at constant power, from the end of the step before.
type Step struct {
	EndM, PowerW float64
}

// Asked returns the power that was asked of the rider: as an effort it is the same ride.
func (r *Ride) Asked() Effort { return Effort{Kind: BySteps, Steps: r.steps} }

// highestPowerW bounds every power; it is far above what any rider has.
const highestPowerW = 1e5

// steps returns the effort as steps. For ByTime it can't.
func (e Effort) steps(r Rider) ([]Step, error) {
	power := e.PowerW
	switch e.Kind {
	case BySteps:
		return e.Steps, validateSteps(e.Steps)
	case ByOwnPower:
		if math.IsNaN(r.PowerW) {
			return nil, &Error{Code: CodeNeedsPower, AtM: math.NaN(), Detail: "an effort at each rider's own power needs the rider's power_w"}
		}
		power = r.PowerW
	case ByFraction:
		if math.IsNaN(r.CriticalPowerW) {
			return nil, &Error{Code: CodeNeedsCriticalPower, AtM: math.NaN(), Detail: "an effort as a fraction of critical power needs the rider's critical_power_w"}
		}
		power = e.OfCriticalPower * r.CriticalPowerW
	case ByMass:
		power = e.WPerKg * r.MassKg
	case ByPower:
	default:
		return nil, invalid("%q is no kind of effort", e.Kind)
	}
	return constant(power)
}

// constant is one step of a power.
func constant(powerW float64) ([]Step, error) {
	steps := []Step{{math.Inf(1), powerW}}
	return steps, validateSteps(steps)
}
