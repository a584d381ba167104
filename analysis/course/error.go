package course

// Error says why a readable input can't become a course.
type Error struct {
	// Code is one of the Code constants.
	Code string
	// Detail is a sentence for people.
	Detail string
	// Limit and Actual are set where a number was exceeded.
	Limit, Actual float64
	// Part is the index in an assembly of the piece that it is about; 0 elsewhere.
	Part int
}

// The reasons for which an input can't become a course.
const (
	// CodeTooShort: the line has no length.
	CodeTooShort = "too-short"
	// CodeTooLong: the course would be longer than LongestM.
	CodeTooLong = "too-long"
	// CodeAxisNotIncreasing: the distances of a table don't strictly increase.
	CodeAxisNotIncreasing = "axis-not-increasing"
	// CodeLapsDoNotClose: what is to be ridden as laps doesn't end where it starts.
	CodeLapsDoNotClose = "laps-do-not-close"
	// CodeCutOutside: a cut's bound, Actual, is beyond the line's end, Limit.
	CodeCutOutside = "cut-outside"
	// CodeMarkOutside: the distance of an asked mark, Actual, is beyond the course's
	// end, Limit.
	CodeMarkOutside = "mark-outside"
	// CodeTooManyNodes: the course, all its laps together, would have more nodes than
	// are laid.
	CodeTooManyNodes = "too-many-nodes"
	// CodePartsDoNotJoin: a piece of an assembly starts too far, Actual, from where the
	// one before ends, or, if it is repeated or goes over the line, from where it ends
	// itself; Limit is the farthest that is joined.
	CodePartsDoNotJoin = "parts-do-not-join"
)

// Error implements error.
func (e *Error) Error() string { return e.Detail }
