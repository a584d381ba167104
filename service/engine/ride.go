package engine

import (
	"context"
	"errors"
	"fmt"
	"slices"

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
	if err := e.checkMatrix(len(m.riders) * max(1, len(m.setups))); err != nil {
		return nil, err
	}
	m = m.named()
	leave, err := e.admit.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(stageRide)()
	return guard(func() (*Predictions, error) { return e.rideAll(ctx, m) })
}

func (e *Engine) rideAll(ctx context.Context, m matrix) (*Predictions, error) {
	road, err := m.road()
	if err != nil {
		return nil, m.placed(err, 0)
	}
	p := &Predictions{
		Course: m.course, StartM: m.from, EndM: m.to,
		Items: make([]Prediction, len(m.riders)*len(m.setups)),
		Spans: spansOf(m.course, m.from, m.to),
	}
	splits := m.splits(p.Spans)
	err = e.each(ctx, len(p.Items), func(ctx context.Context, i int) error {
		p.Items[i] = m.predict(ctx, road, splits, i)
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
	p.Assumptions = all.list
	return p, nil
}

// splits returns the spans on the ride's own axis.
func (m matrix) splits(spans []Span) []ride.Span {
	splits := make([]ride.Span, len(spans))
	for i, s := range spans {
		splits[i] = ride.Span{
			Of: string(s.Of), ID: s.ID, Pass: s.Pass, StartM: s.StartM - m.from, EndM: s.EndM - m.from,
		}
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

// predict rides the i-th rider and set-up of the matrix.
func (m matrix) predict(ctx context.Context, road *ride.Road, splits []ride.Span, i int) Prediction {
	p := Prediction{RiderIndex: i / len(m.setups), SetupIndex: i % len(m.setups)}
	rider, setup := m.riders[p.RiderIndex], m.setups[p.SetupIndex]
	p.Rider, p.Setup = rider.Name, setup.Name
	effort := shiftSteps(m.efforts[p.RiderIndex], m.from)
	ridden, err := ride.Simulate(ctx, road, rider, setup, effort, splits)
	if err != nil {
		p.Err = m.placed(err, p.RiderIndex)
		return p
	}
	p.Ride = ridden
	return p
}

// placed returns an error of a ride with its place in the request where it has one,
// else with its place on the course.
func (m matrix) placed(err error, rider int) error {
	var at *ride.Error
	if !errors.As(err, &at) {
		return err
	}
	pointer := map[string]string{
		ride.CodeNeedsCriticalPower: fmt.Sprintf("#/riders/%d/critical_power_w", rider),
		ride.CodeWindNeedsPositions: "#/conditions/wind_mps",
		ride.CodeWindNeedsDirection: "#/conditions/wind_from_deg",
		ride.CodeTimeOutOfReach:     "#/effort/time_s",
	}[at.Code]
	if pointer != "" {
		return &Error{Code: at.Code, Pointer: pointer, Detail: at.Detail}
	}
	return shiftError(at, m.from)
}

// checkMatrix holds the number of predictions against its limit.
func (e *Engine) checkMatrix(n int) error {
	if n == 0 {
		return &Error{Code: CodeNotComputable, Pointer: "#/riders", Detail: "Give one rider at least."}
	}
	if limit := e.limits.Predictions; n > limit {
		return &Error{
			Code: CodeTooMany, Pointer: "#/riders", Limit: float64(limit), Actual: float64(n),
			Detail: fmt.Sprintf("Riders times set-ups make %d predictions; at most %d are computed in one request.", n, limit),
		}
	}
	return nil
}
