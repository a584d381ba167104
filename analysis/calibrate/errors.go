package calibrate

import "fmt"

// The codes of Error.
const (
	// CodeTooLittle: too little of the rides can be used.
	CodeTooLittle = "too-little-riding"
	// CodeNoSessions: there is nothing to learn from.
	CodeNoSessions = "no-rides"
	// CodeNotIncreasing: a ride's times don't increase, or its places decrease.
	CodeNotIncreasing = "points-not-increasing"
)

// Error says why nothing can be learned.
type Error struct {
	// Code is one of the Code constants.
	Code, Detail string
	// Session is the index of the session that it is about, −1 for all of them.
	Session int
}

// Error implements error.
func (e *Error) Error() string { return e.Detail }

func failed(session int, code, format string, args ...any) *Error {
	return &Error{Code: code, Session: session, Detail: fmt.Sprintf(format, args...)}
}
