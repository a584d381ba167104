package engine

import (
	"context"
	"fmt"
	"math"

	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/tally"
)

// ScenarioRequest is what is asked of a field of riders that races over a course. NaN
// means not given in every optional number.
type ScenarioRequest struct {
	Course CourseSource
	// StartM and EndM bound the stretch that is raced, in metres along the course; NaN for
	// the course's ends.
	StartM, EndM float64
	RaceQuestion
	// Setups may be empty: the all-round set-up is then ridden by all.
	Setups     []ride.Setup
	Conditions ride.Conditions
	// Surfaces and the steps of efforts are at positions on the course.
	Surfaces []ride.Surface
	// Effort is what riders give who have none of their own; nil for the default.
	Effort *ride.Effort
	// Progress is told how many runs are done, and of how many, one call at a time, from 0
	// on, which says that nothing is refused any more; nil for nobody.
	Progress func(done, of int)
}

// RaceQuestion is what is to be known of a race beside where and on what it is ridden.
type RaceQuestion struct {
	// Riders are given one by one, Drawn are drawn; there is one at least in all.
	Riders   []Contender
	Drawn    []DrawnGroup
	Contests []Contest
	// Duel names the two riders of the duel; empty for the heaviest and the lightest.
	Duel  []string
	Rules RaceRules
}

// Contender is a rider of a field.
type Contender struct {
	// Rider needs critical power and W′.
	ride.Rider
	// Team and Setup are names; an empty Setup is the first.
	Team, Setup string
	// Effort is nil for the request's.
	Effort *ride.Effort
	Orders []Order
	// pointer is where in the request the rider stands, or the group that the rider was
	// drawn from.
	pointer string
}

// Order is something that a rider is told to do.
type Order struct {
	Do race.OrderKind
	// At is nil where the order has no place.
	At *Place
	// ForS and FromM are those of race.Order, NaN where not given.
	ForS, FromM float64
	// ForRider is the name of the rider who is led out.
	ForRider string
}

// RaceRules are how a race is run.
type RaceRules struct {
	// Seed is below 0 and Runs 0 where not given.
	Seed int64
	Runs int
	// These are as in race.Rules.
	StepS, Abreast, FormPct, LaunchS, MishapsPerH, MishapS float64
	Alone, Echelons, VaryOrders                            bool
}

// defaultSeed is as good as any.
const defaultSeed = 1

// defaultRuns is how often a race is run where nothing else is said.
const defaultRuns = 100

// defaultShare is the share of critical power that riders give alone where nothing else
// is said.
const defaultShare = 0.95

// UnstatedRules are rules of which no number is given.
func UnstatedRules() RaceRules {
	unknown, plain := math.NaN(), race.Defaults()
	return RaceRules{
		Seed: -1, StepS: unknown, Abreast: unknown, FormPct: unknown, LaunchS: unknown, MishapsPerH: unknown, MishapS: unknown,
		Alone: plain.Alone, Echelons: plain.Echelons, VaryOrders: plain.VaryOrders,
	}
}

// Scenario is what many runs of a race come to.
type Scenario struct {
	Course *Course
	// StartM and EndM bound the stretch that was raced.
	StartM, EndM float64
	// Rules are those asked for with every default that was used filled in.
	Rules RaceRules
	// Effort is what riders give who have none of their own.
	Effort ride.Effort
	// Field holds all riders with their names and set-ups, the drawn ones after the given;
	// AloneS the time of each without the others, in seconds.
	Field  []Contender
	AloneS []float64
	// Drawn are the groups that riders were drawn from, Teams the teams' names.
	Drawn []Drawn
	Teams []string
	// Result is told line by line as Lines, climb by climb as Climbs and contest by contest
	// as Contests are.
	Result   tally.Result
	Lines    []RaceLine
	Climbs   []Span
	Contests []string
	// contestPlaces are the passes at which each contest is scored.
	contestPlaces [][]Span
	// Decisive names the stretch on which the field splits; nil where it stays together.
	Decisive *Span
	// Typical is the typical run.
	Typical TypicalRun
	// Duel is nil in a field of one.
	Duel *Duel
	// Assumptions are the defaults that were used.
	Assumptions []Assumption
	// Model is what the computation supposes, Recommendation the result in words.
	Model          []string
	Recommendation string
}

// scenario is a race on its way from a request to a result.
type scenario struct {
	asked    ScenarioRequest
	course   *Course
	from, to float64
	rules    RaceRules
	effort   ride.Effort

	field   []Contender
	byName  map[string]int
	setups  []ride.Setup
	setupOf []int
	drawn   []Drawn
	teams   []string
	teamOf  []int

	road      *ride.Road
	told      [][]race.Order
	contests  []contest
	lines     raceLines
	alone     []alone
	duellists []int
	assumed   assumed
}

// Scenario races a field over a course many times. Errors: those of Course, *PlacedError
// of riders who don't get over the course, and *Error for whatever doesn't fit together.
func (e *Engine) Scenario(ctx context.Context, r ScenarioRequest) (*Scenario, error) {
	c, err := e.Course(ctx, r.Course)
	if err != nil {
		return nil, err
	}
	return e.scenario(ctx, c, r)
}

// scenario is Scenario on a course.
func (e *Engine) scenario(ctx context.Context, c *Course, r ScenarioRequest) (_ *Scenario, err error) {
	s := &scenario{asked: r, course: c}
	if s.from, s.to, err = stretch(c.LengthM(), r.StartM, r.EndM); err != nil {
		return nil, err
	}
	if shelter := r.Conditions.Shelter; shelter < 1 {
		return nil, &Error{
			Code: CodeNotComputable, Pointer: "#/conditions/shelter",
			Detail: fmt.Sprintf("In a race shelter comes from the other riders; leave %v out.", shelter),
		}
	}
	s.regulate()
	if err := s.enlist(); err != nil {
		return nil, err
	}
	if err := s.checkWork(e.limits); err != nil {
		return nil, err
	}
	ctx, leave, err := e.admit.enter(ctx, s.steps(s.secondsAbout()))
	if err != nil {
		return nil, err
	}
	defer leave()
	defer e.meter.time(ctx, stageRace)()
	return guard(func() (*Scenario, error) { return e.raceAll(ctx, s) })
}

// regulate completes rules and effort.
func (s *scenario) regulate() {
	r, plain := s.asked.Rules, race.Defaults()
	rule := func(name string, value *float64, otherwise float64, unit, source string) {
		*value = s.assume("#/rules/"+name, *value, otherwise, unit, source)
	}
	if r.Seed < 0 {
		r.Seed = int64(s.assume("#/rules/seed", math.NaN(), defaultSeed, "1", "any number"))
	}
	if r.Runs == 0 {
		r.Runs = int(s.assume("#/rules/runs", math.NaN(), defaultRuns, "1", "odds of one half then have a standard error of 5 %"))
	}
	rule("step_s", &r.StepS, plain.StepS, "s", "half of it moves what many runs come to by less than their sampling error")
	rule("abreast", &r.Abreast, plain.Abreast, "1", "common practice on an ordinary road")
	rule("form_pct", &r.FormPct, plain.FormPct, "%", "convention: about what tests of critical power differ from day to day")
	rule("launch_s", &r.LaunchS, plain.LaunchS, "s", "convention")
	rule("mishaps_per_h", &r.MishapsPerH, plain.MishapsPerH, "1/h", "none")
	rule("mishap_s", &r.MishapS, plain.MishapS, "s", "convention: a wheel changed")
	s.rules = r
	if s.asked.Effort != nil {
		s.effort = *s.asked.Effort
		return
	}
	s.effort = ride.Effort{Kind: ride.ByFraction, OfCriticalPower: defaultShare}
	if s.usesEffort() {
		s.assume("#/effort/of_critical_power", math.NaN(), defaultShare, "1", "of kind fraction: common practice for about an hour")
	}
}

// usesEffort reports whether any rider has no effort of their own.
func (s *scenario) usesEffort() bool {
	for _, c := range s.asked.Riders {
		if c.Effort == nil {
			return true
		}
	}
	for _, g := range s.asked.Drawn {
		if g.Like.Effort == nil {
			return true
		}
	}
	return false
}

// raceSpeedMps is the speed by which the work of a race is estimated before anybody rides.
const raceSpeedMps = 8.0

// checkWork holds the steps of all riders in all runs, about, against their limit.
func (s *scenario) checkWork(l Limits) error {
	return s.checkSteps(l, s.secondsAbout())
}

// secondsAbout is about how long all riders ride in a run, added up.
func (s *scenario) secondsAbout() float64 {
	return float64(len(s.field)) * (s.to - s.from) / raceSpeedMps
}

// checkWorkAlone is checkWork by the times that riders take alone.
func (s *scenario) checkWorkAlone(l Limits) error {
	seconds := 0.0
	for _, a := range s.alone {
		seconds += a.timeS
	}
	return s.checkSteps(l, seconds)
}

// checkSteps holds the steps of a run in which riders ride so many seconds in all, and
// stand for mishaps, against the limit.
func (s *scenario) checkSteps(l Limits, seconds float64) error {
	if steps := s.steps(seconds); steps > float64(l.RiderSteps) {
		return tooMany("#/rules/runs", "steps of riders: the seconds that all ride, times runs, over the step", l.RiderSteps, int(math.Ceil(steps)))
	}
	return nil
}

// steps is the work of all runs, in each of which riders ride so many seconds in all.
func (s *scenario) steps(seconds float64) float64 {
	standing := s.rules.MishapsPerH * s.rules.MishapS / 3600
	return seconds * (1 + standing) * float64(s.rules.Runs) / s.rules.StepS
}
