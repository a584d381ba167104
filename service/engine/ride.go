package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/plan"
	"parcours.example/analysis/ride"
)

// matrix is riders × set-ups over a stretch of a course, with an effort for each
// rider.
type matrix struct {
	course     *Course
	from, to   float64
	riders     []ride.Rider
	efforts    []ride.Effort
	setups     []ride.Setup
	conditions ride.Conditions
	surfaces   []ride.Surface
	// clocksAtM are positions on the course at which the rides' clocks are kept beside
	// their splits.
	clocksAtM []float64
	// traces keeps the rides' traces.
	traces bool
	// planning is set where the efforts are Best and told in full.
	planning *planning
	// doubt is nil where no bands are asked for.
	doubt         *Doubt
	sensitivities bool
}

// named returns the matrix with a set-up, and with names for all who have none.
func (m matrix) named() matrix {
	if len(m.setups) == 0 {
		m.setups = []ride.Setup{unstatedSetup()}
		m.setups[0].Name = defaultSetupName
	}
	m.riders, m.setups = slices.Clone(m.riders), slices.Clone(m.setups)
	for i := range m.riders {
		if m.riders[i].Name == "" {
			m.riders[i].Name = fmt.Sprintf("Rider %d", i+1)
		}
	}
	for i := range m.setups {
		if m.setups[i].Name == "" {
			m.setups[i].Name = fmt.Sprintf("Set-up %d", i+1)
		}
	}
	return m
}

// ride rides the matrix on as many of the free workers as help.
func (e *Engine) ride(ctx context.Context, m matrix) (*Predictions, error) {
	if err := e.checkMatrix(m); err != nil {
		return nil, err
	}
	m = m.named()
	ctx, leave, err := e.enterRides(ctx, m.steps(m.rides()))
	if err != nil {
		return nil, err
	}
	defer leave()
	stage := stageRide
	if m.plans() > 0 {
		stage = stagePlan
	}
	defer e.meter.time(ctx, stage)()
	return guard(func() (*Predictions, error) { return e.rideAll(ctx, m) })
}

// enterRides admits rides over so many samples of the road, unless they are more than the limit.
func (e *Engine) enterRides(ctx context.Context, steps float64) (working context.Context, leave func(), err error) {
	if steps > float64(e.limits.RideSteps) {
		return nil, nil, tooMany("#/riders", "samples of the road, all predictions together", e.limits.RideSteps, int(math.Ceil(steps)))
	}
	return e.admit.enter(ctx, steps)
}

func (e *Engine) rideAll(ctx context.Context, m matrix) (*Predictions, error) {
	road, err := m.road()
	if err != nil {
		return nil, m.placed(err, 0, "")
	}
	p := &Predictions{
		Course: m.course, StartM: m.from, EndM: m.to,
		Items: make([]Prediction, len(m.riders)*len(m.setups)),
		Spans: spansOf(m.course, m.from, m.to),
	}
	if err := e.checkAnswer(m, road, p); err != nil {
		return nil, err
	}
	var doubts []ride.Assumption
	m.doubt, doubts = m.completed(road)
	w := way{road: road, spans: p.Spans, splits: m.splits(p.Spans)}
	if m.planning != nil {
		w.places = placesOf(m.course, road, m.from, m.to)
	}
	err = e.each(ctx, len(p.Items), func(ctx context.Context, i int) error {
		p.Items[i] = m.predict(ctx, w, i)
		return ctx.Err()
	})
	if err != nil {
		return nil, err
	}
	var all assumed
	all.note(0, 0, road.Assumptions)
	for _, item := range p.Items {
		if item.Ride != nil {
			all.note(item.RiderIndex, item.SetupIndex, item.Ride.Bike.Assumptions)
		}
	}
	all.note(0, 0, doubts)
	p.Assumptions = all.list
	e.countPlans(p.Items)
	return p, nil
}

// splits returns the spans on the ride's own axis, and behind them the places whose clocks
// are kept.
func (m matrix) splits(spans []Span) []ride.Span {
	splits := make([]ride.Span, len(spans), len(spans)+len(m.clocksAtM))
	for i, s := range spans {
		splits[i] = ride.Span{
			Of: string(s.Of), ID: s.ID, Pass: s.Pass, StartM: s.StartM - m.from, EndM: s.EndM - m.from,
		}
	}
	for _, at := range m.clocksAtM {
		splits = append(splits, ride.Span{StartM: at - m.from, EndM: at - m.from})
	}
	return splits
}

// road returns the stretch in the conditions.
func (m matrix) road() (*ride.Road, error) {
	ground := m.course.Course
	if m.from > 0 || m.to < ground.LengthM() {
		ground = ground.Cut(m.from, m.to)
	}
	return ride.NewRoad(ground, m.conditions, shiftSurfaces(m.surfaces, m.from))
}

// way is what all rides of a matrix lead over.
type way struct {
	road *ride.Road
	// spans are at positions on the course, splits the same on the rides' own axis.
	spans  []Span
	splits []ride.Span
	// places are where the steps of plans may end, on the rides' own axis.
	places []plan.Place
}

// predict rides the i-th rider and set-up of the matrix.
func (m matrix) predict(ctx context.Context, w way, i int) Prediction {
	rider := i / len(m.setups)
	p := m.predictAt(ctx, w, rider, i%len(m.setups), m.efforts[rider])
	if p.Ride != nil && !m.traces {
		p.Ride.Trace = ride.Trace{}
	}
	return p
}

// predictAt rides a rider and a set-up at an effort.
func (m matrix) predictAt(ctx context.Context, w way, rider, setup int, effort ride.Effort) Prediction {
	p := Prediction{
		RiderIndex: rider, SetupIndex: setup, Rider: m.riders[rider].Name, Setup: m.setups[setup].Name, RunsDryAtM: math.NaN(),
	}
	at := "#/effort"
	if effort.Kind == Best {
		p.Err = m.plan(ctx, w, &p)
	} else {
		if m.planning != nil {
			at = "#/given_effort"
		}
		p.Ride, p.Err = ride.Simulate(ctx, w.road, m.riders[rider], m.setups[setup], shiftSteps(effort, m.from), w.splits)
	}
	if p.Err != nil {
		p.Ride, p.Planned, p.Err = nil, nil, m.placed(p.Err, rider, at)
		return p
	}
	p.ClocksS = m.takeClocks(p.Ride)
	if err := m.examine(ctx, w.road, &p); err != nil {
		p.Ride, p.Planned, p.Err = nil, nil, err
		return p
	}
	p.RunsDryAtM = runsDryAt(p.Ride.Trace) + m.from
	p.Food = foodOf(p.Ride, m.conditions, w.spans, m.from, m.to)
	return p
}

// takeClocks takes the places whose clocks are kept off a ride's splits.
func (m matrix) takeClocks(r *ride.Ride) []float64 {
	splits := len(r.Splits) - len(m.clocksAtM)
	var clocks []float64
	for _, place := range r.Splits[splits:] {
		clocks = append(clocks, place.ClockS)
	}
	r.Splits = r.Splits[:splits]
	return clocks
}

// plans returns how many of the matrix's rides are planned.
func (m matrix) plans() int {
	n := 0
	for _, effort := range m.efforts {
		if effort.Kind == Best {
			n += max(1, len(m.setups))
		}
	}
	return n
}

// rides is the number of rides that the request is counted as.
func (m matrix) rides() int {
	return len(m.riders)*max(1, len(m.setups)) + m.plans()*(PlanCost-1)
}

// steps is the work of so many rides.
func (m matrix) steps(rides int) float64 {
	share := (m.to - m.from) / m.course.LengthM()
	return float64(rides) * float64(len(m.course.S)) * share
}

// tracesEach returns how many traces are kept of each item.
func (m matrix) tracesEach() int {
	switch {
	case !m.traces:
		return 0
	case m.planning == nil || !m.planning.traces:
		return 1
	case m.planning.given == nil:
		return 2
	}
	return 3
}

// placed returns an error of a ride with its place in the request where it has one,
// else with its place on the course. effortAt is where the ride's effort stands.
func (m matrix) placed(err error, rider int, effortAt string) error {
	var at *ride.Error
	if !errors.As(err, &at) {
		return err
	}
	pointer := map[string]string{
		ride.CodeNeedsPower:         fmt.Sprintf("#/riders/%d/power_w", rider),
		ride.CodeNeedsCriticalPower: fmt.Sprintf("#/riders/%d/critical_power_w", rider),
		ride.CodeWindNeedsPositions: "#/conditions/wind_mps",
		ride.CodeWindNeedsDirection: "#/conditions/wind_from_deg",
		ride.CodeTimeOutOfReach:     effortAt + "/time_s",
	}[at.Code]
	if pointer != "" {
		return &Error{Code: at.Code, Pointer: pointer, Detail: at.Detail}
	}
	return shiftError(at, m.from)
}

// checkMatrix holds the number of predictions against its limit.
func (e *Engine) checkMatrix(m matrix) error {
	n, plans := m.rides(), m.plans()
	if n == 0 {
		return &Error{Code: CodeNotComputable, Pointer: "#/riders", Detail: "Give one rider at least."}
	}
	what := "predictions, riders times set-ups"
	if plans > 0 {
		what += fmt.Sprintf(", each of %d plans counted as %d of them", plans, PlanCost)
	}
	if n > e.limits.Predictions {
		return tooMany("#/riders", what, e.limits.Predictions, n)
	}
	return nil
}

// checkAnswer holds the answer's size against its limits.
func (e *Engine) checkAnswer(m matrix, road *ride.Road, p *Predictions) error {
	if n := len(p.Items) * (len(p.Spans) + len(m.clocksAtM)); n > e.limits.Splits {
		return tooMany("#/riders", "times over parts and passes", e.limits.Splits, n)
	}
	if n := len(p.Items) * len(road.Pieces) * m.tracesEach(); n > e.limits.Samples {
		return tooMany("#/riders", "samples of traces", e.limits.Samples, n)
	}
	if n := m.plans() * len(road.Pieces); n > e.limits.PlanSamples {
		return tooMany("#/riders", "samples to plan over", e.limits.PlanSamples, n)
	}
	return nil
}

// runsDryAt returns where the balance of work above critical power first falls
// below zero, linear between the samples; NaN where it doesn't or isn't known.
func runsDryAt(t ride.Trace) float64 {
	for i, balance := range t.WBalanceJ {
		if balance >= 0 || math.IsNaN(balance) {
			continue
		}
		if i == 0 {
			return t.DistanceM[0]
		}
		share := t.WBalanceJ[i-1] / (t.WBalanceJ[i-1] - balance)
		return t.DistanceM[i-1] + float64(share*(t.DistanceM[i]-t.DistanceM[i-1]))
	}
	return math.NaN()
}
