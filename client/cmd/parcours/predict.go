package main

import (
	"fmt"
	"io"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// predictCommand tells how long riders take.
type predictCommand struct {
	rideFlags    `embed:""`
	effortFlags  `embed:""`
	pictureFlags `embed:""`

	Splits bool `group:"look" help:"Tell the times over each part, climb and mark as well."`
	Food   bool `group:"look" help:"Tell what to eat and drink as well."`
}

// Run asks and prints.
func (c *predictCommand) Run(s *session) error {
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
		if err := c.draw(s, func(look client.Look) ([]byte, error) { return service.PredictionPicture(s.ctx, request, look) }); err != nil {
			return err
		}
	}
	answer, err := service.Predict(s.ctx, request)
	if err != nil {
		return err
	}
	if err := s.show(func(out io.Writer) error { return c.spreadsheet(out, s, answer) }, func() { c.people(s, answer) }); err != nil {
		return err
	}
	return failedRides(answer.Predictions)
}

// ask makes the request.
func (c *predictCommand) ask(s *session) (*contract.PredictionRequest, error) {
	request := &contract.PredictionRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	bests, err := c.set(s, ridden{&request.Course, &request.Riders, &request.Setups, &request.Conditions, &request.StartM, &request.EndM})
	if err != nil {
		return nil, err
	}
	if err := c.effortFlags.into(s, &request.Effort, request.Riders, bests); err != nil {
		return nil, err
	}
	return request, nil
}

// into puts the effort into a request: the flags', else the request's, else each rider's own.
func (f effortFlags) into(s *session, effort *contract.Effort, riders []contract.Rider, bests bool) error {
	given, err := f.effort(s, bests)
	if given == nil && err == nil && effort.Kind == "" {
		given, err = f.orOwn(s, riders, bests)
	}
	if err == nil && given != nil {
		*effort = *given
	}
	return err
}

// draw asks for a picture and writes it.
func (f pictureFlags) draw(s *session, ask func(client.Look) ([]byte, error)) error {
	form, err := f.form()
	if err != nil {
		return err
	}
	picture, err := ask(client.Look{
		Form: form, Width: given(f.Width), Height: given(f.Height), Theme: given(contract.PictureTheme(f.Theme)), Units: given(contract.Units(s.units.name())),
	})
	if err != nil {
		return err
	}
	return f.write(picture)
}

// failedRides reports whether a ride couldn't be told of.
func failedRides(rides []contract.Prediction) error {
	for _, r := range rides {
		if r.Problem != nil {
			return errTold
		}
	}
	return nil
}

func (c *predictCommand) spreadsheet(out io.Writer, s *session, answer *contract.Predictions) error {
	if c.Splits {
		return splitTable(s.units, "", splitsOf(answer.Predictions)).spreadsheet(out)
	}
	return rideTable(s.units, answer.Predictions).spreadsheet(out)
}

func (c *predictCommand) people(s *session, answer *contract.Predictions) {
	t := rideTable(s.units, answer.Predictions)
	t.title = "Over " + s.units.length(answer.DistanceM) + " " + s.units.long()
	t.people(s.std.out, s.screen)
	for _, p := range answer.Predictions {
		s.rideNotes(p)
		if c.Splits && p.Splits != nil {
			s.gap()
			splitTable(s.units, rideName(p), splitsOf([]contract.Prediction{p})).people(s.std.out, s.screen)
		}
		if c.Food && p.Food != nil {
			s.food(p)
		}
	}
	s.gap()
	c.assumed(s, answer.Assumptions)
	s.listed("Cautions", answer.Cautions)
}

// rideName names a ride by its rider and, where it has a name, its set-up.
func rideName(p contract.Prediction) string {
	name := named(p.Rider, p.RiderIndex, "rider")
	if p.Setup != "" {
		name += ", " + p.Setup
	}
	return name
}

// rideNotes tells of a ride what decides and has no column.
func (s *session) rideNotes(p contract.Prediction) {
	switch {
	case p.Problem != nil:
		s.say(rideName(p) + ": " + problemText(p.Problem))
	case p.Feasible != nil && !*p.Feasible && p.WBalanceMinAtM != nil:
		s.say(fmt.Sprintf("%s: more than the rider has; W′ runs out before %s %s.", rideName(p), s.units.position(*p.WBalanceMinAtM), s.units.long()))
	}
	if p.Band != nil && p.Band.Halt != nil {
		s.say(rideName(p) + ": " + p.Band.Halt.Detail)
	}
}

func (s *session) food(p contract.Prediction) {
	s.gap()
	s.heading("Food and drink: " + rideName(p))
	f := p.Food
	between := func(r contract.GuidanceRange, decimals int, unit string) string {
		if r.Low == r.High {
			return rounded(r.High, decimals) + " " + unit
		}
		return rounded(r.Low, decimals) + " to " + rounded(r.High, decimals) + " " + unit
	}
	s.say(fmt.Sprintf("%s of carbohydrate (%s) and %s to drink (%s); %s kcal are spent.",
		between(f.CarbohydrateG, 0, "g"), between(f.CarbohydrateGPerH, 0, "g/h"), between(f.DrinkL, 1, "l"), between(f.DrinkLPerH, 1, "l/h"), rounded(f.EnergyKcal, 0)))
	s.say(f.Note)
}

// rideTable is the table of rides.
func rideTable(u units, rides []contract.Prediction) table[contract.Prediction] {
	type ride = contract.Prediction
	return table[ride]{rows: rides, columns: []column[ride]{
		{head: "rider", left: true, text: func(p ride) string { return named(p.Rider, p.RiderIndex, "rider") }, name: "rider", value: func(p ride) any { return p.Rider }},
		{head: "set-up", left: true, text: varied(rides, func(p ride) string { return p.Setup }), name: "setup", value: func(p ride) any { return p.Setup }},
		{head: "time", text: func(p ride) string { return optional(p.TimeS, clock) }, name: "time_s", value: func(p ride) any { return p.TimeS }},
		{head: "from", spare: 5, text: func(p ride) string { return optional(p.TimeLowS, clock) }, name: "time_low_s", value: func(p ride) any { return p.TimeLowS }},
		{head: "to", spare: 5, text: func(p ride) string { return optional(p.TimeHighS, clock) }, name: "time_high_s", value: func(p ride) any { return p.TimeHighS }},
		{head: u.speed(), text: func(p ride) string { return optional(p.MeanSpeedMps, u.pace) }, name: "mean_speed_mps", value: func(p ride) any { return p.MeanSpeedMps }},
		{head: "W", text: func(p ride) string { return optional(p.MeanPowerW, to(0)) }, name: "mean_power_w", value: func(p ride) any { return p.MeanPowerW }},
		{head: "W/kg", spare: 3, text: func(p ride) string { return optional(p.WPerKg, to(2)) }, name: "w_per_kg", value: func(p ride) any { return p.WPerKg }},
		{name: "fourth_power_mean_w", value: func(p ride) any { return p.FourthPowerMeanW }},
		{head: "kJ", spare: 1, text: func(p ride) string { return optional(p.WorkJ, func(j float64) string { return rounded(j/1000, 0) }) }, name: "work_j", value: func(p ride) any { return p.WorkJ }},
		{head: "least W′ kJ", spare: 4, text: func(p ride) string { return optional(p.WBalanceMinJ, kilojoules) }, name: "w_balance_min_j", value: func(p ride) any { return p.WBalanceMinJ }},
		{head: "at " + u.long(), spare: 2, text: func(p ride) string { return optional(p.WBalanceMinAtM, u.position) }, name: "w_balance_min_at_m", value: func(p ride) any { return p.WBalanceMinAtM }},
		{name: "w_balance_end_j", value: func(p ride) any { return p.WBalanceEndJ }},
		{name: "feasible", value: func(p ride) any { return p.Feasible }},
		{name: "problem", value: func(p ride) any { return problemOr(p.Problem) }},
	}}
}

// problemOr is a problem as a sentence; "" for none.
func problemOr(p *contract.Problem) string {
	if p == nil {
		return ""
	}
	return problemText(p)
}

// rideSplit is a split with its ride.
type rideSplit struct {
	ride contract.Prediction
	contract.Split
}

func splitsOf(rides []contract.Prediction) (all []rideSplit) {
	for _, p := range rides {
		if p.Splits == nil {
			continue
		}
		for _, split := range *p.Splits {
			all = append(all, rideSplit{p, split})
		}
	}
	return all
}

// placeName is what a stretch is called: its name, else its id, with the lap.
func placeName(of string, kind, name, id *string, lap *int) string {
	called := of
	switch {
	case text(name) != "":
		called = text(name)
	case text(id) != "":
		called = text(id)
	case text(kind) != "":
		called = partWords(text(kind))
	}
	if lap != nil && text(kind) != "lap" {
		return fmt.Sprintf("%s, lap %d", called, *lap)
	}
	if lap != nil {
		return fmt.Sprintf("%s %d", called, *lap)
	}
	return called
}

// splitTable is the table of splits.
func splitTable(u units, title string, splits []rideSplit) table[rideSplit] {
	return table[rideSplit]{title: title, rows: splits, columns: []column[rideSplit]{
		{name: "rider", value: func(r rideSplit) any { return r.ride.Rider }},
		{name: "setup", value: func(r rideSplit) any { return r.ride.Setup }},
		{head: "where", left: true, text: func(r rideSplit) string { return placeName(string(r.Of), r.Kind, r.Name, r.ID, r.Lap) }, name: "of", value: func(r rideSplit) any { return r.Of }},
		{name: "id", value: func(r rideSplit) any { return r.ID }},
		{name: "name", value: func(r rideSplit) any { return r.Name }},
		{name: "lap", value: func(r rideSplit) any { return r.Lap }},
		{name: "pass", value: func(r rideSplit) any { return r.Pass }},
		{head: "from " + u.long(), spare: 2, text: func(r rideSplit) string { return u.position(r.StartM) }, name: "start_m", value: func(r rideSplit) any { return r.StartM }},
		{head: "to " + u.long(), text: func(r rideSplit) string { return u.position(r.EndM) }, name: "end_m", value: func(r rideSplit) any { return r.EndM }},
		{head: "takes", text: func(r rideSplit) string { return clock(r.TimeS) }, name: "time_s", value: func(r rideSplit) any { return r.TimeS }},
		{head: "clock", text: func(r rideSplit) string { return clock(r.ClockS) }, name: "clock_s", value: func(r rideSplit) any { return r.ClockS }},
		{head: u.speed(), text: func(r rideSplit) string { return optional(r.MeanSpeedMps, u.pace) }, name: "mean_speed_mps", value: func(r rideSplit) any { return r.MeanSpeedMps }},
		{head: "W", spare: 3, text: func(r rideSplit) string { return optional(r.MeanPowerW, to(0)) }, name: "mean_power_w", value: func(r rideSplit) any { return r.MeanPowerW }},
		{head: "VAM m/h", spare: 1, text: func(r rideSplit) string { return optional(r.VamMPerH, to(0)) }, name: "vam_m_per_h", value: func(r rideSplit) any { return r.VamMPerH }},
	}}
}
