package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/launch"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
)

// LaunchRequest is what is asked of sprints to lines of a course. Of its conditions,
// shelter, the speed at the start and the coasting speed have no place here.
type LaunchRequest struct {
	Course CourseSource
	Riders []ride.Rider
	// Setups may be empty: the all-round set-up is then ridden.
	Setups     []ride.Setup
	Conditions ride.Conditions
	// Surfaces are at positions on the course.
	Surfaces []ride.Surface
	Lines    []LaunchLine
}

// LaunchLine is a line to sprint to, and the way to it. NaN, 0 and nil mean not given in
// every field but At.
type LaunchLine struct {
	At Place
	// ApproachM is how long before the line the approach starts, or ApproachS how long it
	// takes; at most one is given.
	ApproachM, ApproachS float64
	// SpeedMps is how fast the head of the line of riders passes its start, or Demand what
	// that asks of the riders (launch.Approach.UsualSpeed); at most one is given.
	SpeedMps, Demand float64
	// Position is the rider's in the line of riders, from 1 at its head, Shelter the drag
	// there over the drag alone.
	Position int
	Shelter  float64
	// BalancesJ are the riders' balances of W′ at the start of the approach.
	BalancesJ []float64
}

// Launches are the launches of all riders on all set-ups to all lines.
type Launches struct {
	Course *Course
	// Items holds the lines in order, of each its passes, the riders and the set-ups.
	Items       []Launch
	Assumptions []Assumption
	Warnings    []LaunchWarning
	// Recommendation is a paragraph, Model what the computation supposes.
	Recommendation string
	Model          []string
}

// Launch is one rider on one set-up at the passes of a line that have the same approach.
type Launch struct {
	LineIndex, RiderIndex, SetupIndex int
	// Rider and Setup are names, given or made up.
	Rider, Setup string
	// Passes are where the line is, at least one.
	Passes []Span
	// Approach is the way to the first of them, HeadPowerW the power of its head, BalanceJ
	// the rider's balance of W′ at its start.
	Approach             launch.Approach
	HeadPowerW, BalanceJ float64
	// Sprint, Inclines and Wheels are empty where Err says why.
	Sprint   *launch.Sprint
	Inclines []launch.Incline
	Wheels   []launch.Wheel
	Warnings []LaunchWarning
	Err      error
}

// LaunchWarning is something to know before sprinting by an answer. AtM is where on the
// course, NaN for nowhere; Pointer is what of the request it concerns, if anything.
type LaunchWarning struct {
	Code, Detail, Pointer string
	AtM                   float64
}

// launchGradients are those at which each line is told beside its own.
func launchGradients() []float64 { return []float64{-0.04, -0.02, 0, 0.02, 0.04, 0.06, 0.08} }

// launches is the number of launches that are asked for: a line that is passed again and again
// is several. A line that isn't there counts for one.
func (r LaunchRequest) launches(c *Course) (n int) {
	for _, line := range r.Lines {
		passes, _ := line.At.Passes(c, 0, c.LengthM(), "") // what is wrong is told later
		n += max(1, len(passes))
	}
	return n * len(r.Riders) * max(1, len(r.Setups))
}

// launchSteps is the work of one rider's launch to one line, in the steps of lightSteps.
const launchSteps = 50_000

// leastApproachM is the shortest way to a line in metres.
const leastApproachM = 50.0

// Launch finds where to launch sprints. A single launch's failure is the call's; among
// several it stands in its place. Errors: those of Course, *ride.Error, and *Error for
// riders, lines or conditions that don't fit.
func (e *Engine) Launch(ctx context.Context, r LaunchRequest) (*Launches, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	l, err := e.launch(ctx, c, r)
	if err == nil && len(l.Items) == 1 && l.Items[0].Err != nil {
		return nil, l.Items[0].Err
	}
	return l, err
}

// launch is Launch on a course, where it is no error that a sprint can't be ridden.
func (e *Engine) launch(ctx context.Context, c *Course, r LaunchRequest) (*Launches, error) {
	if err := launchFault(r); err != nil {
		return nil, err
	}
	ctx, leave, err := e.admit.enter(ctx, float64(r.launches(c))*launchSteps)
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(ctx, stageLaunch)()
	return guard(func() (*Launches, error) { return e.launchAll(ctx, c, r) })
}

func (e *Engine) launchAll(ctx context.Context, c *Course, r LaunchRequest) (*Launches, error) {
	m := matrix{course: c, to: c.LengthM(), riders: r.Riders, setups: r.Setups, conditions: r.Conditions, surfaces: r.Surfaces}.named()
	road, err := m.road()
	if err != nil {
		return nil, m.placed(err, 0, "")
	}
	l := &launching{matrix: m, road: road, most: e.limits.Launches}
	if err := l.enter(); err != nil {
		return nil, err
	}
	out := &Launches{Course: c, Model: launch.Model()}
	for i, line := range r.Lines {
		if err := l.line(ctx, i, line); err != nil {
			return nil, err
		}
	}
	out.Items = l.items
	err = e.each(ctx, len(out.Items), func(ctx context.Context, i int) error { return l.find(ctx, &out.Items[i]) })
	if err != nil {
		return nil, err
	}
	out.Assumptions = l.assumed.list
	out.Warnings = l.warnings
	out.Recommendation = launch.Recommend(l.told(out.Items))
	return out, nil
}

// launching is a request under way.
type launching struct {
	matrix
	road *ride.Road
	// bikes are the riders' on the set-ups, riders first.
	bikes []ride.Bike
	items []Launch
	// launches counts passes times riders times set-ups, of which there may be so many.
	launches, most int
	assumed        assumed
	warnings       []LaunchWarning
}

// unusedInSprints are the assumptions of rides that no sprint needs.
var unusedInSprints = []string{"shelter", "start_speed_mps", "coast_above_mps", "gross_efficiency"}

func needed(used []ride.Assumption) []ride.Assumption {
	return slices.DeleteFunc(slices.Clone(used), func(a ride.Assumption) bool { return slices.Contains(unusedInSprints, a.Name) })
}

// enter completes the riders and their bikes.
func (l *launching) enter() error {
	l.assumed.note(0, 0, needed(l.road.Assumptions))
	for i := range l.riders {
		r := &l.riders[i]
		if math.IsNaN(r.MaxPowerW) {
			r.MaxPowerW = launch.UsualMaxPower(*r)
			l.assumed.note(i, 0, []ride.Assumption{{Of: ride.OfRider, Name: "max_power_w", Value: r.MaxPowerW, Unit: "W", Source: launch.UsualMaxPowerSource}})
			l.warnings = append(l.warnings, LaunchWarning{
				Code: "max-power-assumed", Pointer: fmt.Sprintf("#/riders/%d/max_power_w", i), AtM: math.NaN(),
				Detail: fmt.Sprintf("The maximal power of %s isn't known: %s is assumed, and a sprint hangs on it.", r.Name, wording.Watts(r.MaxPowerW)),
			})
		}
		for k, s := range l.setups {
			bike, err := ride.NewBike(*r, s, l.road.Conditions)
			if err != nil {
				return l.placed(err, i, "")
			}
			l.assumed.note(i, k, needed(bike.Assumptions))
			l.bikes = append(l.bikes, bike)
		}
	}
	return nil
}

// find finds an item's launch, and those elsewhere. Its error is the context's; any other is
// the item's.
func (l *launching) find(ctx context.Context, item *Launch) error {
	item.Err = l.fill(ctx, item)
	if item.Err != nil {
		item.Sprint, item.Inclines, item.Wheels = nil, nil, nil
	} else {
		item.warn()
	}
	return ctx.Err()
}

func (l *launching) fill(ctx context.Context, item *Launch) (err error) {
	s := l.sprinter(item.RiderIndex, item.SetupIndex, item.BalanceJ)
	if item.HeadPowerW, err = item.Approach.HeadPowerW(); err != nil {
		return err
	}
	if item.Sprint, err = launch.Find(ctx, item.Approach, s); err != nil {
		return item.placed(err)
	}
	if item.Inclines, err = launch.Inclines(ctx, item.Approach, s, launchGradients()); err != nil {
		return item.placed(err)
	}
	item.Wheels, err = launch.Wheels(ctx, item.Approach, s, wheelsBeside(item.Approach.Place))
	return item.placed(err)
}

// placed returns an error with its place on the course, where it has one.
func (item *Launch) placed(err error) error {
	var halt *ride.Error
	if errors.As(err, &halt) && !math.IsNaN(halt.AtM) {
		return shiftError(halt, item.Approach.Pieces[0].StartM)
	}
	return err
}

// wheelsBeside are the places in the line that are told: the first four and the rider's own.
func wheelsBeside(own int) []int {
	places := []int{1, 2, 3, 4}
	if own > len(places) {
		places = append(places, own)
	}
	return places
}

func (l *launching) sprinter(rider, setup int, balanceJ float64) launch.Sprinter {
	return launch.Sprinter{Rider: l.riders[rider], Bike: l.bikes[rider*len(l.setups)+setup], BalanceJ: balanceJ}
}
