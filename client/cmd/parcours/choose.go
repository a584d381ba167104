package main

import (
	"strings"

	"parcours.example/api/contract"
	"parcours.example/internal/shortform"
)

// The short forms of what is chosen between. A place is a mark's or a climb's id as analyse
// tells them, with its pass if one alone is meant, a distance at_m, or the finish.
var (
	ambitionForm = shortform.Form{Thing: "ambition", Example: "climb=climb-2,pass=3,name=third time up"}
	changeForm   = shortform.Form{Thing: "change", Example: "from=aero,to=light,at_m=30000,standing=15"}
	lineForm     = shortform.Form{Thing: "line", Example: "mark=mark-1,position=2"}
	aidForm      = shortform.Form{Thing: "aid", Example: "name=tuck,drag=0.8,duration=20"}
)

// compareCommand tells which set-up serves which ambition.
type compareCommand struct {
	rideFlags   `embed:""`
	effortFlags `embed:""`

	Ambition []string `group:"riders" sep:"none" placeholder:"PLACE" help:"A line to be early at or a stretch to be fast over, repeatable: comma-separated key=value of climb, mark (ids), pass, at_m, start_m and end_m, or finish, and name. Left out, the finish."`
	Change   []string `group:"riders" sep:"none" placeholder:"from=SETUP,to=SETUP" help:"A change of set-ups on the way to weigh, repeatable: from, to, standing (s), stops, and a place as ambitions have. Without a place each foot of a climb and each feed is tried."`
	Crossing []string `group:"riders" enum:"rider_mass_kg,power_w,shelter,gradient_pct" placeholder:"QUANTITY" help:"Tell at which value of these the choice tips: rider_mass_kg, power_w, shelter, gradient_pct."`
}

// Run asks and prints.
func (c *compareCommand) Run(s *session) error {
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
	answer, err := service.Compare(s.ctx, request)
	if err != nil {
		return err
	}
	return s.show(rankingTable(answer, rankingsOf(answer)).spreadsheet, func() { c.people(s, answer) })
}

// ask makes the request.
func (c *compareCommand) ask(s *session) (*contract.ComparisonRequest, error) {
	request := &contract.ComparisonRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	ambitions, err := readShorts[contract.Ambition](s, ambitionForm, "ambition", "/ambitions", c.Ambition)
	if err != nil {
		return nil, err
	}
	changes, err := readShorts[contract.BikeChange](s, changeForm, "change", "/changes", c.Change)
	if err != nil {
		return nil, err
	}
	put(&request.Ambitions, listOf(ambitions))
	put(&request.Changes, listOf(changes))
	crossings := make([]contract.CrossingQuantity, len(c.Crossing))
	for i, q := range c.Crossing {
		crossings[i] = contract.CrossingQuantity(q)
	}
	put(&request.Crossings, listOf(crossings))
	setups := &request.Setups
	bests, err := c.set(s, ridden{&request.Course, &request.Riders, &setups, &request.Conditions, &request.StartM, &request.EndM})
	if err != nil {
		return nil, err
	}
	if request.Setups = *setups; len(request.Setups) == 0 {
		return nil, wrongUsage("name the set-ups to compare, like --setup name=light,mass=6.8 --setup name=aero,mass=7.9,cda_change=-0.015")
	}
	return request, c.effortFlags.into(s, &request.Effort, request.Riders, bests)
}

func (c *compareCommand) people(s *session, answer *contract.Comparisons) {
	s.say(answer.Recommendation)
	for i, ambition := range answer.Ambitions {
		t := rankingTable(answer, rankingsFor(answer, i))
		t.title = "Ambition: " + ambitionWords(ambition)
		if !t.nothing() {
			s.gap()
			t.people(s.std.out, s.screen)
		}
	}
	if len(answer.Comparisons) > 1 {
		for _, told := range answer.Comparisons {
			s.listed(named(told.Rider, told.RiderIndex, "rider"), []string{told.Recommendation})
		}
	}
	s.gap()
	c.assumed(s, answer.Assumptions, answer.Model...)
	s.listed("Cautions", answer.Cautions)
}

func ambitionWords(a contract.ToldAmbition) string {
	if a.Name != "" {
		return a.Name
	}
	if len(a.Passes) > 0 {
		return a.Passes[0].Name
	}
	return "Ambition"
}

// ranked is a set-up in the ranking of an ambition for a rider.
type ranked struct {
	comparison      contract.Comparison
	ambition, place int
	contract.RankedSetup
}

// rankingsOf are all rankings, ambition by ambition.
func rankingsOf(answer *contract.Comparisons) (all []ranked) {
	for i := range answer.Ambitions {
		all = append(all, rankingsFor(answer, i)...)
	}
	return all
}

// rankingsFor are the rankings of an ambition.
func rankingsFor(answer *contract.Comparisons, ambition int) (all []ranked) {
	for _, c := range answer.Comparisons {
		for _, a := range c.Ambitions {
			if a.AmbitionIndex != ambition {
				continue
			}
			for place, r := range a.Ranking {
				all = append(all, ranked{c, ambition, place, r})
			}
		}
	}
	return all
}

func rankingTable(answer *contract.Comparisons, rows []ranked) table[ranked] {
	return table[ranked]{rows: rows, columns: []column[ranked]{
		{name: "ambition", value: func(r ranked) any { return ambitionWords(answer.Ambitions[r.ambition]) }},
		{head: "rider", left: true, text: func(r ranked) string { return named(r.comparison.Rider, r.comparison.RiderIndex, "rider") }, name: "rider", value: func(r ranked) any { return r.comparison.Rider }},
		{head: "set-up", left: true, text: func(r ranked) string { return named(r.Setup, r.SetupIndex, "set-up") }, name: "setup", value: func(r ranked) any { return r.Setup }},
		{head: "time", text: func(r ranked) string { return clock(r.TimeS) }, name: "time_s", value: func(r ranked) any { return r.TimeS }},
		{head: "behind", text: func(r ranked) string { return gap(r.Behind.GapS) }, name: "behind_s", value: func(r ranked) any { return r.Behind.GapS }},
		{head: "from", spare: 1, text: func(r ranked) string { return gap(r.Behind.LowS) }, name: "behind_low_s", value: func(r ranked) any { return r.Behind.LowS }},
		{head: "to", spare: 1, text: func(r ranked) string { return gap(r.Behind.HighS) }, name: "behind_high_s", value: func(r ranked) any { return r.Behind.HighS }},
		{head: "sure?", left: true, text: func(r ranked) string {
			if r.Behind.Tie && r.place > 0 {
				return "too close to tell"
			}
			return ""
		}, name: "tie", value: func(r ranked) any { return r.Behind.Tie }},
	}}
}

// launchCommand tells when to start a sprint.
type launchCommand struct {
	rideFlags `embed:""`

	Line []string `group:"riders" sep:"none" placeholder:"PLACE" help:"A line to sprint to, repeatable: comma-separated key=value of mark, climb (ids), pass, at_m, or finish, and position (in the line of riders), shelter, approach_m and the other fields of the contract's LaunchLine. Left out, the finish."`
}

// Run asks and prints.
func (c *launchCommand) Run(s *session) error {
	request := &contract.LaunchRequest{}
	if err := c.load(s, request); err != nil {
		return err
	}
	lines, err := readShorts[contract.LaunchLine](s, lineForm, "line", "/lines", c.Line)
	if err != nil {
		return err
	}
	if len(lines) > 0 {
		request.Lines = lines
	}
	if len(request.Lines) == 0 {
		finish := contract.CoursePlaceFinishTrue
		request.Lines = []contract.LaunchLine{{At: contract.CoursePlace{Finish: &finish}}}
	}
	if c.FromM != nil || c.ToM != nil {
		return wrongUsage("--from-m and --to-m: a sprint is where its line is")
	}
	var none *float64
	if _, err := c.set(s, ridden{&request.Course, &request.Riders, &request.Setups, &request.Conditions, &none, &none}); err != nil {
		return err
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	if request.Course, err = c.reference(s, request.Course); err != nil {
		return err
	}
	answer, err := service.Launch(s.ctx, request)
	if err != nil {
		return err
	}
	return s.show(launchTable(s.units, answer.Launches).spreadsheet, func() { c.people(s, answer) })
}

func (c *launchCommand) people(s *session, answer *contract.Launches) {
	s.say(answer.Recommendation)
	s.gap()
	launchTable(s.units, answer.Launches).people(s.std.out, s.screen)
	var odd []string
	for _, w := range answer.Warnings {
		odd = append(odd, w.Detail)
	}
	for _, l := range answer.Launches {
		if l.Problem != nil {
			odd = append(odd, named(l.Rider, l.RiderIndex, "rider")+": "+problemText(l.Problem))
		}
		if l.Warnings != nil {
			for _, w := range *l.Warnings {
				odd = append(odd, named(l.Rider, l.RiderIndex, "rider")+": "+w.Detail)
			}
		}
	}
	s.listed("To know", odd)
	s.gap()
	c.assumed(s, answer.Assumptions, answer.Model...)
	s.listed("Cautions", answer.Cautions)
}

func launchTable(u units, launches []contract.Launch) table[contract.Launch] {
	type launch = contract.Launch
	return table[launch]{rows: launches, columns: []column[launch]{
		{head: "rider", left: true, text: func(l launch) string { return named(l.Rider, l.RiderIndex, "rider") }, name: "rider", value: func(l launch) any { return l.Rider }},
		{head: "set-up", left: true, text: varied(launches, func(l launch) string { return l.Setup }), name: "setup", value: func(l launch) any { return l.Setup }},
		{head: "line", left: true, text: linesOf, name: "line_index", value: func(l launch) any { return l.LineIndex }},
		{head: "launch " + u.short() + " before", text: func(l launch) string { return optional(l.LaunchBeforeM, u.height) }, name: "launch_before_m", value: func(l launch) any { return l.LaunchBeforeM }},
		{head: "from", spare: 2, text: func(l launch) string { return optional(l.EarliestBeforeM, u.height) }, name: "earliest_before_m", value: func(l launch) any { return l.EarliestBeforeM }},
		{head: "to", spare: 2, text: func(l launch) string { return optional(l.LatestBeforeM, u.height) }, name: "latest_before_m", value: func(l launch) any { return l.LatestBeforeM }},
		{head: "s before", text: func(l launch) string { return optional(l.LaunchBeforeS, to(1)) }, name: "launch_before_s", value: func(l launch) any { return l.LaunchBeforeS }},
		{head: "at " + u.speed(), spare: 3, text: func(l launch) string { return optional(l.LaunchSpeedMps, u.pace) }, name: "launch_speed_mps", value: func(l launch) any { return l.LaunchSpeedMps }},
		{head: "W", spare: 1, text: func(l launch) string { return optional(l.MeanPowerW, to(0)) }, name: "mean_power_w", value: func(l launch) any { return l.MeanPowerW }},
		{name: "line_speed_mps", value: func(l launch) any { return l.LineSpeedMps }},
		{head: "ahead s", spare: 4, text: func(l launch) string { return optional(l.AheadS, to(2)) }, name: "ahead_s", value: func(l launch) any { return l.AheadS }},
		{name: "problem", value: func(l launch) any { return problemOr(l.Problem) }},
	}}
}

// linesOf names the line of a launch.
func linesOf(l contract.Launch) string {
	if len(l.Passes) == 0 {
		return absent
	}
	return l.Passes[0].Place.Name
}

// aidCommand tells where an aid gains most.
type aidCommand struct {
	rideFlags   `embed:""`
	effortFlags `embed:""`

	Aid []string `group:"riders" sep:"none" placeholder:"drag=FACTOR,duration=S" help:"An aid, repeatable: comma-separated key=value of name, duration (s), drag (factor), mass_change (kg), wake (factor), and available_from, marks' ids apart by +, whose passes earn it."`
	At  string   `group:"riders" placeholder:"PLACE" help:"The line that counts: mark, climb (ids), pass, at_m, or finish. Left out, the finish."`
}

// Run asks and prints.
func (c *aidCommand) Run(s *session) error {
	request := &contract.AidsRequest{}
	if err := c.load(s, request); err != nil {
		return err
	}
	aids, err := readShorts[contract.Aid](s, aidForm, "aid", "/aids", c.Aid)
	if err != nil {
		return err
	}
	if len(aids) > 0 {
		request.Aids = aids
	}
	if len(request.Aids) == 0 {
		return wrongUsage("name aids, like --aid name=tuck,drag=0.8,duration=20")
	}
	if c.At != "" {
		places, err := readShorts[contract.Ambition](s, shortform.Form{Thing: "place", Example: "mark=mark-1,pass=2"}, "at", "/at", []string{c.At})
		if err != nil {
			return err
		}
		request.At = &places[0].At
	}
	bests, err := c.set(s, ridden{&request.Course, &request.Riders, &request.Setups, &request.Conditions, &request.StartM, &request.EndM})
	if err != nil {
		return err
	}
	if err := c.effortFlags.into(s, &request.Effort, request.Riders, bests); err != nil {
		return err
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	if request.Course, err = c.reference(s, request.Course); err != nil {
		return err
	}
	answer, err := service.PlaceAids(s.ctx, request)
	if err != nil {
		return err
	}
	return s.show(aidTable(s.units, gainsOf(answer)).spreadsheet, func() { c.people(s, answer) })
}

func (c *aidCommand) people(s *session, answer *contract.Aids) {
	s.say(answer.Recommendation)
	s.gap()
	aidTable(s.units, gainsOf(answer)).people(s.std.out, s.screen)
	s.gap()
	c.assumed(s, answer.Assumptions, answer.Model...)
	s.listed("Cautions", answer.Cautions)
}

// gain is an aid's use by a rider.
type gainOf struct {
	ride contract.AidedRide
	contract.AidGain
}

func gainsOf(answer *contract.Aids) (all []gainOf) {
	for _, ride := range answer.Rides {
		if ride.Aids == nil {
			all = append(all, gainOf{ride, contract.AidGain{Problem: ride.Problem}})
			continue
		}
		for _, g := range *ride.Aids {
			all = append(all, gainOf{ride, g})
		}
	}
	return all
}

// best is a number of an aid's best use.
func (g gainOf) best(value func(contract.AidUse) float64) *float64 {
	if g.Best == nil {
		return nil
	}
	v := value(*g.Best)
	return &v
}

func aidTable(u units, gains []gainOf) table[gainOf] {
	at := func(b contract.AidUse) float64 { return b.AtM }
	until := func(b contract.AidUse) float64 { return b.EndsM }
	saves := func(b contract.AidUse) float64 { return b.GainS }
	return table[gainOf]{rows: gains, columns: []column[gainOf]{
		{head: "rider", left: true, text: func(g gainOf) string { return named(g.ride.Rider, g.ride.RiderIndex, "rider") }, name: "rider", value: func(g gainOf) any { return g.ride.Rider }},
		{head: "set-up", left: true, text: varied(gains, func(g gainOf) string { return g.ride.Setup }), name: "setup", value: func(g gainOf) any { return g.ride.Setup }},
		{head: "aid", left: true, text: func(g gainOf) string { return g.Aid }, name: "aid", value: func(g gainOf) any { return g.Aid }},
		{head: "use at " + u.long(), text: func(g gainOf) string { return optional(g.best(at), u.position) }, name: "at_m", value: func(g gainOf) any { return g.best(at) }},
		{head: "until", spare: 1, text: func(g gainOf) string { return optional(g.best(until), u.position) }, name: "ends_m", value: func(g gainOf) any { return g.best(until) }},
		{head: "saves s", text: func(g gainOf) string { return optional(g.best(saves), to(1)) }, name: "gain_s", value: func(g gainOf) any { return g.best(saves) }},
		{head: "where", left: true, wraps: true, text: func(g gainOf) string {
			if g.Best == nil {
				return strings.TrimSpace(problemOr(g.Problem))
			}
			return g.Best.Where
		}, name: "where", value: func(g gainOf) any {
			if g.Best == nil {
				return nil
			}
			return g.Best.Where
		}},
		{name: "problem", value: func(g gainOf) any { return problemOr(g.Problem) }},
	}}
}
