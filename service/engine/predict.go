package engine

import (
	"context"
	"slices"

	"parcours.example/analysis/ride"
)

// Ride is what is asked of riders on a course.
type Ride struct {
	Course CourseSource
	// StartM and EndM bound the stretch that is ridden, in metres along the course;
	// NaN for the course's ends. The clock runs from StartM.
	StartM, EndM float64
	Riders       []ride.Rider
	// Setups may be empty: the all-round set-up is then ridden.
	Setups     []ride.Setup
	Conditions ride.Conditions
	// Surfaces and the steps of Effort are at positions on the course.
	Surfaces []ride.Surface
	// Effort is of a kind of package ride, or Best.
	Effort ride.Effort
	// Trace asks for the rides' traces. Without it each is dropped as its ride ends,
	// so that a large matrix takes little memory.
	Trace bool
	// Doubt asks for the times' bands; nil for none.
	Doubt *Doubt
	// Sensitivities asks for what small changes do to the times.
	Sensitivities bool
	// efforts are the riders' own, in the place of Effort; nil where all have that.
	efforts []ride.Effort
}

// each returns the effort of each rider.
func (r Ride) each() []ride.Effort {
	if r.efforts != nil {
		return r.efforts
	}
	return slices.Repeat([]ride.Effort{r.Effort}, len(r.Riders))
}

// Predictions are the rides of all riders on all set-ups.
type Predictions struct {
	Course *Course
	// StartM and EndM bound the stretch that was ridden. The positions in Items'
	// rides count from StartM.
	StartM, EndM float64
	// Items holds the matrix, riders first.
	Items []Prediction
	// Spans says what each ride's Splits stand for, by index, at positions on the
	// course.
	Spans []Span
	// Assumptions are the defaults that were used.
	Assumptions []Assumption
}

// Prediction is one rider on one set-up.
type Prediction struct {
	RiderIndex, SetupIndex int
	// Rider and Setup are names, given or made up.
	Rider, Setup string
	// Ride is nil where Err says why there is none. Its trace is empty unless asked
	// for.
	Ride *ride.Ride
	// RunsDryAtM is where on the course the balance of work above critical power
	// first falls below zero; NaN where it doesn't or isn't known.
	RunsDryAtM float64
	// ClocksS are the clocks at the places that a brief's itinerary asks for, else nil.
	ClocksS []float64
	// Food is nil where there is no ride.
	Food *Food
	// Band is nil where there is no ride or no doubt. Its halt is at a position on the
	// course.
	Band *ride.Band
	// Sensitivities are nil unless asked for.
	Sensitivities *ride.Sensitivities
	// Planned is nil for every effort but Best.
	Planned *Planned
	Err     error
}

// Predict rides all riders on all set-ups over a course. A single prediction's
// failure is the call's; in a matrix it stands in its place. Errors: those of
// Course, *ride.Error, and *Error for riders or a stretch that don't fit.
func (e *Engine) Predict(ctx context.Context, r Ride) (*Predictions, error) {
	return e.predict(ctx, r, nil)
}

// predict is Predict, with what is asked of plans where they are told in full.
func (e *Engine) predict(ctx context.Context, r Ride, asked *planning) (*Predictions, error) {
	m, err := e.matrix(ctx, r, asked)
	if err != nil {
		return nil, err
	}
	p, err := e.ride(ctx, m)
	if err == nil && len(p.Items) == 1 && p.Items[0].Err != nil {
		return nil, p.Items[0].Err
	}
	return p, err
}

// matrix returns what is to be ridden.
func (e *Engine) matrix(ctx context.Context, r Ride, asked *planning) (matrix, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return matrix{}, err
	}
	return matrixOn(c, r, asked)
}

// matrixOn is matrix on a course.
func matrixOn(c *Course, r Ride, asked *planning) (matrix, error) {
	from, to, err := stretch(c.LengthM(), r.StartM, r.EndM)
	if err != nil {
		return matrix{}, err
	}
	return matrix{
		course: c, from: from, to: to, riders: r.Riders, efforts: r.each(), setups: r.Setups,
		conditions: r.Conditions, surfaces: r.Surfaces, traces: r.Trace || asked != nil, planning: asked,
		doubt: r.Doubt, sensitivities: r.Sensitivities,
	}, nil
}
