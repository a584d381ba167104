package ride

import (
	"fmt"
	"math"
)

// The codes of Error.
const (
	// CodeCannotClimb: the rider comes to a halt.
	CodeCannotClimb = "cannot-climb"
	// CodeWindNeedsPositions: a compass wind on a course without positions.
	CodeWindNeedsPositions = "wind-needs-positions"
	// CodeWindNeedsDirection: a wind that comes from math.NaN().
	CodeWindNeedsDirection = "wind-needs-direction"
	// CodeNeedsPower: an effort at the rider's own power, which isn't given.
	CodeNeedsPower = "needs-power"
	// CodeNeedsCriticalPower: an effort relative to a critical power that isn't given.
	CodeNeedsCriticalPower = "needs-critical-power"
	// CodeTimeOutOfReach: no constant power rides the course in the asked time.
	CodeTimeOutOfReach = "time-out-of-reach"
	// CodeInvalid: a value outside its range, or steps or surfaces out of order.
	CodeInvalid = "invalid"
)

// Error says why a ride can't be computed.
type Error struct {
	// Code is one of the Code constants.
	Code, Detail string
	// AtM is the place on the course in metres, NaN where there is none.
	AtM float64
}

// Error implements error.
func (e *Error) Error() string { return e.Detail }

func halted(atM float64) *Error {
	return &Error{
		Code: CodeCannotClimb, AtM: atM,
		Detail: fmt.Sprintf("the rider comes to a halt %.0f m from the start at this power", atM),
	}
}

func invalid(format string, args ...any) *Error {
	return &Error{Code: CodeInvalid, AtM: math.NaN(), Detail: fmt.Sprintf(format, args...)}
}
