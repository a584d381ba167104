package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/client/roster"
	"parcours.example/internal/shortform"
)

// riderFlags name the riders.
type riderFlags struct {
	Rider  []string `group:"riders" sep:"none" placeholder:"mass=KG,power=W" help:"A rider, repeatable: comma-separated key=value of mass (kg), power (W), name, height (m), cda (m²), cp (critical power, W), wprime (W′, J), and effort=best in the place of a power: the plan that takes the least time, by cp and wprime."`
	Riders string   `group:"riders" placeholder:"FILE" type:"path" help:"A table of riders (CSV): mass_kg, and any of name, power_w, critical_power_w, w_prime_j, max_power_w, height_m, cda_m2, recovery_rate, gross_efficiency."`
}

// list returns the riders, and whether all of them ride the plan that takes the least time.
func (f riderFlags) list(s *session) (riders []contract.Rider, best bool, err error) {
	var faults []error
	bests := 0
	for i, short := range f.Rider {
		r, err := roster.ParseRider(short)
		if err != nil {
			faults = append(faults, fmt.Errorf("--rider %q: %w", shortform.Clip(short), err))
			continue
		}
		if r.Best {
			bests++
		}
		s.files.put(fmt.Sprintf("--rider %d", i+1), "/riders/%d", len(riders))
		riders = append(riders, r.Rider)
	}
	if f.Riders != "" {
		more, err := f.table(s)
		if err != nil {
			faults = append(faults, err)
		}
		for i, r := range more {
			s.files.put(fmt.Sprintf("%s: rider %d", f.Riders, i+1), "/riders/%d", len(riders))
			riders = append(riders, r)
		}
	}
	if bests > 0 && bests < len(riders) {
		faults = append(faults, errors.New("--rider: either all ride with effort=best or none does; ask for the others apart"))
	}
	if len(faults) > 0 {
		return nil, false, usageError{errors.Join(faults...)}
	}
	return riders, bests > 0, nil
}

// table reads the table of riders.
func (f riderFlags) table(s *session) ([]contract.Rider, error) {
	content, closed, err := s.open(f.Riders)
	if err != nil {
		return nil, fmt.Errorf("--riders: %w", err)
	}
	defer closed()
	riders, err := roster.Read(content)
	if err == nil {
		return riders, nil
	}
	var lines []error
	for _, line := range strings.Split(err.Error(), "\n") {
		lines = append(lines, fmt.Errorf("%s: %s", f.Riders, line)) //nolint:errorlint // one line of several
	}
	return nil, errors.Join(lines...)
}

// setupFlags name the set-ups.
type setupFlags struct {
	Setup []string `group:"riders" sep:"none" placeholder:"name=NAME,mass=KG" help:"A set-up, repeatable: comma-separated key=value of name, mass (kg), cda (m², in the place of the rider's), cda_change (m², beside the rider's), crr, and the other fields of the contract's Setup. Left out, an all-round one."`
}

var setupForm = shortform.Form{Thing: "set-up", Example: "name=light,mass=6.8"}

// shortKeys are the short names of fields of the contract.
var shortKeys = map[string]string{
	"mass": "mass_kg", "cda": "cda_m2", "cda_change": "cda_change_m2", "efficiency": "drivetrain_efficiency",
	"duration": "duration_s", "drag": "drag_factor", "wake": "wake_factor", "mass_change": "mass_change_kg", "standing": "standing_s",
}

// list returns the set-ups.
func (f setupFlags) list(s *session) ([]contract.Setup, error) {
	return readShorts[contract.Setup](s, setupForm, "setup", "/setups", f.Setup)
}

// readShorts reads the short forms of a flag, whose things stand at a pointer in the request.
func readShorts[T any](s *session, form shortform.Form, flag, pointer string, shorts []string) (things []T, err error) {
	var faults []error
	for i, short := range shorts {
		var thing T
		if err := readShort(form, short, &thing); err != nil {
			faults = append(faults, fmt.Errorf("--%s %q: %w", flag, shortform.Clip(short), err))
		}
		s.files.put(fmt.Sprintf("--%s %d", flag, i+1), "%s/%d", pointer, i)
		things = append(things, thing)
	}
	if len(faults) > 0 {
		return nil, usageError{errors.Join(faults...)}
	}
	return things, nil
}

// placeKeys are the keys of a place along a course, which stand in the field "at".
var placeKeys = map[string]string{
	"mark": "mark_id", "climb": "climb_id", "pass": "pass", "at_m": "at_m", "start_m": "start_m", "end_m": "end_m", "finish": "finish",
}

// readShort reads a short form into a thing of the contract: keys are its fields, short names
// of them, or those of a place where it has one; "finish" alone is that place.
func readShort(form shortform.Form, short string, thing any) error {
	fields, place := map[string]any{}, map[string]any{}
	parts := strings.Split(short, ",")
	for i, part := range parts {
		if strings.TrimSpace(part) == "finish" {
			parts[i] = "finish=true"
		}
	}
	err := form.Each(strings.Join(parts, ","), func(key, value string) error {
		into := fields
		if long, ok := placeKeys[key]; ok && form.Thing != setupForm.Thing {
			into, key = place, long
		} else if long, ok := shortKeys[key]; ok {
			key = long
		}
		if _, twice := into[key]; twice {
			return form.Fault("%s is given twice", key)
		}
		into[key] = valueOf(key, value)
		return nil
	})
	if err != nil {
		return err
	}
	if len(place) > 0 {
		fields["at"] = place
	}
	return fill(form, fields, thing)
}

// texts are the fields that hold words also where they look like numbers.
var texts = map[string]bool{"name": true, "from": true, "to": true, "setup": true, "team": true, "mark_id": true, "climb_id": true}

// valueOf is a value as JSON has it: a number, a truth, or a text.
func valueOf(key, value string) any {
	if key == "available_from" {
		return strings.Split(value, "+")
	}
	if !texts[key] && json.Valid([]byte(value)) {
		return json.RawMessage(value)
	}
	return value
}

// fill sets a thing's fields.
func fill(form shortform.Form, fields map[string]any, thing any) error {
	content, err := json.Marshal(fields)
	if err != nil {
		return err
	}
	reader := json.NewDecoder(strings.NewReader(string(content)))
	reader.DisallowUnknownFields()
	err = reader.Decode(thing)
	if err == nil || errors.Is(err, io.EOF) {
		return nil
	}
	if of, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return form.Fault("%s is not a %s", of.Field, wordFor(of.Type.Kind().String()))
	}
	if unknown, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return form.Fault("%s is not known", unknown)
	}
	return form.Fault("%v", err)
}

// wordFor is a kind of Go's values in words.
func wordFor(kind string) string {
	switch kind {
	case "float64":
		return "number"
	case "int":
		return "whole number"
	case "bool":
		return "truth (true or false)"
	}
	return "text"
}

// conditionFlags say in what conditions.
type conditionFlags struct {
	WindMps        *float64 `group:"conditions" placeholder:"M/S" help:"Wind at 10 m above the ground."`
	WindFromDeg    *float64 `group:"conditions" placeholder:"DEG" help:"Where the wind comes from, true."`
	HeadwindMps    *float64 `group:"conditions" placeholder:"M/S" help:"Wind straight against the riders, at their height, for courses without positions."`
	TemperatureC   *float64 `group:"conditions" placeholder:"°C" help:"At the start's elevation."`
	PressureHpa    *float64 `group:"conditions" placeholder:"HPA" help:"At the start's elevation."`
	HumidityPct    *float64 `group:"conditions" placeholder:"PCT" help:"Of the air."`
	AirDensityKgM3 *float64 `group:"conditions" name:"air-density-kg-m3" placeholder:"KG/M³" help:"Of the air, everywhere."`
	Indoor         bool     `group:"conditions" help:"In a hall: no wind, bends, braking or freewheeling."`
	Shelter        *float64 `group:"conditions" placeholder:"0…1" help:"Drag in the bunch over drag alone."`
	LoadKg         *float64 `group:"conditions" placeholder:"KG" help:"Bottles, clothes."`
	StartSpeedMps  *float64 `group:"conditions" placeholder:"M/S" help:"A flying start."`
	CoastAboveMps  *float64 `group:"conditions" placeholder:"M/S" help:"Riders freewheel downhill above this speed."`
}

// set puts what was given into a request's conditions.
func (f conditionFlags) set(into **contract.Conditions) {
	if f == (conditionFlags{}) {
		return
	}
	if *into == nil {
		*into = &contract.Conditions{}
	}
	c := *into
	put(&c.WindMps, f.WindMps)
	put(&c.WindFromDeg, f.WindFromDeg)
	put(&c.HeadwindMps, f.HeadwindMps)
	put(&c.TemperatureC, f.TemperatureC)
	put(&c.PressureHpa, f.PressureHpa)
	put(&c.HumidityPct, f.HumidityPct)
	put(&c.AirDensityKgM3, f.AirDensityKgM3)
	put(&c.Indoor, given(f.Indoor))
	put(&c.Shelter, f.Shelter)
	put(&c.LoadKg, f.LoadKg)
	put(&c.StartSpeedMps, f.StartSpeedMps)
	put(&c.CoastAboveMps, f.CoastAboveMps)
}

// put sets a field to what was given, if anything was.
func put[T any](into **T, given *T) {
	if given != nil {
		*into = given
	}
}
