package race

import "parcours.example/analysis/ride"

// Entrant is a rider of the field on a set-up.
type Entrant struct {
	// Rider has critical power and W′.
	Rider ride.Rider
	Setup ride.Setup
	// Team may be empty.
	Team string
	// Steps are the power that the entrant gives when nobody else matters, as an effort of
	// a prediction: alone, the race is that prediction.
	Steps []ride.Step
	// Orders are what the entrant is told to do; without any the entrant shares the work.
	Orders []Order
}

// OrderKind is what an entrant may be told to do.
type OrderKind string

// The kinds of orders.
const (
	// ShareWork takes turns at the front and comes through where the group is too slow.
	ShareWork OrderKind = "share_work"
	// SitIn follows wheels and leaves the work to others.
	SitIn OrderKind = "sit_in"
	// Attack leaves the group at AtM and spends W′ over ForS seconds.
	Attack OrderKind = "attack"
	// LeadOut takes entrant For to the line at AtM, from FromM metres before it on, and
	// doesn't sprint.
	LeadOut OrderKind = "lead_out"
	// Save sits in until AtM, and lets wheels go rather than spend more than half of W′; from
	// there it races.
	Save OrderKind = "save"
	// Sprint takes a place near the front for the line at AtM, and contests it.
	Sprint OrderKind = "sprint"
)

// Order is something that an entrant is told to do. Positions are on the road.
type Order struct {
	Kind OrderKind
	AtM  float64
	// ForS is the length of an attack in seconds.
	ForS float64
	// FromM is where a lead-out begins, in metres before its line.
	FromM float64
	// For is the index of the entrant who is led out.
	For int
}

// Rules are how a race is run. Start from Defaults.
type Rules struct {
	// StepS is the step in seconds, above 0, at most 1.
	StepS float64
	// Alone takes all shelter away, as in a time trial of all at once.
	Alone bool
	// Abreast is how many ride side by side where the pace is easy, 1…10.
	Abreast float64
	// Echelons lets a crosswind take shelter from all but as many as ride abreast.
	Echelons bool
	// Lines are the positions of the lines that entrants without orders contest; the end of
	// the road is always one. Lines of orders are contested by those who have them.
	Lines []float64
	// Seed names the luck. Two runs with the same seed and number are the same.
	Seed uint64
	// FormPct is the standard deviation of the day's form, in per cent of critical power
	// and of W′, each on its own.
	FormPct float64
	// LaunchS is the standard deviation of when sprints are launched, in seconds.
	LaunchS float64
	// MishapsPerH is the rate of punctures and their like for each entrant, MishapS the
	// time that one takes.
	MishapsPerH, MishapS float64
	// VaryOrders draws, in each run, what entrants without orders do.
	VaryOrders bool
}

// Defaults returns the rules that hold where nothing else is said.
func Defaults() Rules {
	return Rules{StepS: 1, Abreast: 4, FormPct: 2, LaunchS: 1, MishapS: 45, VaryOrders: true}
}

// Run is what happened in one run. Its slices are used again by the next run that it is
// given to.
type Run struct {
	// CrossingS holds, line by line, when each entrant crossed it: that of entrant i at
	// line l is CrossingS[l*n+i]; NaN for never.
	CrossingS []float64
	// WorkJ is each entrant's work, LeastBalanceJ the lowest balance of W′, FrontS the
	// time at the front of a group of two and more, ShelteredS that at less than 0.75 of
	// the drag alone.
	WorkJ, LeastBalanceJ, FrontS, ShelteredS []float64
	// FormPct is the day's form in per cent of critical power.
	FormPct []float64
	// Events are in order of time; kept where KeepEvents is set.
	Events     []Event
	KeepEvents bool

	// last is the run before, whose memory is used again.
	last *field
}

// EventKind is what can happen.
type EventKind string

// The kinds of events.
const (
	// Attacked: the entrant started an attack.
	Attacked EventKind = "attacked"
	// LetGo: the entrant fell more than 50 m behind the front group.
	LetGo EventKind = "let_go"
	// CameBack: the entrant reached the front group again.
	CameBack EventKind = "came_back"
	// Launched: the entrant launched a sprint.
	Launched EventKind = "launched"
	// HadMishap: the entrant stopped for a mishap.
	HadMishap EventKind = "mishap"
	// GaveUp: the entrant stood still for a minute, on a slope too steep, and is out.
	GaveUp EventKind = "gave_up"
)

// Event is something that happened to an entrant.
type Event struct {
	Kind    EventKind
	Entrant int
	TimeS   float64
	AtM     float64
}
