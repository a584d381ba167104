package plan

// What a place can be.
const (
	// OfPart is a part of the course: the lead-in, a lap, the run-out, or the whole.
	OfPart = "part"
	// OfClimb is a pass of a climb, OfSection one of its sections on that pass.
	OfClimb, OfSection = "climb", "section"
	// OfDescent is a pass of a descent.
	OfDescent = "descent"
	// OfFlat is what lies between climbs and descents.
	OfFlat = "flat"
	// OfMark is a point: a sprint line, a summit, a gate.
	OfMark = "mark"
)

// Place is something on the road that a rider can see or be told of. Its bounds are
// where a step of a plan may well end.
type Place struct {
	// Of is one of the Of constants.
	Of string
	// ID is the climb's, the descent's or the mark's; Name may be empty.
	ID, Name string
	// Kind is the part's or the mark's kind; of a flat it is how the wind blows there.
	Kind string
	// Section is the 1-based number of a climb's section, Lap the 1-based lap, 0 outside
	// laps; Pass counts the passes from 1, 0 where there is but one way to pass.
	Section, Lap, Pass int
	// StartM and EndM are on the road's axis, equal for a mark.
	StartM, EndM float64
}
