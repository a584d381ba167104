package engine

import (
	"context"
	"math"

	"parcours.example/analysis/choice"
	"parcours.example/analysis/ride"
)

// ComparisonRequest is what is asked of set-ups.
type ComparisonRequest struct {
	// Ride says who rides where. Its Doubt isn't nil; its Trace and Sensitivities don't matter.
	Ride
	SetupQuestion
}

// SetupQuestion is what is to be known of set-ups beside who rides them where.
type SetupQuestion struct {
	// Ambitions may be empty: the finish, every sprint line and the climbs are then taken.
	Ambitions []Ambition
	Changes   []BikeChange
	// Quantities are those whose crossing points are looked for.
	Quantities []choice.Quantity
	OwnDoubt   choice.OwnDoubt
}

// Ambition is a place to be early at or fast over.
type Ambition struct {
	// Name may be empty.
	Name string
	At   Place
}

// Comparisons are the set-ups of all riders, compared.
type Comparisons struct {
	Course *Course
	// StartM and EndM bound the stretch that was ridden. Positions of the riders' changes count
	// from StartM.
	StartM, EndM float64
	// Setups are named.
	Setups    []ride.Setup
	Ambitions []ToldAmbition
	Changes   []ToldChange
	Riders    []RiderChoice
	// Assumptions are the defaults that were used, Model what the computation supposes, in
	// sentences.
	Assumptions    []Assumption
	Model          []string
	Recommendation string
}

// ToldAmbition is an ambition as it was understood.
type ToldAmbition struct {
	Name string
	// Line says that its measure is the time to a line, not through a stretch.
	Line bool
	// Passes are at positions on the course, one at least.
	Passes []Span
	// named says that the name is the caller's.
	named bool
}

// RiderChoice is one rider's.
type RiderChoice struct {
	Rider string
	// Rides stand in the order of the set-ups.
	Rides          []Compared
	Verdict        *choice.Verdict
	Recommendation string
}

// Compared is how one set-up is ridden.
type Compared struct {
	TimeS, MeanSpeedMps, MeanPowerW float64
	// Balance is nil for a rider without critical power or W′.
	Balance  *ride.Balance
	Feasible bool
	// Err says why there is no such ride.
	Err error

	assumed []ride.Assumption
}

// Compare rides all riders on all set-ups over a course, and ranks the set-ups by ambition.
// A set-up that can't be ridden stands in its place with its reason, unless it is a single
// rider's last one. Errors: those of Course, *ride.Error, and *Error for what doesn't fit.
func (e *Engine) Compare(ctx context.Context, r ComparisonRequest) (*Comparisons, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	found, err := e.compare(ctx, c, r)
	if err == nil {
		err = allFailed(found.Riders)
	}
	if err != nil {
		return nil, err
	}
	return found, nil
}

// compare is Compare on a course, where it is no error that no ride is possible.
func (e *Engine) compare(ctx context.Context, c *Course, r ComparisonRequest) (*Comparisons, error) {
	q, err := e.question(c, r)
	if err != nil {
		return nil, err
	}
	ctx, leave, err := e.enterRides(ctx, q.steps(q.allRides()))
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(ctx, stageCompare)()
	return guard(func() (*Comparisons, error) { return e.compareAll(ctx, q) })
}

// question is a comparison whose places are found and whose set-ups are named.
type question struct {
	matrix
	ambitions []ToldAmbition
	finish    int
	changes   []ToldChange
	// own and quantities are as asked.
	own        choice.OwnDoubt
	quantities []choice.Quantity
	used       []Assumption
}

// question reads a request on its course and holds it against the limits.
func (e *Engine) question(c *Course, r ComparisonRequest) (*question, error) {
	from, to, err := stretch(c.LengthM(), r.StartM, r.EndM)
	if err != nil {
		return nil, err
	}
	switch {
	case r.Effort.Kind == ride.ByTime:
		return nil, &Error{Code: CodeNotComputable, Pointer: "#/effort/kind", Detail: "At a target time every set-up takes the same time; compare set-ups at a power, or in the least time with best."}
	case len(r.Setups) < 2:
		return nil, &Error{Code: CodeNotComputable, Pointer: "#/setups", Detail: "Give two set-ups at least to compare."}
	}
	q := &question{own: r.OwnDoubt, quantities: r.Quantities}
	q.matrix = matrix{
		course: c, from: from, to: to, riders: r.Riders, setups: r.Setups, conditions: r.Conditions, surfaces: r.Surfaces, doubt: r.Doubt,
	}.named()
	q.efforts = r.each()
	if err := e.checkMatrix(q.matrix); err != nil {
		return nil, err
	}
	if q.ambitions, q.finish, err = ambitionsOf(c, from, to, r.Ambitions); err != nil {
		return nil, err
	}
	if err := q.place(r.Changes); err != nil {
		return nil, err
	}
	return q, e.checkComparison(q)
}

// trialRides is how many rides one place of a change takes at most.
const trialRides = 3

// checkComparison holds the rides and the answer's size against their limits.
func (e *Engine) checkComparison(q *question) error {
	riders, setups, ambitions, trials := len(q.riders), len(q.setups), len(q.ambitions), q.trials()
	if rides := q.allRides(); rides > e.limits.ComparisonRides {
		return tooMany("#/riders", "rides for set-ups, places of changes and crossing points", e.limits.ComparisonRides, rides)
	}
	passes := trials
	for _, a := range q.ambitions {
		passes += len(a.Passes)
	}
	if n := riders * (setups*passes + ambitions*(ambitions+setups) + trials*ambitions); n > e.limits.Splits {
		return tooMany("#/ambitions", "times and gaps", e.limits.Splits, n)
	}
	return nil
}

// allRides is the number of rides that the comparison takes at most, each plan counted as
// PlanCost.
func (q *question) allRides() int {
	riders, setups := len(q.riders), len(q.setups)
	rides := q.plans()*PlanCost + riders*setups + riders*q.trials()*trialRides
	if q.solves() {
		rides += riders * min(len(q.ambitions), setups*(setups-1)/2) * choice.MostRides
	}
	return rides
}

// trials is the number of places of changes.
func (q *question) trials() (n int) {
	for _, c := range q.changes {
		n += len(c.Spots)
	}
	return n
}

// solves tells whether crossing points are looked for that take rides.
func (q *question) solves() bool {
	for _, quantity := range q.quantities {
		if quantity != choice.Gradient {
			return true
		}
	}
	return false
}

func (e *Engine) compareAll(ctx context.Context, q *question) (*Comparisons, error) {
	road, err := q.road()
	if err != nil {
		return nil, q.placed(err, 0, "")
	}
	if n := q.plans() * len(road.Pieces); n > e.limits.PlanSamples {
		return nil, tooMany("#/riders", "samples to plan over", e.limits.PlanSamples, n)
	}
	if n := len(q.setups) * len(road.Pieces); n > e.limits.Samples {
		return nil, tooMany("#/setups", "samples of a rider's traces", e.limits.Samples, n)
	}
	doubt, doubts := q.completed(road)
	q.doubt = nil // of each time on its own nothing is asked
	own, defaults := q.own.Completed()
	frame := choice.Case{
		Road: road, Setups: q.setups, Finish: q.finish, Quantities: q.quantities,
		Doubt: choice.Doubt{Common: doubt.Uncertainties, Own: own, CoveragePct: doubt.CoveragePct},
	}
	q.onRoad(&frame)
	out := &Comparisons{
		Course: q.course, StartM: q.from, EndM: q.to, Setups: q.setups, Ambitions: q.ambitions, Changes: q.changes,
		Riders: make([]RiderChoice, len(q.riders)), Model: q.model(&frame),
	}
	told := make([]choice.Told, len(q.riders))
	err = e.each(ctx, len(q.riders), func(ctx context.Context, i int) error {
		var err error
		out.Riders[i], told[i], err = q.decide(ctx, frame, i)
		return err
	})
	if err != nil {
		return nil, err
	}
	out.Recommendation = choice.Summary(frame, told)
	out.Assumptions = q.assumptions(road, out.Riders, doubts, defaults)
	return out, nil
}

// decide rides a rider on every set-up, and compares them.
func (q *question) decide(ctx context.Context, frame choice.Case, rider int) (RiderChoice, choice.Told, error) {
	frame.Rider = q.riders[rider]
	frame.Rides = make([]*ride.Ride, len(q.setups))
	out := RiderChoice{Rider: frame.Rider.Name, Rides: make([]Compared, len(q.setups))}
	told := choice.Told{Rider: frame.Rider.Name}
	w := way{road: frame.Road, splits: choice.Spans(frame.Ambitions, frame.Changes, frame.Road.LengthM())}
	for i := range q.setups {
		p := q.predictAt(ctx, w, rider, i, q.efforts[rider])
		if ctx.Err() != nil {
			return out, told, ctx.Err()
		}
		frame.Rides[i] = p.Ride
		out.Rides[i] = compared(p)
	}
	var err error
	if out.Verdict, err = choice.Decide(ctx, frame); err != nil {
		return out, told, q.placed(err, rider, "#/effort")
	}
	told.Verdict = out.Verdict
	told.Infeasible = make([]bool, len(q.setups))
	for i, r := range frame.Rides {
		told.Infeasible[i] = r != nil && !r.Feasible
	}
	out.Recommendation = choice.Recommendation(frame, told)
	return out, told, nil
}

func compared(p Prediction) Compared {
	if p.Ride == nil {
		return Compared{Err: p.Err}
	}
	r := p.Ride
	return Compared{
		TimeS: r.TimeS, MeanSpeedMps: r.MeanSpeedMps, MeanPowerW: r.MeanPowerW, Balance: r.Balance, Feasible: r.Feasible,
		assumed: r.Bike.Assumptions,
	}
}

// allFailed is the first reason of a single rider for whom there is no ride at all.
func allFailed(riders []RiderChoice) error {
	if len(riders) > 1 {
		return nil
	}
	for _, r := range riders[0].Rides {
		if r.Err == nil {
			return nil
		}
	}
	return riders[0].Rides[0].Err
}

// assumptions lists the defaults that were used.
func (q *question) assumptions(road *ride.Road, riders []RiderChoice, doubts []ride.Assumption, own []choice.Default) []Assumption {
	var all assumed
	all.note(0, 0, road.Assumptions)
	for i, r := range riders {
		for k, c := range r.Rides {
			all.note(i, k, c.assumed)
		}
	}
	all.note(0, 0, doubts)
	for _, d := range own {
		all.add(Assumption{Pointer: "#/setup_uncertainties/" + d.Name, Value: d.Value, Unit: d.Unit, Source: d.Source})
	}
	for _, a := range q.used {
		all.add(a)
	}
	if q.stops() && math.IsNaN(road.Conditions.BrakingMps2) {
		all.add(Assumption{Pointer: "#/conditions/braking_mps2", Value: ride.DefaultBrakingMps2, Unit: "m/s²", Source: "typical value, for the stop of a change"})
	}
	return all.list
}
