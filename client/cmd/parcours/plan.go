package main

import (
	"fmt"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// planCommand tells where to spend power.
type planCommand struct {
	rideFlags    `embed:""`
	effortFlags  `embed:""`
	pictureFlags `embed:""`

	MinPowerW   *float64 `group:"riders" placeholder:"W" help:"The least power of the plan."`
	MaxPowerW   *float64 `group:"riders" placeholder:"W" help:"The most power of the plan."`
	EndReserveJ *float64 `group:"riders" placeholder:"J" help:"What is left of W′ at the finish."`
}

// Help tells what the flags of efforts are for here; kong prints it.
func (c *planCommand) Help() string {
	return "A plan is the fastest ride that a rider's critical power and W′ allow, so each rider needs cp and wprime. " +
		"A way to ride that is given beside it is what the plan is held against."
}

// Run asks and prints.
func (c *planCommand) Run(s *session) error {
	if err := c.pictureFlags.check(); err != nil {
		return err
	}
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
	if c.Picture != "" {
		if err := c.draw(s, func(look client.Look) ([]byte, error) { return service.PlanPicture(s.ctx, request, look) }); err != nil {
			return err
		}
	}
	answer, err := service.Plan(s.ctx, request)
	if err != nil {
		return err
	}
	err = s.show(stepTable(s.units, "", stepsOf(answer.Plans)).spreadsheet, func() { c.people(s, answer) })
	for _, p := range answer.Plans {
		if err == nil && p.Problem != nil {
			err = errTold
		}
	}
	return err
}

// ask makes the request.
func (c *planCommand) ask(s *session) (*contract.PlanRequest, error) {
	request := &contract.PlanRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	if _, err := c.set(s, ridden{&request.Course, &request.Riders, &request.Setups, &request.Conditions, &request.StartM, &request.EndM}); err != nil {
		return nil, err
	}
	effort, err := c.effort(s, false)
	if err != nil {
		return nil, err
	}
	put(&request.GivenEffort, effort)
	s.files.put("the effort", "/given_effort")
	put(&request.EndReserveJ, c.EndReserveJ)
	s.files.put("--end-reserve-j", "/end_reserve_j")
	if c.MinPowerW != nil || c.MaxPowerW != nil {
		if request.Bounds == nil {
			request.Bounds = &contract.PlanBounds{}
		}
		put(&request.Bounds.MinPowerW, c.MinPowerW)
		put(&request.Bounds.MaxPowerW, c.MaxPowerW)
		s.files.put("--min-power-w", "/bounds/min_power_w")
		s.files.put("--max-power-w", "/bounds/max_power_w")
	}
	return request, nil
}

func (c *planCommand) people(s *session, answer *contract.Plans) {
	planTable(s.units, answer.Plans).people(s.std.out, s.screen)
	for _, p := range answer.Plans {
		s.rideNotes(p.Prediction)
		if p.Steps != nil {
			s.gap()
			stepTable(s.units, "Steps of "+rideName(p.Prediction), stepsOf([]contract.Plan{p})).people(s.std.out, s.screen)
		}
	}
	s.gap()
	c.assumed(s, answer.Assumptions)
	s.listed("Cautions", answer.Cautions)
}

// planTable is the table of plans.
func planTable(u units, plans []contract.Plan) table[contract.Plan] {
	type plan = contract.Plan
	return table[plan]{title: "Plans", rows: plans, columns: []column[plan]{
		{head: "rider", left: true, text: func(p plan) string { return named(p.Rider, p.RiderIndex, "rider") }},
		{head: "set-up", left: true, text: varied(plans, func(p plan) string { return p.Setup })},
		{head: "time", text: func(p plan) string { return optional(p.TimeS, clock) }},
		{head: u.speed(), spare: 1, text: func(p plan) string { return optional(p.MeanSpeedMps, u.pace) }},
		{head: "W", spare: 2, text: func(p plan) string { return optional(p.MeanPowerW, to(0)) }},
		{head: "steady W", text: func(p plan) string { return optional(p.ConstantPowerW, to(0)) }},
		{head: "steady time", text: func(p plan) string { return optional(p.ConstantPowerTimeS, clock) }},
		{head: "saves", text: func(p plan) string { return optional(p.GainS, func(v float64) string { return gap(v) }) }},
		{head: "W′ end kJ", spare: 3, text: func(p plan) string { return optional(p.WBalanceEndJ, kilojoules) }},
	}}
}

// planStep is a step with its plan.
type planStep struct {
	plan contract.Plan
	contract.Step
}

func stepsOf(plans []contract.Plan) (all []planStep) {
	for _, p := range plans {
		if p.Steps == nil {
			continue
		}
		for _, step := range *p.Steps {
			all = append(all, planStep{p, step})
		}
	}
	return all
}

// stepTable is the table of steps.
func stepTable(u units, title string, steps []planStep) table[planStep] {
	return table[planStep]{title: title, rows: steps, columns: []column[planStep]{
		{name: "rider", value: func(p planStep) any { return p.plan.Rider }},
		{name: "setup", value: func(p planStep) any { return p.plan.Setup }},
		{head: "from " + u.long(), text: func(p planStep) string { return optional(p.StartM, u.position) }, name: "start_m", value: func(p planStep) any { return p.StartM }},
		{head: "to " + u.long(), text: func(p planStep) string { return u.position(p.EndM) }, name: "end_m", value: func(p planStep) any { return p.EndM }},
		{head: "W", text: func(p planStep) string { return rounded(p.PowerW, 0) }, name: "power_w", value: func(p planStep) any { return p.PowerW }},
		{head: "takes", spare: 1, text: func(p planStep) string { return optional(p.TimeS, clock) }, name: "time_s", value: func(p planStep) any { return p.TimeS }},
		{head: "where and why", left: true, wraps: true, text: func(p planStep) string { return joined(text(p.Of), text(p.Reason)) }, name: "of", value: func(p planStep) any { return p.Of }},
		{name: "reason", value: func(p planStep) any { return p.Reason }},
	}}
}

// joined are the texts that there are, apart by colons.
func joined(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return fmt.Sprintf("%s: %s", a, b)
}
