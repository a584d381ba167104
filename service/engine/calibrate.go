package engine

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/calibrate"
	"parcours.example/analysis/hindsight"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/track"
)

// RecordedRide is a recording and who rode it.
type RecordedRide struct {
	// ID names the ride; empty for its number.
	ID    string
	Rider ride.Rider
	Setup ride.Setup
	// Conditions are the ride's, Effort is the predicted one; of no kind for the recorded
	// mean power, held throughout.
	Conditions ride.Conditions
	Effort     ride.Effort
	// File is the recording, or Samples are.
	File    *File
	Samples []track.Sample
	// TrimStartM and TrimEndM are cut off the recording's ends, in metres.
	TrimStartM, TrimEndM float64
	// Own says which of set-up and conditions are the ride's own and not the request's, so
	// that assumptions can be told where they would stand.
	OwnSetup, OwnConditions bool
}

// CalibrationRequest is what recorded rides are to be held against and learnt from.
type CalibrationRequest struct {
	// Course is nil where each ride is its own course.
	Course   *CourseSource
	Rides    []RecordedRide
	Surfaces []ride.Surface
	// Seek says what is sought beside drag area and rolling resistance.
	Seek calibrate.Options
	// Plans asks what the best plans would have brought.
	Plans bool
	// Traces asks for the rides' points and their predictions' traces: of a round they are
	// much to hold.
	Traces bool
}

// Recorded is what stays of a recording once it is laid on its course.
type Recorded struct {
	Samples   int
	DurationS float64
	Notes     []recording.Note
}

// Examined is a ride held against its prediction.
type Examined struct {
	ID, Rider, Setup string
	// Course is the ride's; positions in Account count from FromM.
	Course      *Course
	FromM, ToM  float64
	Recorded    *Recorded
	Ride        *ridden.Ride
	Account     *hindsight.Account
	Spans       []Span
	Sheltered   []calibrate.Lee
	Conditions  ride.Conditions
	assumptions []Assumption
	// Err says why there is none of it.
	Err error
}

// Learnt is what the rides of a rider on a set-up tell together.
type Learnt struct {
	Rider, Setup string
	// Rides are indices of the request's.
	Rides    []int
	Estimate *calibrate.Estimate
	Err      error
	// NextRider and NextSetup are for the next round.
	NextRider ride.Rider
	NextSetup ride.Setup
}

// Calibration is what recorded rides tell.
type Calibration struct {
	// Course is nil where each ride is its own.
	Course *Course
	Rides  []Examined
	Learnt []Learnt
	// Round is nil for a single ride.
	Round       *hindsight.Round
	Assumptions []Assumption
	Model       []string
}

// ridesCost is about how many rides over the course go into the account of one.
const ridesCost = 10

// Calibrate holds recorded rides against their predictions and learns from them. Nothing of
// them is kept. A single ride's failure is the call's; of several it stands in its place.
// Errors: those of Course, *Error for recordings that can't be used, and *ride.Error.
func (e *Engine) Calibrate(ctx context.Context, asked CalibrationRequest) (*Calibration, error) {
	asked = asked.named()
	out := &Calibration{Rides: make([]Examined, len(asked.Rides)), Model: hindsight.Model()}
	if asked.Course != nil {
		c, err := e.Course(ctx, *asked.Course)
		if err != nil {
			return nil, err
		}
		out.Course = c
		cost := ridesCost
		if asked.Plans {
			cost += PlanCost
		}
		if n := float64(len(asked.Rides)*cost) * float64(len(c.S)); n > float64(e.limits.RideSteps) {
			return nil, tooMany("#/rides", "samples of the road, all rides together", e.limits.RideSteps, int(math.Ceil(n)))
		}
	}
	claim := e.Claim()
	defer claim.Release()
	for i := range asked.Rides {
		if file := asked.Rides[i].File; file != nil {
			content, err := e.unpacked(ctx, claim, file)
			if err != nil {
				return nil, rideError(i, err)
			}
			asked.Rides[i].File = &File{MediaType: file.MediaType, Content: content}
		}
	}
	ctx, leave, err := e.admit.enter(ctx, lightSteps+1)
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(ctx, stageCalibrate)()
	return guard(func() (*Calibration, error) { return out, e.calibrateAll(ctx, asked, out) })
}

// named returns the request with names for all who have none.
func (r CalibrationRequest) named() CalibrationRequest {
	r.Rides = slices.Clone(r.Rides)
	for i := range r.Rides {
		one := &r.Rides[i]
		one.ID = cmp.Or(one.ID, fmt.Sprintf("ride-%d", i+1))
		one.Rider.Name = cmp.Or(one.Rider.Name, fmt.Sprintf("Rider %d", i+1))
		one.Setup.Name = cmp.Or(one.Setup.Name, defaultSetupName)
	}
	return r
}

func (e *Engine) calibrateAll(ctx context.Context, asked CalibrationRequest, out *Calibration) error {
	err := e.each(ctx, len(asked.Rides), func(ctx context.Context, i int) error {
		out.Rides[i] = e.laid(ctx, asked, i, out.Course)
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	out.Learnt = groups(asked, out.Rides)
	err = e.each(ctx, len(out.Learnt), func(ctx context.Context, i int) error {
		out.Learnt[i].learn(ctx, asked, out.Rides)
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	of := make([]*Learnt, len(asked.Rides))
	for i := range out.Learnt {
		for _, k := range out.Learnt[i].Rides {
			of[k] = &out.Learnt[i]
		}
	}
	err = e.each(ctx, len(asked.Rides), func(ctx context.Context, i int) error {
		if out.Rides[i].Err == nil {
			out.Rides[i].Err = out.Rides[i].account(ctx, asked, i, of[i])
		}
		if !asked.Traces {
			out.Rides[i].thin()
		}
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	if len(out.Rides) == 1 && out.Rides[0].Err != nil {
		return out.Rides[0].Err
	}
	out.conclude(asked)
	return nil
}

// conclude sums the rides up.
func (c *Calibration) conclude(asked CalibrationRequest) {
	var all assumed
	var outcomes []hindsight.Outcome
	for i, x := range c.Rides {
		for _, a := range x.assumptions {
			all.add(a)
		}
		if x.Err == nil {
			r := asked.Rides[i]
			outcomes = append(outcomes, hindsight.Outcome{ID: x.ID, Rider: r.Rider.Name, Account: x.Account})
		}
	}
	c.Assumptions = all.list
	if len(c.Rides) > 1 {
		round := hindsight.Together(outcomes)
		c.Round = &round
	}
}

// groups lists riders on set-ups in the order of their first rides, with those of their
// rides that have power.
func groups(asked CalibrationRequest, rides []Examined) []Learnt {
	var out []Learnt
	for i, r := range asked.Rides {
		if rides[i].Err != nil || !hasPower(rides[i].Ride) {
			continue
		}
		k := slices.IndexFunc(out, func(l Learnt) bool { return l.Rider == r.Rider.Name && l.Setup == r.Setup.Name })
		if k < 0 {
			k = len(out)
			out = append(out, Learnt{Rider: r.Rider.Name, Setup: r.Setup.Name})
		}
		out[k].Rides = append(out[k].Rides, i)
	}
	return out
}

func hasPower(r *ridden.Ride) bool {
	return slices.ContainsFunc(r.Points, func(p ridden.Point) bool { return !math.IsNaN(p.PowerW) })
}

// learn fits the group's rides together.
func (l *Learnt) learn(ctx context.Context, asked CalibrationRequest, rides []Examined) {
	sessions := make([]calibrate.Session, len(l.Rides))
	for k, i := range l.Rides {
		sessions[k] = rides[i].session(asked, i)
	}
	l.Estimate, l.Err = calibrate.Fit(ctx, sessions, asked.Seek)
	if l.Err != nil {
		return
	}
	last := asked.Rides[l.Rides[len(l.Rides)-1]]
	l.NextRider, l.NextSetup = last.Rider, last.Setup
	applied := l.Estimate.Applied(last.Setup)
	if l.Estimate.DragDetermined {
		l.NextSetup.CdAM2 = applied.CdAM2
	}
	if l.Estimate.RollingDetermined && !l.Estimate.CrrAssumed {
		l.NextSetup.Crr = applied.Crr
	}
}

// session is the ride as something to learn from.
func (x *Examined) session(asked CalibrationRequest, i int) calibrate.Session {
	r := asked.Rides[i]
	return calibrate.Session{Course: x.Course.Course, Ride: *x.Ride, Rider: r.Rider, Setup: r.Setup, Conditions: r.Conditions, Surfaces: asked.Surfaces}
}

// inWind is the session with the wind that was found, where one was sought, so that it isn't
// taken for shelter.
func (x *Examined) inWind(asked CalibrationRequest, i int, learnt *Learnt) calibrate.Session {
	s := x.session(asked, i)
	if !asked.Seek.Wind {
		return s
	}
	w := learnt.Estimate.Winds[slices.Index(learnt.Rides, i)]
	s.Conditions.WindMps, s.Conditions.WindFromDeg, s.Conditions.HeadwindMps = w.WindMps, w.WindFromDeg, w.HeadwindMps
	return s
}

// account holds the ride against its prediction.
func (x *Examined) account(ctx context.Context, asked CalibrationRequest, i int, learnt *Learnt) error {
	r := asked.Rides[i]
	m := matrix{course: x.Course, from: x.FromM, to: x.ToM, riders: []ride.Rider{r.Rider}, setups: []ride.Setup{r.Setup}, conditions: r.Conditions, surfaces: asked.Surfaces}
	road, err := m.road()
	if err != nil {
		return placedInRide(m.placed(err, 0, ""), i, r)
	}
	x.Spans = spansOf(x.Course, x.FromM, x.ToM)
	c := hindsight.Case{
		Road: road, Rider: r.Rider, Setup: r.Setup, Effort: shiftSteps(r.Effort, x.FromM), Ridden: shiftRidden(x.Ride, x.FromM),
		Spans: m.splits(x.Spans), CdAM2: math.NaN(), Crr: math.NaN(), Plans: asked.Plans,
	}
	if c.Effort.Kind == "" {
		mean := hindsight.MeanPowerW(c.Ridden)
		if math.IsNaN(mean) {
			return &Error{
				Code: CodeNotComputable, Pointer: fmt.Sprintf("#/rides/%d/effort", i),
				Detail: "The recording has no power; give the effort that its prediction is made with.",
			}
		}
		c.Effort = ride.Effort{Kind: ride.ByPower, PowerW: mean}
	}
	if learnt != nil && learnt.Err == nil {
		found := learnt.Estimate
		c.CdAM2, c.Crr = found.CdAM2, found.Crr
		if x.Sheltered, err = calibrate.Lees(ctx, x.inWind(asked, i, learnt), found.CdAM2, found.CdASE, found.Crr); err != nil {
			return err
		}
		for _, s := range x.Sheltered {
			c.Lees = append(c.Lees, hindsight.Lee{StartM: s.StartM - x.FromM, EndM: s.EndM - x.FromM, Factor: s.Factor})
		}
	}
	account, err := hindsight.Examine(ctx, c)
	if err != nil {
		return placedInRide(m.placed(err, 0, "#/effort"), i, r)
	}
	x.Account = account
	x.note(i, r, road.Assumptions, account.Predicted.Bike.Assumptions)
	return nil
}

// thin drops what only a trace is made of.
func (x *Examined) thin() {
	if x.Ride != nil {
		thin := *x.Ride
		thin.Points = nil
		x.Ride = &thin
	}
	if x.Account == nil {
		return
	}
	a := x.Account
	a.Predicted, a.Same, a.PowerW = nil, nil, nil
	if a.Balance != nil {
		b := *a.Balance
		b.TimeS, b.AtM, b.J = nil, nil, b.J[:1:1] // what W′ began with tells a doubt
		b.J = slices.Clone(b.J)
		a.Balance = &b
	}
}

// note keeps the defaults that the ride's prediction used, at the places in the request where
// they would stand.
func (x *Examined) note(i int, r RecordedRide, road, bike []ride.Assumption) {
	own := fmt.Sprintf("#/rides/%d", i)
	at := map[ride.Owner]string{ride.OfRider: own + "/rider/", ride.OfSetup: "#/setup/", ride.OfConditions: "#/conditions/"}
	if r.OwnSetup {
		at[ride.OfSetup] = own + "/setup/"
	}
	if r.OwnConditions {
		at[ride.OfConditions] = own + "/conditions/"
	}
	for _, used := range slices.Concat(road, bike) {
		x.assumptions = append(x.assumptions, Assumption{Pointer: at[used.Of] + used.Name, Value: used.Value, Unit: used.Unit, Source: used.Source})
	}
}

// placedInRide moves an error of a rider to the place of a ride.
func placedInRide(err error, i int, r RecordedRide) error {
	var asked *Error
	if !errors.As(err, &asked) {
		return err
	}
	placed := *asked
	for from, to := range map[string]string{
		"#/riders/0/power_w":          fmt.Sprintf("#/rides/%d/rider/power_w", i),
		"#/riders/0/critical_power_w": fmt.Sprintf("#/rides/%d/rider/critical_power_w", i),
	} {
		if placed.Pointer == from {
			placed.Pointer = to
		}
	}
	if rest, found := strings.CutPrefix(placed.Pointer, "#/conditions/"); found && r.OwnConditions {
		placed.Pointer = fmt.Sprintf("#/rides/%d/conditions/%s", i, rest)
	}
	return &placed
}

// shiftRidden returns a ride with its places from a position on.
func shiftRidden(r *ridden.Ride, from float64) ridden.Ride {
	out := *r
	out.Points = slices.Clone(r.Points)
	for i := range out.Points {
		out.Points[i].AtM = max(0, out.Points[i].AtM-from)
	}
	return out
}

// laid reads the i-th recording and lays it on its course.
func (e *Engine) laid(ctx context.Context, asked CalibrationRequest, i int, on *Course) (x Examined) {
	r := asked.Rides[i]
	x = Examined{ID: r.ID, Rider: r.Rider.Name, Setup: r.Setup.Name, Course: on, Conditions: r.Conditions}
	x.Err = rideError(i, x.lay(ctx, e, r))
	return x
}

func (x *Examined) lay(ctx context.Context, e *Engine, r RecordedRide) error {
	recorded, err := e.read(ctx, r)
	if err != nil {
		return err
	}
	x.Recorded = &Recorded{len(recorded.Samples), recorded.Samples[len(recorded.Samples)-1].TimeS, recorded.Notes}
	if x.Course == nil {
		if x.Course, err = e.courseOf(ctx, recorded); err != nil {
			return err
		}
	}
	x.Ride, err = ridden.Lay(ctx, x.Course.Course, recorded, ridden.Options{TrimStartM: r.TrimStartM, TrimEndM: r.TrimEndM})
	if err != nil {
		return err
	}
	points := x.Ride.Points
	x.FromM, x.ToM = points[0].AtM, points[len(points)-1].AtM
	return nil
}

// rideError places a fault of a recording in the request.
func rideError(i int, err error) error {
	if err == nil {
		return nil
	}
	var asked *Error
	if errors.As(err, &asked) {
		placed := *asked
		placed.Pointer = fmt.Sprintf("#/rides/%d", i)
		return &placed
	}
	return &PlacedError{Pointer: fmt.Sprintf("#/rides/%d", i), Err: err}
}
