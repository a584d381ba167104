package scoring

import "fmt"

// The codes of Error.
const (
	// CodeUnknownScore: a score goes by nothing that is known.
	CodeUnknownScore = "unknown-score"
	// CodeNoSuchLine: the race has no such line.
	CodeNoSuchLine = "no-such-line"
	// CodeBackwardSection: a section doesn't end after its start.
	CodeBackwardSection = "backward-section"
	// CodeTooManyPlaces: more places have points than MostPlaces.
	CodeTooManyPlaces = "too-many-places"
	// CodeInvalid: points that are no finite number.
	CodeInvalid = "invalid"
)

// Error says what is wrong with a score of a contest.
type Error struct {
	// Code is one of the Code constants.
	Code, Detail string
	// Score is the index of the score.
	Score int
}

// Error implements error.
func (e *Error) Error() string { return e.Detail }

func wrong(code, format string, args ...any) *Error {
	return &Error{Code: code, Detail: fmt.Sprintf(format, args...)}
}
