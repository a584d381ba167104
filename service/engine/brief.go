package engine

import (
	"context"
	"errors"
	"fmt"
	"math"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/ride"
)

// BriefRequest is what is asked of a brief.
type BriefRequest struct {
	Course CourseSource
	// Riders may be empty: the course alone is then told.
	Riders []BriefRider
	// Setups may be empty: the all-round set-up is then ridden.
	Setups     []ride.Setup
	Conditions ride.Conditions
	Surfaces   []ride.Surface
	// Effort is how all riders ride; nil where each has a power of their own.
	Effort *ride.Effort
	// Doubt is how uncertain the rides' inputs are; nil for the defaults.
	Doubt *Doubt
	// Questions are answered for the riders, set-ups and conditions of the brief.
	Questions Questions
	// Units is brief.Metric where empty.
	Units brief.Units
	// MaxChars is the most code points of the text, at least brief.MinChars; 0 for
	// no limit.
	MaxChars int
	// Itinerary is nil for none.
	Itinerary *Itinerary
}

// Brief is a written brief and the course it tells.
type Brief struct {
	Course *Course
	*brief.Brief
}

// Brief writes up a course and, where riders are given, their rides. A rider who
// can't get up a climb is told of, not an error. Errors are those of Predict.
func (e *Engine) Brief(ctx context.Context, r BriefRequest) (*Brief, error) {
	if r.MaxChars != 0 && r.MaxChars < brief.MinChars {
		return nil, &Error{
			Code: CodeInvalid, Parameter: "max_chars",
			Detail: fmt.Sprintf("A brief needs %d characters at least, not %d.", brief.MinChars, r.MaxChars),
		}
	}
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	in := brief.Input{
		Course: c.Course, Terrain: c.Terrain, Units: r.Units, MaxChars: r.MaxChars, Indoor: r.Conditions.Indoor,
	}
	rows, err := r.Itinerary.rowsOf(c)
	if err != nil {
		return nil, err
	}
	rides, err := e.tellRides(ctx, c, r, positions(rows), &in)
	if err != nil {
		return nil, err
	}
	if in.Itinerary, err = e.itineraryOf(ctx, c, r, rows, rides); err != nil {
		return nil, err
	}
	if in.Answers, err = e.answer(ctx, c, r); err != nil {
		return nil, err
	}
	return guard(func() (*Brief, error) {
		defer e.meter.time(ctx, stageBrief)()
		return &Brief{Course: c, Brief: brief.Write(in)}, nil
	})
}

// tellRides adds the rides of all riders, if there are any, to what is told, and returns
// them with their clocks at positions on the course.
func (e *Engine) tellRides(ctx context.Context, c *Course, r BriefRequest, clocksAtM []float64, in *brief.Input) ([]Prediction, error) {
	if len(r.Riders) == 0 {
		return nil, nil
	}
	predictions, err := e.predictEach(ctx, c, r, clocksAtM)
	if err != nil {
		return nil, err
	}
	for _, p := range predictions.Items {
		told, err := tell(c, predictions.Spans, r.Riders[p.RiderIndex].MassKg, p)
		if err != nil {
			return nil, err
		}
		in.Rides = append(in.Rides, told)
	}
	return predictions.Items, nil
}

// predictEach rides every rider over the whole course with the common effort or
// the rider's own power, and keeps the clocks at positions on it.
func (e *Engine) predictEach(ctx context.Context, c *Course, r BriefRequest, clocksAtM []float64) (*Predictions, error) {
	matrix := matrix{
		course: c, to: c.LengthM(), clocksAtM: clocksAtM, setups: r.Setups, conditions: r.Conditions, surfaces: r.Surfaces, doubt: r.Doubt,
	}
	if matrix.doubt == nil {
		matrix.doubt = unstatedDoubt()
	}
	for i, rider := range r.Riders {
		effort, err := effortOf(i, rider, r.Effort)
		if err != nil {
			return nil, err
		}
		matrix.riders = append(matrix.riders, rider.Rider)
		matrix.efforts = append(matrix.efforts, effort)
	}
	return e.ride(ctx, matrix)
}

// effortOf returns the effort of rider i: the best where they ask for it, else the common
// one, and without one their own power.
func effortOf(i int, rider BriefRider, common *ride.Effort) (ride.Effort, error) {
	switch {
	case rider.Best:
		return ride.Effort{Kind: Best}, nil
	case common != nil:
		return *common, nil
	case !math.IsNaN(rider.PowerW):
		return ride.Effort{Kind: ride.ByOwnPower}, nil
	}
	return ride.Effort{}, &Error{
		Code: CodeNotComputable, Pointer: "#/effort",
		Detail: fmt.Sprintf("Nothing says how hard rider %d rides; give an effort, or the rider's power_w, in short form as mass=72,power=250.", i+1),
	}
}

// tell turns a prediction into what the brief tells of it. A failure that is not
// the rider's is an error.
func tell(c *Course, spans []Span, massKg float64, p Prediction) (brief.Ride, error) {
	told := brief.Ride{
		Rider: p.Rider, Setup: p.Setup, MassKg: massKg,
		TimeS: math.NaN(), MeanSpeedMps: math.NaN(), MeanPowerW: math.NaN(), RunsDryAtM: math.NaN(), StopsAtM: math.NaN(),
	}
	if p.Err != nil {
		var stopped *ride.Error
		if !errors.As(p.Err, &stopped) || stopped.Code != ride.CodeCannotClimb {
			return brief.Ride{}, p.Err
		}
		told.CannotClimb, told.StopsAtM = true, stopped.AtM
		return told, nil
	}
	told.TimeS, told.MeanSpeedMps, told.MeanPowerW = p.Ride.TimeS, p.Ride.MeanSpeedMps, p.Ride.MeanPowerW
	told.RunsDryAtM, told.Food, told.Band = p.RunsDryAtM, &p.Food.Needs, p.Band
	if plan := p.Planned; plan != nil {
		told.Pace = &brief.Pace{ConstantPowerW: plan.ConstantPowerW, GainS: plan.ConstantTimeS - p.Ride.TimeS}
	}
	told.PartTimesS = make([]float64, len(c.Parts))
	told.ClimbTimesS = make([][]float64, len(c.Terrain.Climbs))
	told.MarkClocksS = make([][]float64, len(c.Terrain.Marks))
	for i, s := range spans {
		split := p.Ride.Splits[i]
		switch s.Of {
		case FeaturePart:
			told.PartTimesS[s.Index] = split.TimeS
		case FeatureClimb:
			told.ClimbTimesS[s.Index] = append(told.ClimbTimesS[s.Index], split.TimeS)
		case FeatureMark:
			told.MarkClocksS[s.Index] = append(told.MarkClocksS[s.Index], split.ClockS)
		}
	}
	return told, nil
}
