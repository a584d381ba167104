package capability

import "fmt"

// The codes of Error and of Absence.
const (
	// CodeInvalid: an effort is out of its range.
	CodeInvalid = "invalid"
	// CodeUndetermined: there is no fit of any kind.
	CodeUndetermined = "capability-undetermined"
	// CodeTooFew: there are fewer different efforts than the model has parameters.
	CodeTooFew = "too-few-efforts"
	// CodeNoCriticalPower: the squares are least where critical power or W′ vanishes or
	// runs away: the powers don't fall with duration as the model has it.
	CodeNoCriticalPower = "no-critical-power"
	// CodeNoMaxPower: the squares are least without an upper limit of power.
	CodeNoMaxPower = "no-max-power"
	// CodeOutOfRange: the values are out of the range of a rider's.
	CodeOutOfRange = "out-of-range"
)

// Error says why efforts tell nothing.
type Error struct {
	// Code is CodeInvalid or CodeUndetermined, Detail a sentence.
	Code, Detail string
	// Effort is the index of the effort at fault, −1 where it is none alone.
	Effort int
	// Absent says of each kind why it doesn't exist, for CodeUndetermined.
	Absent []Absence
}

// Error implements error.
func (e *Error) Error() string { return e.Detail }

// undetermined says that there is no fit, and why: first of all that a longer effort had
// as much power.
func (t *trials) undetermined(absent []Absence) *Error {
	why := absent[0].Detail
	if order := t.warnOfOrder(); order != nil {
		why = order[0].Detail
	}
	return &Error{Code: CodeUndetermined, Effort: -1, Absent: absent, Detail: "No model fits these efforts. " + why}
}

// The range of each value of an effort.
const (
	leastDurationS, mostDurationS = 1.0, 86_400.0
	leastPowerW, mostPowerW       = 1.0, 4_000.0
	leastWeight, mostWeight       = 1e-6, 1e6
)

func validate(efforts []Effort) error {
	if len(efforts) < 2 {
		return &Error{Code: CodeInvalid, Effort: -1, Detail: "Give two efforts at least."}
	}
	for i, e := range efforts {
		for _, q := range []struct {
			name               string
			value, least, most float64
		}{
			{"duration", e.DurationS, leastDurationS, mostDurationS},
			{"power", e.PowerW, leastPowerW, mostPowerW},
			{"weight", e.weight(), leastWeight, mostWeight},
		} {
			if !(q.value >= q.least && q.value <= q.most) {
				return &Error{
					Code: CodeInvalid, Effort: i,
					Detail: fmt.Sprintf("The %s of effort %d is %v, outside %v…%v.", q.name, i+1, q.value, q.least, q.most),
				}
			}
		}
	}
	return nil
}
