package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/ride"
)

// Questions are what a brief answers of the race beside the rides, each as its own call has
// it; nil where it isn't asked.
type Questions struct {
	Comparisons *SetupQuestion
	Launches    []LaunchLine
	Aids        *AidQuestion
	// Scenarios whose Riders are nil race those of the brief.
	Scenarios *RaceQuestion
}

// answer answers the questions of a brief one after another; nil where there are none. Each
// takes a worker when its turn comes and gives it back: none is held meanwhile, so that
// briefs can't wait for each other. Errors are those of the calls, with their place in the
// question where they are about what it alone has.
func (e *Engine) answer(ctx context.Context, c *Course, r BriefRequest) (*brief.Answers, error) {
	q := r.Questions
	if q.Comparisons == nil && q.Launches == nil && q.Aids == nil && q.Scenarios == nil {
		return nil, nil //nolint:nilnil // nothing was asked
	}
	var out brief.Answers
	for _, work := range []func() error{
		func() (err error) { out.Setups, err = e.answerComparisons(ctx, c, r); return err },
		func() (err error) { out.Launches, err = e.answerLaunches(ctx, c, r); return err },
		func() (err error) { out.Aids, err = e.answerAids(ctx, c, r); return err },
		func() (err error) { out.Race, err = e.answerScenario(ctx, c, r); return err },
	} {
		if err := work(); err != nil {
			return nil, err
		}
	}
	return &out, nil
}

func (e *Engine) answerComparisons(ctx context.Context, c *Course, r BriefRequest) (*brief.SetupAnswer, error) {
	q := r.Questions.Comparisons
	if q == nil {
		return nil, nil //nolint:nilnil // not asked
	}
	asked, err := r.ride()
	if err != nil {
		return nil, err
	}
	found, err := e.compare(ctx, c, ComparisonRequest{Ride: asked, SetupQuestion: *q})
	if err != nil {
		return nil, inQuestion(err, "comparisons", "ambitions", "changes", "crossings", "setup_uncertainties")
	}
	return toldSetups(found, len(q.Ambitions) > 0, asked.Doubt.CoveragePct), nil
}

func (e *Engine) answerLaunches(ctx context.Context, c *Course, r BriefRequest) (*brief.LaunchAnswer, error) {
	lines := r.Questions.Launches
	if lines == nil {
		return nil, nil //nolint:nilnil // not asked
	}
	if len(r.Riders) == 0 {
		return nil, &Error{Code: CodeNotComputable, Pointer: "#/riders", Detail: "A sprint needs a rider; give one at least."}
	}
	asked := LaunchRequest{Setups: r.Setups, Conditions: r.Conditions, Surfaces: r.Surfaces, Lines: lines}
	for _, rider := range r.Riders {
		asked.Riders = append(asked.Riders, rider.Rider)
	}
	asked.Conditions.Shelter, asked.Conditions.StartSpeedMps, asked.Conditions.CoastAboveMps = math.NaN(), math.NaN(), math.NaN()
	found, err := e.launch(ctx, c, asked)
	if err != nil {
		return nil, inQuestion(err, "launches", "lines")
	}
	return toldLaunches(found, r), nil
}

func (e *Engine) answerAids(ctx context.Context, c *Course, r BriefRequest) (*brief.AidAnswer, error) {
	q := r.Questions.Aids
	if q == nil {
		return nil, nil //nolint:nilnil // not asked
	}
	asked, err := r.ride()
	if err != nil {
		return nil, err
	}
	asked.Doubt = nil
	found, err := e.aids(ctx, c, AidsRequest{Ride: asked, AidQuestion: *q})
	if err != nil {
		return nil, inQuestion(err, "aids", "aids", "at", "follower_gap_m")
	}
	return toldAids(found), nil
}

func (e *Engine) answerScenario(ctx context.Context, c *Course, r BriefRequest) (*brief.RaceAnswer, error) {
	q := r.Questions.Scenarios
	if q == nil {
		return nil, nil //nolint:nilnil // not asked
	}
	nan := math.NaN()
	asked := ScenarioRequest{
		StartM: nan, EndM: nan, RaceQuestion: *q, Setups: r.Setups, Conditions: r.Conditions, Surfaces: r.Surfaces, Effort: r.Effort,
	}
	asked.Conditions.Shelter = nan
	own := []string{"drawn", "contests", "duel", "rules"}
	if q.Riders != nil || len(r.Riders) == 0 {
		own = append(own, "riders")
	} else {
		var err error
		if asked.Riders, err = r.contenders(); err != nil {
			return nil, err
		}
	}
	found, err := e.scenario(ctx, c, asked)
	if err != nil {
		return nil, inQuestion(err, "scenarios", own...)
	}
	return toldRace(found, len(asked.Riders), len(q.Duel) > 0), nil
}

// ride is what questions about rides are asked of: the brief's riders with their efforts.
func (r BriefRequest) ride() (Ride, error) {
	out := Ride{
		StartM: math.NaN(), EndM: math.NaN(), Setups: r.Setups, Conditions: r.Conditions, Surfaces: r.Surfaces, Doubt: r.Doubt,
	}
	if r.Effort != nil {
		out.Effort = *r.Effort
	}
	if out.Doubt == nil {
		out.Doubt = unstatedDoubt()
	}
	for i, rider := range r.Riders {
		effort, err := effortOf(i, rider, r.Effort)
		if err != nil {
			return out, err
		}
		out.Riders, out.efforts = append(out.Riders, rider.Rider), append(out.efforts, effort)
	}
	return out, nil
}

// contenders are the brief's riders as a race has them.
func (r BriefRequest) contenders() ([]Contender, error) {
	var out []Contender
	for i, rider := range r.Riders {
		if err := racing(i, rider.Rider); err != nil {
			return nil, err
		}
		c := Contender{Rider: rider.Rider}
		if rider.Best || r.Effort == nil && !math.IsNaN(rider.PowerW) {
			effort, err := effortOf(i, rider, nil)
			if err != nil {
				return nil, err
			}
			c.Effort = &effort
		}
		out = append(out, c)
	}
	return out, nil
}

// racing says what keeps the brief's i-th rider out of a race; nil for nothing.
func racing(i int, r ride.Rider) error {
	fault := func(field, format string, args ...any) error {
		return &Error{Code: CodeNotComputable, Pointer: fmt.Sprintf("#/riders/%d/%s", i, field), Detail: fmt.Sprintf(format, args...)}
	}
	const needs = "A race needs the riders' critical_power_w and w_prime_j; rider %d has no %s. Give it, or other riders for the race in questions."
	switch {
	case math.IsNaN(r.CriticalPowerW):
		return fault("critical_power_w", needs, i+1, "critical_power_w")
	case math.IsNaN(r.WPrimeJ):
		return fault("w_prime_j", needs, i+1, "w_prime_j")
	case r.RecoveryLaw == ride.Integral2012:
		return fault("recovery_law", "The law integral_2012 needs the whole ride before it tells any of it; choose proportional or bartram_2018.")
	}
	return nil
}

// inQuestion places an error in a question where it is about one of the fields that the
// question alone has.
func inQuestion(err error, question string, own ...string) error {
	within := func(pointer string) string {
		rest, _ := strings.CutPrefix(pointer, "#/")
		if first, _, _ := strings.Cut(rest, "/"); slices.Contains(own, first) {
			return "#/questions/" + question + "/" + rest
		}
		return pointer
	}
	var fault *Error
	var placed *PlacedError
	switch {
	case errors.As(err, &placed):
		return &PlacedError{Pointer: within(placed.Pointer), Parameter: placed.Parameter, Err: placed.Err}
	case errors.As(err, &fault):
		moved := *fault
		moved.Pointer = within(fault.Pointer)
		return &moved
	}
	return err
}
