package ridden

// Error says why a recording can't be laid on a course.
type Error struct {
	// Code is one of the Code constants.
	Code string
	// Detail is a sentence for people with the numbers that matter.
	Detail string
	// AwayM is how far from the course the middle one of the recording's positions lies,
	// in metres; NaN where unknown.
	AwayM float64
	// OnShare is the share of the recorded way that is on the course, 0…1.
	OnShare float64
}

// The reasons for which a recording can't be laid on a course.
const (
	// CodeNotOnCourse: it is of another road.
	CodeNotOnCourse = "not-on-course"
	// CodeOtherDirection: it goes round the course the other way.
	CodeOtherDirection = "other-direction"
	// CodeTooShort: too little is left of it.
	CodeTooShort = "recording-too-short"
)

// Error implements error.
func (e *Error) Error() string { return e.Detail }
