package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/choice"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
)

// askedOf is a brief's request of two riders on two set-ups over the hill.
func askedOf(q Questions) BriefRequest {
	r := BriefRequest{Course: hill(), Conditions: UnstatedConditions(), Effort: &ride.Effort{Kind: ride.ByPower, PowerW: 240}, Questions: q}
	for _, name := range []string{"Nour", "Bram"} {
		r.Riders = append(r.Riders, BriefRider{Rider: contender(name).Rider})
	}
	r.Setups = []ride.Setup{unstatedSetup(), unstatedSetup()}
	r.Setups[0].Name, r.Setups[1].Name, r.Setups[1].MassKg = "plain", "light", 6
	return r
}

// everyQuestion asks whatever can be asked.
func everyQuestion() Questions {
	nan := math.NaN()
	rules := UnstatedRules()
	rules.Runs = 4
	return Questions{
		Comparisons: &SetupQuestion{Quantities: []choice.Quantity{choice.Power}, OwnDoubt: choice.OwnDoubt{MassKg: nan, CdAM2: nan, Crr: nan, Efficiency: nan}},
		Launches:    []LaunchLine{toFinish()},
		Aids:        &AidQuestion{Aids: []Aid{fairing()}, FollowerGapM: nan},
		Scenarios:   &RaceQuestion{Rules: rules},
	}
}

// toFinish is a launch to the finish of which nothing else is said.
func toFinish() LaunchLine {
	nan := math.NaN()
	return LaunchLine{At: Place{Finish: true, AtM: nan, StartM: nan, EndM: nan}, ApproachM: nan, ApproachS: nan, SpeedMps: nan, Demand: nan, Shelter: nan}
}

// TestBriefsWithQuestionsDontWaitForEachOther demands that briefs with every question come to
// an end where there is a single worker for all of them.
func TestBriefsWithQuestionsDontWaitForEachOther(t *testing.T) {
	e := newEngine(t, Config{Workers: 1, QueueWait: time.Minute})
	var all errgroup.Group
	for range 4 {
		all.Go(func() error {
			b, err := e.Brief(t.Context(), askedOf(everyQuestion()))
			if err == nil && !strings.Contains(b.Text, "How the race is likely to go") {
				t.Error(b.Text)
			}
			return err
		})
	}
	if err := all.Wait(); err != nil {
		t.Error(err)
	}
}

// oneByOne are the questions one by one.
func oneByOne() map[string]Questions {
	all := everyQuestion()
	return map[string]Questions{
		"comparisons": {Comparisons: all.Comparisons}, "launches": {Launches: all.Launches}, "aids": {Aids: all.Aids}, "scenarios": {Scenarios: all.Scenarios},
	}
}

// TestQuestionsEndWithTheirCaller demands the context's error of every question.
func TestQuestionsEndWithTheirCaller(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), hill())
	if err != nil {
		t.Fatal(err)
	}
	for name, q := range oneByOne() {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := e.answer(ctx, c, askedOf(q)); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestQuestionsNameTheirPlace demands that a fault of a question is placed below it, and one
// of what the brief has itself where that is.
func TestQuestionsNameTheirPlace(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{Launches: 3}})
	nan := math.NaN()
	nowhere := Place{ClimbID: "climb-9", AtM: nan, StartM: nan, EndM: nan}
	lost := toFinish()
	lost.At = nowhere
	rules := UnstatedRules()
	for want, change := range map[string]func(r *BriefRequest){
		"#/questions/comparisons/ambitions/0/at/climb_id": func(r *BriefRequest) {
			r.Questions.Comparisons = &SetupQuestion{Ambitions: []Ambition{{At: nowhere}}}
		},
		"#/questions/comparisons/changes/0/to_index": func(r *BriefRequest) {
			r.Questions.Comparisons = &SetupQuestion{Changes: []BikeChange{{To: SetupReference{Index: 7}}}}
		},
		"#/setups": func(r *BriefRequest) { r.Setups, r.Questions.Comparisons = r.Setups[:1], &SetupQuestion{} },
		"#/effort": func(r *BriefRequest) {
			r.Effort, r.Riders, r.Questions.Aids = nil, r.Riders[:1], everyQuestion().Aids
		},
		"#/questions/launches/lines/0/at/climb_id": func(r *BriefRequest) { r.Questions.Launches = []LaunchLine{lost} },
		"#/questions/launches/lines":               func(r *BriefRequest) { r.Questions.Launches = []LaunchLine{toFinish()} },
		"#/riders/0/critical_power_w": func(r *BriefRequest) {
			r.Riders[0].CriticalPowerW, r.Questions.Launches = nan, []LaunchLine{toFinish()}
		},
		"#/riders": func(r *BriefRequest) { r.Riders, r.Questions.Launches = nil, []LaunchLine{toFinish()} },
		"#/questions/aids/at/climb_id": func(r *BriefRequest) {
			r.Questions.Aids = &AidQuestion{Aids: []Aid{fairing()}, At: &nowhere, FollowerGapM: nan}
		},
		"#/questions/aids/aids/0/available_from/0": func(r *BriefRequest) {
			r.Questions.Aids = &AidQuestion{Aids: []Aid{fairing("mark-9")}, FollowerGapM: nan}
		},
		"#/questions/scenarios/contests/0/scores/0/at/climb_id": func(r *BriefRequest) {
			r.Questions.Scenarios = &RaceQuestion{Rules: rules, Contests: []Contest{{Name: "A", Scores: []Score{{By: ByCrossing, At: &nowhere, Points: []float64{1}}}}}}
		},
		"#/questions/scenarios/duel/riders/0": func(r *BriefRequest) {
			r.Questions.Scenarios = &RaceQuestion{Rules: rules, Duel: []string{"Ghost", "Nour"}}
		},
		"#/riders/1/w_prime_j": func(r *BriefRequest) { r.Riders[1].WPrimeJ, r.Questions.Scenarios = nan, &RaceQuestion{Rules: rules} },
		"#/riders/1/recovery_law": func(r *BriefRequest) {
			r.Riders[1].RecoveryLaw, r.Questions.Scenarios = ride.Integral2012, &RaceQuestion{Rules: rules}
		},
		"#/questions/scenarios/riders": func(r *BriefRequest) { r.Questions.Scenarios = &RaceQuestion{Riders: []Contender{}, Rules: rules} },
		"#/questions/scenarios/riders/0/orders/0/for_rider": func(r *BriefRequest) {
			c := contender("Isa")
			c.Orders = []Order{{Do: race.LeadOut, At: &Place{Finish: true, AtM: nan, StartM: nan, EndM: nan}, ForS: nan, FromM: nan, ForRider: "Ghost"}}
			r.Questions.Scenarios = &RaceQuestion{Riders: []Contender{c}, Rules: rules}
		},
	} {
		r := askedOf(Questions{})
		change(&r)
		_, err := e.Brief(t.Context(), r)
		var fault *Error
		if !errors.As(err, &fault) || fault.Pointer != want {
			t.Errorf("%+v, want one at %s", err, want)
		}
	}
}

// TestLaunchesAndRacesTakeNoShelter demands that the conditions' shelter, which is that of
// the predicted rides, leaves launches and races as they are.
func TestLaunchesAndRacesTakeNoShelter(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), hill())
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"launches", "scenarios"} {
		r := askedOf(oneByOne()[name])
		open, err := e.answer(t.Context(), c, r)
		if err != nil {
			t.Fatal(err)
		}
		r.Conditions.Shelter = 0.6
		if name == "launches" {
			r.Conditions.StartSpeedMps, r.Conditions.CoastAboveMps = 8, 15
		}
		sheltered, err := e.answer(t.Context(), c, r)
		if err != nil {
			t.Fatal(err)
		}
		switch name {
		case "launches":
			if open.Launches.Launches[0].Sprint.TimeS != sheltered.Launches.Launches[0].Sprint.TimeS {
				t.Error("a launch takes the conditions' shelter")
			}
		case "scenarios":
			if !reflect.DeepEqual(open.Race.Result.Entrants[0].TimeS, sheltered.Race.Result.Entrants[0].TimeS) {
				t.Error("a race takes the conditions' shelter")
			}
		}
	}
}

// TestQuestionsTakeEachRidersPower demands that powers in short form are what set-ups are
// compared, and raced, at.
func TestQuestionsTakeEachRidersPower(t *testing.T) {
	e := newEngine(t, Config{})
	c, err := e.Course(t.Context(), hill())
	if err != nil {
		t.Fatal(err)
	}
	r := askedOf(everyQuestion())
	common, err := e.answer(t.Context(), c, r)
	if err != nil {
		t.Fatal(err)
	}
	r.Effort = nil
	for i := range r.Riders {
		r.Riders[i].PowerW = 240
	}
	own, err := e.answer(t.Context(), c, r)
	if err != nil {
		t.Fatal(err)
	}
	told := func(a *brief.Answers) string { // as text, in which a number that isn't one is equal to itself
		return fmt.Sprint(a.Setups.Riders[1].Verdict.Rankings, a.Aids.Cases[1].Found[0].Best, a.Race.Result.Entrants)
	}
	if told(common) != told(own) {
		t.Error("powers of their own come to something else than the same effort of all")
	}
}

// TestQuestionsTellOfHalts demands that a single rider who gets over the course on nothing is
// told of, as in the brief's predictions.
func TestQuestionsTellOfHalts(t *testing.T) {
	e := newEngine(t, Config{})
	q := everyQuestion()
	r := askedOf(Questions{Comparisons: q.Comparisons, Aids: q.Aids})
	r.Course, r.Riders, r.Effort.PowerW = asGiven([]float64{0, 500, 2500}, []float64{0, 0, 500}), r.Riders[:1], 20
	b, err := e.Brief(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"none of them gets there at this effort", "no rider gets over the course at this effort"} {
		if !strings.Contains(b.Text, want) {
			t.Errorf("%q isn't said: %s", want, b.Text)
		}
	}
}
