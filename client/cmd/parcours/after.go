package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client"
)

// afterCommand tells what became of predictions.
type afterCommand struct {
	courseFlags    `embed:""`
	riderFlags     `embed:""`
	setupFlags     `embed:""`
	conditionFlags `embed:""`
	effortFlags    `embed:""`
	pictureFlags   `embed:""`
	requestFlags   `embed:""`

	Recording   []string `arg:"" optional:"" name:"recording" help:"Recordings of rides on the course (FIT, TCX, GPX with times), one for each rider, or all of one."`
	Trim        float64  `group:"riders" placeholder:"M" help:"Leave out so many metres at either end of each recording, like where somebody lives."`
	Plans       bool     `group:"riders" help:"Tell as well what the plan that takes the least time would have brought."`
	Assumptions bool     `group:"look" help:"List what was assumed, with its source."`
}

// Help tells whose recording is whose; kong prints it.
func (c *afterCommand) Help() string {
	return "A recording is the rider's whose name is in its file's name; where that doesn't tell of all, riders and recordings go together in their order. " +
		"Without a way to ride, riders with a power are held against a ride at that power, others against one at the mean power that they rode at. " +
		"Recordings are kept nowhere."
}

// Run asks and prints.
func (c *afterCommand) Run(s *session) error {
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
	if c.Course != "" {
		course, err := c.reference(s, contract.CourseReference{})
		if err != nil {
			return err
		}
		request.Course = &course
	}
	if c.Picture != "" {
		if err := c.draw(s, func(look client.Look) ([]byte, error) { return service.CalibrationPicture(s.ctx, request, look) }); err != nil {
			return err
		}
	}
	answer, err := service.Calibrate(s.ctx, request)
	if err != nil {
		return err
	}
	err = s.show(examinedTable(answer.Rides).spreadsheet, func() { c.people(s, answer) })
	for _, x := range answer.Rides {
		if err == nil && x.Problem != nil {
			err = errTold
		}
	}
	return err
}

// ask makes the request.
func (c *afterCommand) ask(s *session) (*contract.CalibrationRequest, error) {
	request := &contract.CalibrationRequest{}
	if err := c.load(s, request); err != nil {
		return nil, err
	}
	riders, _, err := c.riderFlags.list(s)
	if err != nil {
		return nil, err
	}
	setups, err := c.setupFlags.list(s)
	if err != nil {
		return nil, err
	}
	if len(setups) > 1 {
		return nil, wrongUsage("name one --setup; ask for riders on others apart, or in a --request")
	}
	if len(setups) == 1 {
		request.Setup = &setups[0]
		s.files.put("--setup", "/setup")
	}
	if len(c.Recording) > 0 {
		if request.Rides, err = c.rides(s, riders); err != nil {
			return nil, err
		}
	}
	if len(request.Rides) == 0 {
		return nil, wrongUsage("name recordings behind the course, and their riders with --rider mass=72,power=250 or in a table with --riders")
	}
	effort, err := c.effort(s, false)
	if err != nil {
		return nil, err
	}
	put(&request.Effort, effort)
	if request.Effort == nil && allPowered(request.Rides) {
		request.Effort = &contract.Effort{Kind: contract.OwnPower}
	}
	c.conditionFlags.set(&request.Conditions)
	s.placeFlags()
	put(&request.Plans, given(c.Plans))
	return request, nil
}

// allPowered reports whether all who ride have a power of their own.
func allPowered(rides []contract.RecordedRide) bool {
	for _, r := range rides {
		if r.Rider.PowerW == nil {
			return false
		}
	}
	return true
}

// rides reads the recordings, each with its rider.
func (c *afterCommand) rides(s *session, riders []contract.Rider) ([]contract.RecordedRide, error) {
	of, err := ridersOf(c.Recording, riders)
	if err != nil {
		return nil, err
	}
	rides := make([]contract.RecordedRide, len(c.Recording))
	for i, name := range c.Recording {
		content, closed, err := s.open(name)
		if err != nil {
			return nil, err
		}
		file, err := client.Recording(client.File{Content: content})
		closed()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", calledIn(name), err)
		}
		rides[i] = contract.RecordedRide{RideID: given(stem(name)), Rider: of[i], File: file, TrimStartM: given(c.Trim), TrimEndM: given(c.Trim)}
		s.files.put(calledIn(name), "/rides/%d", i)
	}
	return rides, nil
}

// stem is a file's name without its folder and without what tells its format.
func stem(name string) string {
	base := filepath.Base(name)
	return strings.TrimSuffix(strings.TrimSuffix(base, ".gz"), filepath.Ext(strings.TrimSuffix(base, ".gz")))
}

// ridersOf finds the rider of each recording: by names, or in their order; a rider alone rode
// all.
func ridersOf(recordings []string, riders []contract.Rider) ([]contract.Rider, error) {
	of := make([]contract.Rider, len(recordings))
	named := true
	for i, name := range recordings {
		found := 0
		for _, r := range riders {
			if called := text(r.Name); called != "" && strings.Contains(strings.ToLower(stem(name)), strings.ToLower(called)) {
				of[i] = r
				found++
			}
		}
		named = named && found == 1
	}
	switch {
	case named:
		return of, nil
	case len(riders) == len(recordings):
		return riders, nil
	case len(riders) == 1:
		for i := range of {
			of[i] = riders[0]
		}
		return of, nil
	}
	return nil, wrongUsage("there are %d riders for %d recordings; give as many, in the same order, or recordings that are called like their riders", len(riders), len(recordings))
}

func (c *afterCommand) people(s *session, answer *contract.Calibration) {
	examinedTable(answer.Rides).people(s.std.out, s.screen)
	for _, x := range answer.Rides {
		switch {
		case x.Problem != nil:
			s.say(fmt.Sprintf("%s: %s", x.RideID, problemText(x.Problem)))
			continue
		case x.Summary != nil:
			s.gap()
			s.say(fmt.Sprintf("%s: %s", x.Rider, *x.Summary))
		}
		if x.Splits != nil && len(*x.Splits) > 0 {
			s.gap()
			riddenTable(s.units, "Where, of "+x.RideID, *x.Splits).people(s.std.out, s.screen)
		}
	}
	if len(answer.Learnt) > 0 {
		s.gap()
		learntTable(answer.Learnt).people(s.std.out, s.screen)
	}
	if r := answer.Round; r != nil {
		s.gap()
		s.say(fmt.Sprintf("The round took %s %% more time than predicted on the mean (spread %s %%); with everybody's power known, %s %% more (spread %s %%).",
			optional(r.Predicted.BiasPct, to(1)), optional(r.Predicted.SpreadPct, to(1)), optional(r.PowerKnown.BiasPct, to(1)), optional(r.PowerKnown.SpreadPct, to(1))))
		for _, d := range r.Doubts {
			s.say(d.Detail)
		}
	}
	s.gap()
	rideFlags{Assumptions: c.Assumptions}.assumed(s, answer.Assumptions, answer.Model...)
	s.listed("Cautions", answer.Cautions)
}

// partOf writes a part of the difference; nothing where the ride couldn't be told of.
func partOf(part func(contract.DifferenceParts) float64) func(contract.ExaminedRide) string {
	return func(x contract.ExaminedRide) string {
		if x.Difference == nil {
			return absent
		}
		return signed(part(*x.Difference), 1)
	}
}

// examinedTable is the table of rides as predicted and as ridden: parts are in seconds.
func examinedTable(rides []contract.ExaminedRide) table[contract.ExaminedRide] {
	type x = contract.ExaminedRide
	type parts = contract.DifferenceParts
	value := func(part func(parts) float64) func(x) any {
		return func(r x) any {
			if r.Difference == nil {
				return nil
			}
			return part(*r.Difference)
		}
	}
	columns := []column[x]{
		{head: "ride", left: true, text: func(r x) string { return r.RideID }, name: "ride_id", value: func(r x) any { return r.RideID }},
		{head: "rider", left: true, text: func(r x) string { return r.Rider }, name: "rider", value: func(r x) any { return r.Rider }},
		{head: "predicted", text: func(r x) string { return optional(r.PredictedS, clock) }, name: "predicted_s", value: func(r x) any { return r.PredictedS }},
		{head: "ridden", text: func(r x) string { return optional(r.RiddenS, clock) }, name: "ridden_s", value: func(r x) any { return r.RiddenS }},
		{head: "W", spare: 1, text: func(r x) string { return optional(r.MeanPowerW, to(0)) }, name: "mean_power_w", value: func(r x) any { return r.MeanPowerW }},
	}
	for _, p := range []struct {
		head, name string
		of         func(parts) float64
	}{
		{"total s", "total_s", func(p parts) float64 { return p.TotalS }},
		{"start s", "start_s", func(p parts) float64 { return p.StartS }},
		{"power s", "power_s", func(p parts) float64 { return p.PowerS }},
		{"pacing s", "pacing_s", func(p parts) float64 { return p.PacingS }},
		{"drag s", "drag_s", func(p parts) float64 { return p.DragS }},
		{"rolling s", "rolling_s", func(p parts) float64 { return p.RollingS }},
		{"shelter s", "shelter_s", func(p parts) float64 { return p.ShelterS }},
		{"stops s", "stops_s", func(p parts) float64 { return p.StopsS }},
		{"rest s", "rest_s", func(p parts) float64 { return p.RestS }},
	} {
		columns = append(columns, column[x]{head: p.head, text: partOf(p.of), name: p.name, value: value(p.of)})
	}
	columns = append(columns, column[x]{name: "problem", value: func(r x) any { return problemOr(r.Problem) }})
	return table[x]{title: "Ridden against predicted", rows: rides, columns: columns}
}

// riddenTable is the table of times over parts, climbs and marks.
func riddenTable(u units, title string, splits []contract.RiddenSplit) table[contract.RiddenSplit] {
	type split = contract.RiddenSplit
	return table[split]{title: title, rows: splits, columns: []column[split]{
		{head: "of", left: true, text: func(x split) string { return joined(string(x.Of), text(x.Name)) }},
		{head: "to " + u.long(), text: func(x split) string { return u.position(x.EndM) }},
		{head: "predicted", text: func(x split) string { return clock(x.PredictedS) }},
		{head: "ridden", text: func(x split) string { return clock(x.RiddenS) }},
		{head: "more s", text: func(x split) string { return signed(x.Difference.TotalS, 1) }},
		{head: "W", spare: 1, text: func(x split) string { return optional(x.PredictedPowerW, to(0)) }},
		{head: "ridden W", spare: 1, text: func(x split) string { return optional(x.RiddenPowerW, to(0)) }},
	}}
}

// learntTable is the table of what rides tell of their riders.
func learntTable(learnt []contract.Learnt) table[contract.Learnt] {
	type row = contract.Learnt
	return table[row]{title: "Learnt", rows: learnt, columns: []column[row]{
		{head: "rider", left: true, text: func(l row) string { return l.Rider }},
		{head: "set-up", left: true, text: varied(learnt, func(l row) string { return l.Setup })},
		{head: "drag area m²", text: func(l row) string { return optional(l.CdaM2, to(3)) }},
		{head: "± m²", text: func(l row) string { return optional(l.CdaSeM2, to(3)) }},
		{head: "rolling", text: func(l row) string { return optional(l.Crr, to(4)) }},
		{head: "± rolling", text: func(l row) string { return optional(l.CrrSe, to(4)) }},
		{head: "to know", left: true, wraps: true, text: learntNotes},
	}}
}

// learntNotes tell what to know of what was learnt.
func learntNotes(l contract.Learnt) string {
	if l.Problem != nil {
		return problemOr(l.Problem)
	}
	var notes []string
	if l.CrrAssumed != nil && *l.CrrAssumed {
		notes = append(notes, "rolling assumed")
	}
	if l.DragDetermined != nil && !*l.DragDetermined {
		notes = append(notes, "drag not told by rides like these")
	}
	return strings.Join(notes, "; ")
}
