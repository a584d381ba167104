package main

import (
	"fmt"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// raceCommand tells how a race is likely to go.
type raceCommand struct {
	rideFlags   `embed:""`
	effortFlags `embed:""`

	Runs *int     `group:"riders" placeholder:"N" help:"How often the race is run."`
	Seed *int64   `group:"riders" placeholder:"N" help:"Names the luck: the same seed, the same numbers."`
	Duel []string `group:"riders" placeholder:"NAME,NAME" help:"Hold these two riders against each other as well."`
}

// Run asks and prints.
func (c *raceCommand) Run(s *session) error {
	request, err := c.ask(s)
	if err != nil {
		return err
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	if request.Course, err = c.reference(s, request.Course); err != nil {
		return err
	}
	answer, err := s.race(service, request)
	if err != nil {
		return err
	}
	return s.show(resultTable(answer.Riders).spreadsheet, func() { c.people(s, answer) })
}

// race runs the race, and shows on a terminal how far it is.
func (s *session) race(service *client.Client, request *contract.ScenarioRequest) (answer *contract.Scenario, err error) {
	if s.look.JSON || !screenOf(s.std.err).terminal {
		return service.RunScenario(s.ctx, request)
	}
	shown := s.progress("racing", -1)
	defer shown.clear()
	for line, err := range service.ScenarioLines(s.ctx, request) {
		switch {
		case err != nil:
			return nil, err
		case line.Progress != nil:
			shown.set(int64(line.Progress.RunsDone), int64(line.Progress.Runs))
		case line.Result != nil:
			answer = line.Result
		}
	}
	return answer, nil
}

// ask makes the request.
func (c *raceCommand) ask(s *session) (*contract.ScenarioRequest, error) {
	request := &contract.ScenarioRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	riders, bests, err := c.riderFlags.list(s)
	if err != nil {
		return nil, err
	}
	setups, err := c.setupFlags.list(s)
	if err != nil {
		return nil, err
	}
	racers, err := racersOf(riders)
	if err != nil {
		return nil, err
	}
	put(&request.Riders, listOf(racers))
	put(&request.Setups, listOf(setups))
	c.conditionFlags.set(&request.Conditions)
	put(&request.StartM, c.FromM)
	put(&request.EndM, c.ToM)
	s.placeFlags()
	if request.Riders == nil && request.Drawn == nil {
		return nil, wrongUsage("name riders with mass, cp and wprime, with --rider, in a table with --riders, or in a --request")
	}
	effort, err := c.effort(s, bests)
	if err != nil {
		return nil, err
	}
	put(&request.Effort, effort)
	if len(c.Duel) > 0 {
		request.Duel = &contract.DuelRequest{Riders: c.Duel}
		s.files.put("--duel", "/duel")
	}
	c.rule(s, request)
	return request, nil
}

// rule puts what the flags say of the runs into the request.
func (c *raceCommand) rule(s *session, request *contract.ScenarioRequest) {
	if c.Runs == nil && c.Seed == nil {
		return
	}
	if request.Rules == nil {
		request.Rules = &contract.RaceRules{}
	}
	put(&request.Rules.Runs, c.Runs)
	put(&request.Rules.Seed, c.Seed)
	s.files.put("--runs", "/rules/runs")
	s.files.put("--seed", "/rules/seed")
}

// racersOf are riders as a race takes them.
func racersOf(riders []contract.Rider) (racers []contract.ScenarioRider, err error) {
	for i, r := range riders {
		if r.CriticalPowerW == nil || r.WPrimeJ == nil {
			return nil, wrongUsage("rider %d: who races needs a critical power and W′, cp and wprime", i+1)
		}
		racers = append(racers, contract.ScenarioRider{
			Name: r.Name, MassKg: r.MassKg, HeightM: r.HeightM, CdaM2: r.CdaM2, PowerW: r.PowerW, CriticalPowerW: *r.CriticalPowerW,
			WPrimeJ: *r.WPrimeJ, MaxPowerW: r.MaxPowerW, RecoveryRate: r.RecoveryRate, GrossEfficiency: r.GrossEfficiency,
		})
	}
	return racers, nil
}

func (c *raceCommand) people(s *session, answer *contract.Scenario) {
	s.say(answer.Recommendation)
	s.gap()
	resultTable(answer.Riders).people(s.std.out, s.screen)
	for _, contest := range answer.Contests {
		s.gap()
		t := pointsTable(contest.Riders)
		t.title = "Points: " + contest.Name
		t.people(s.std.out, s.screen)
	}
	s.decisive(answer.Decisive)
	if len(answer.TypicalRun.Events) > 0 {
		s.gap()
		s.heading("One race of the usual kind")
		for _, e := range answer.TypicalRun.Events {
			fmt.Fprintln(s.std.out, s.screen.wrap(fmt.Sprintf("%s  %s %s  %s", clock(e.ClockS), s.units.position(e.AtM), s.units.long(), plain(e.Words)), strings.Repeat(" ", 9)))
		}
	}
	if answer.Duel != nil {
		s.gap()
		s.heading("Duel")
		s.say(answer.Duel.Words)
	}
	s.gap()
	c.assumed(s, answer.Assumptions, answer.Model...)
	s.listed("Cautions", answer.Cautions)
}

// decisive tells where most riders are lost to the front, where some are.
func (s *session) decisive(d *contract.RaceSplit) {
	if d == nil || d.LostCount.Mean < 0.05 {
		return
	}
	s.gap()
	s.say(fmt.Sprintf("Most are lost to the front on %s: %s of %s on average, %s %s from the finish.",
		d.Name, rounded(d.LostCount.Mean, 1), rounded(d.BeforeCount.Mean, 1), s.units.position(d.ToFinishM), s.units.long()))
}

func resultTable(results []contract.RaceResult) table[contract.RaceResult] {
	type result = contract.RaceResult
	return table[result]{rows: results, columns: []column[result]{
		{head: "rider", left: true, text: func(r result) string { return named(r.Rider, r.RiderIndex, "rider") }, name: "rider", value: func(r result) any { return r.Rider }},
		{head: "team", left: true, spare: 1, text: func(r result) string { return text(r.Team) }, name: "team", value: func(r result) any { return r.Team }},
		{head: "set-up", left: true, spare: 2, text: varied(results, func(r result) string { return r.Setup }), name: "setup", value: func(r result) any { return r.Setup }},
		{head: "wins %", text: func(r result) string { return chance(r.Win.Value) }, name: "win", value: func(r result) any { return r.Win.Value }},
		{name: "win_low", value: func(r result) any { return r.Win.Low }},
		{name: "win_high", value: func(r result) any { return r.Win.High }},
		{head: "podium %", text: func(r result) string { return chance(r.Podium.Value) }, name: "podium", value: func(r result) any { return r.Podium.Value }},
		{head: "mean place", text: func(r result) string { return rounded(r.MeanPlace.Mean, 1) }, name: "mean_place", value: func(r result) any { return r.MeanPlace.Mean }},
		{head: "finishes %", spare: 4, text: func(r result) string { return chance(r.Finish.Value) }, name: "finish", value: func(r result) any { return r.Finish.Value }},
		{head: "mean time", text: func(r result) string { return mean(r.TimeS, clock) }, name: "time_s", value: func(r result) any { return meanOf(r.TimeS) }},
		{head: "alone", spare: 5, text: func(r result) string { return clock(r.AloneS) }, name: "alone_s", value: func(r result) any { return r.AloneS }},
		{head: "least W′ kJ", spare: 3, text: func(r result) string { return kilojoules(r.WBalanceMinJ.Mean) }, name: "w_balance_min_j", value: func(r result) any { return r.WBalanceMinJ.Mean }},
	}}
}

// meanOf is a mean that may be absent, mean the same for people.
func meanOf(m *contract.RunMean) *float64 {
	if m == nil {
		return nil
	}
	return &m.Mean
}

func mean(m *contract.RunMean, write func(float64) string) string { return optional(meanOf(m), write) }

func pointsTable(points []contract.PointsOf) table[contract.PointsOf] {
	type of = contract.PointsOf
	return table[of]{rows: points, columns: []column[of]{
		{head: "who", left: true, text: func(p of) string { return p.Name }},
		{head: "points", text: func(p of) string { return rounded(p.Points.Mean, 1) }},
		{head: "wins %", text: func(p of) string { return chance(p.Win.Value) }},
	}}
}
