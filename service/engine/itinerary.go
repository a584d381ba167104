package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
	"parcours.example/internal/shortform"
)

// The limits of an itinerary.
const (
	// MostSpeeds is the most average speeds.
	MostSpeeds = 3
	// LeastSpeedMps is the slowest average speed.
	LeastSpeedMps = 1.0
	// MostSpeedMps is the fastest one.
	MostSpeedMps = 30.0
)

// The rider whose prediction the speeds are set around where none are given: 3 W per kg of
// body mass, a choice.
const (
	ordinaryMassKg = 70.0
	ordinaryPowerW = 210.0
)

// Itinerary is what is asked of an itinerary.
type Itinerary struct {
	// SpeedsMps are average speeds, at most MostSpeeds. Without any and without riders three
	// are chosen.
	SpeedsMps []float64
	// StartS is when the clocks start, in seconds after midnight; NaN for elapsed times.
	StartS float64
	// Neutral is a stretch that is ridden together before the race is on.
	Neutral itinerary.Neutral
}

// check refuses what no itinerary can be made of on a course of a length in metres.
func (i *Itinerary) check(lengthM float64) error {
	n := i.Neutral
	fault := func(field, format string, args ...any) error {
		return &Error{Code: CodeNotComputable, Pointer: "#/itinerary/" + field, Detail: fmt.Sprintf(format, args...)}
	}
	switch {
	case n.EndM > lengthM-minStretchM:
		return fault("neutral_m", "The neutral stretch would end at %.0f m on a course of %.0f m.", n.EndM, lengthM)
	case n.EndM > 0 && n.TimeS == 0:
		return fault("neutral_s", "Say in neutral_s how long the neutral stretch of %.0f m takes.", n.EndM)
	case n.EndM > MostSpeedMps*n.TimeS:
		return fault("neutral_s", "A neutral stretch of %.0f m in %.0f s is faster than %v m/s.", n.EndM, n.TimeS, MostSpeedMps)
	}
	return nil
}

// rowsOf returns the rows of a course; none where no itinerary is asked for.
func (i *Itinerary) rowsOf(c *Course) ([]itinerary.Row, error) {
	if i == nil {
		return nil, nil
	}
	if err := i.check(c.LengthM()); err != nil {
		return nil, err
	}
	rows := itinerary.Rows(c.Course, c.Terrain, i.Neutral.EndM)
	if len(rows) > MostRows {
		return nil, tooMany("#/itinerary", "rows of the itinerary", MostRows, len(rows))
	}
	return rows, nil
}

// itineraryOf makes the asked itinerary of a course and of the rides over it, which hold
// the clocks at its rows; nil where none is asked for.
func (e *Engine) itineraryOf(ctx context.Context, c *Course, r BriefRequest, rows []itinerary.Row, rides []Prediction) (*itinerary.Table, error) {
	asked := r.Itinerary
	if asked == nil {
		return nil, nil
	}
	t := &itinerary.Table{LengthM: c.LengthM(), StartS: asked.StartS, Neutral: asked.Neutral, Rows: rows}
	for _, v := range asked.SpeedsMps {
		t.Columns = append(t.Columns, atSpeed(t, v))
	}
	for _, p := range rides {
		if halt, stopped := errors.AsType[*ride.Error](p.Err); stopped {
			t.Halted = append(t.Halted, itinerary.Halt{Rider: p.Rider, Setup: p.Setup, AtM: halt.AtM})
			continue
		}
		t.Columns = append(t.Columns, itinerary.Column{
			SpeedMps: math.NaN(), Rider: p.Rider, Setup: p.Setup, ClocksS: asked.Neutral.Ridden(rows, p.ClocksS),
		})
	}
	if len(t.Columns) > 0 {
		return t, nil
	}
	var err error
	if t.Ordinary, err = e.ordinary(ctx, c, r); err != nil {
		return nil, err
	}
	for _, v := range itinerary.Speeds(t.Ordinary.MeanSpeedMps, wording.Units{Imperial: r.Units == brief.Imperial}) {
		t.Columns = append(t.Columns, atSpeed(t, v))
	}
	return t, nil
}

func atSpeed(t *itinerary.Table, speedMps float64) itinerary.Column {
	return itinerary.Column{SpeedMps: speedMps, ClocksS: t.Neutral.AtSpeed(t.Rows, speedMps)}
}

// ordinary predicts an ordinary rider on the default set-up in the asked conditions.
func (e *Engine) ordinary(ctx context.Context, c *Course, r BriefRequest) (*itinerary.Ordinary, error) {
	rider := unstatedRider()
	rider.MassKg = ordinaryMassKg
	p, err := e.ride(ctx, matrix{
		course: c, to: c.LengthM(), riders: []ride.Rider{rider}, conditions: r.Conditions, surfaces: r.Surfaces,
		efforts: []ride.Effort{{Kind: ride.ByPower, PowerW: ordinaryPowerW}},
	})
	if err != nil {
		return nil, err
	}
	o := &itinerary.Ordinary{MassKg: ordinaryMassKg, PowerW: ordinaryPowerW, MeanSpeedMps: math.NaN(), HaltsAtM: math.NaN()}
	one := p.Items[0]
	switch stopped, ok := errors.AsType[*ride.Error](one.Err); {
	case one.Err == nil:
		o.MeanSpeedMps = one.Ride.MeanSpeedMps
	case ok && stopped.Code == ride.CodeCannotClimb:
		o.HaltsAtM = stopped.AtM
	default:
		return nil, one.Err
	}
	return o, nil
}

// positions are where the clocks of rides are wanted.
func positions(rows []itinerary.Row) []float64 {
	at := make([]float64, len(rows))
	for i, r := range rows {
		at[i] = r.AtM
	}
	return at
}

// timeOfDay is hours, minutes and perhaps seconds of a day.
var timeOfDay = regexp.MustCompile(`^([01]\d|2[0-3]):[0-5]\d(:[0-5]\d)?$`)

// ParseTimeOfDay reads "13:05" or "13:05:30" as seconds after midnight. A fault is an
// *Error with CodeInvalid and the parameter "start_clock".
func ParseTimeOfDay(text string) (float64, error) {
	if !timeOfDay.MatchString(text) {
		return 0, &Error{
			Code: CodeInvalid, Parameter: "start_clock",
			Detail: fmt.Sprintf("The start_clock is a time of day as 13:05 or 13:05:30, from 00:00 to 23:59:59, not %q.", shortform.Clip(text)),
		}
	}
	seconds, unit := 0, 3600
	for _, part := range strings.Split(text, ":") {
		n, err := strconv.Atoi(part)
		if err != nil { // digits, as was seen
			return 0, err
		}
		seconds, unit = seconds+n*unit, unit/60
	}
	return float64(seconds), nil
}
