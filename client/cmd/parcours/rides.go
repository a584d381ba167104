package main

import (
	"fmt"
	"strings"

	"parcours.example/api/contract"
)

// rideFlags say who rides, on what and in what conditions.
type rideFlags struct {
	courseFlags    `embed:""`
	riderFlags     `embed:""`
	setupFlags     `embed:""`
	conditionFlags `embed:""`
	stretchFlags   `embed:""`
	requestFlags   `embed:""`

	Assumptions bool `group:"look" help:"List what was assumed, with its source."`
}

// ridden are the fields that requests about rides share.
type ridden struct {
	course       *contract.CourseReference
	riders       *[]contract.Rider
	setups       **[]contract.Setup
	conditions   **contract.Conditions
	startM, endM **float64
}

// set reads the course's file and puts what the flags say into a request. It returns whether
// all riders ask for the best effort by themselves.
func (f rideFlags) set(s *session, into ridden) (bests bool, err error) {
	riders, bests, err := f.riderFlags.list(s)
	if err != nil {
		return false, err
	}
	setups, err := f.setupFlags.list(s)
	if err != nil {
		return false, err
	}
	if len(riders) > 0 {
		*into.riders = riders
	}
	put(into.setups, listOf(setups))
	f.conditionFlags.set(into.conditions)
	put(into.startM, f.FromM)
	put(into.endM, f.ToM)
	s.placeFlags()
	if len(*into.riders) == 0 {
		return false, wrongUsage("name riders, with --rider mass=72,power=250 or in a table with --riders")
	}
	return bests, nil
}

// placeFlags says which flags hold the fields of conditions and of the stretch.
func (s *session) placeFlags() {
	for _, field := range []string{
		"wind_mps", "wind_from_deg", "headwind_mps", "temperature_c", "pressure_hpa", "humidity_pct", "air_density_kg_m3", "indoor", "shelter",
		"load_kg", "start_speed_mps", "coast_above_mps",
	} {
		s.files.put("--"+strings.ReplaceAll(field, "_", "-"), "/conditions/%s", field)
	}
	s.files.put("--from-m", "/start_m")
	s.files.put("--to-m", "/end_m")
}

// assumed tells of what was assumed and of what the model supposes, in one line or, where it is
// asked for, all of it.
func (f rideFlags) assumed(s *session, all []contract.Assumption, model ...string) {
	if !f.Assumptions {
		words := fmt.Sprintf("%d values were assumed", len(all))
		if len(model) > 0 {
			words += fmt.Sprintf(", and the model supposes %d things", len(model))
		}
		s.say(words + "; --assumptions lists them.")
		return
	}
	table[contract.Assumption]{title: "Assumed", rows: all, columns: []column[contract.Assumption]{
		{head: "what", left: true, text: func(a contract.Assumption) string { return strings.TrimPrefix(a.Pointer, "#/") }},
		{head: "value", text: func(a contract.Assumption) string { return number(a.Value, 6) }},
		{head: "unit", left: true, text: func(a contract.Assumption) string { return text(a.Unit) }},
		{head: "source", left: true, wraps: true, text: func(a contract.Assumption) string { return a.Source }},
	}}.people(s.std.out, s.screen)
	s.listed("The model supposes", model)
}

// named is a name of a rider or a set-up; the place in the list where it has none.
func named(name string, index int, kind string) string {
	if name != "" {
		return name
	}
	return fmt.Sprintf("%s %d", kind, index+1)
}
