package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"parcours.example/api/contract"
)

// fitCommand tells what a rider can do.
type fitCommand struct {
	File   string   `arg:"" optional:"" help:"A table of efforts (CSV) with the columns duration_s and power_w, - for standard input."`
	Effort []string `placeholder:"M:SS=W" help:"A hard effort, repeatable: how long and at how many watts, like 5:00=330."`

	requestFlags `embed:""`
}

// Run asks and prints.
func (c *fitCommand) Run(s *session) error {
	request := &contract.CapabilityRequest{}
	if err := c.load(s, request); err != nil {
		return err
	}
	efforts, err := c.efforts(s)
	if err != nil {
		return usageError{err}
	}
	if len(efforts) > 0 {
		request.Efforts = efforts
	}
	if len(request.Efforts) == 0 {
		return wrongUsage("name efforts, with --effort 5:00=330 or in a table of duration_s and power_w")
	}
	service, err := s.ask()
	if err != nil {
		return err
	}
	answer, err := service.FitRider(s.ctx, request)
	if err != nil {
		return err
	}
	return s.show(fitTable(answer.Fits).spreadsheet, func() { c.people(s, answer) })
}

// efforts are those of the table and of the flags.
func (c *fitCommand) efforts(s *session) (efforts []contract.MaximalEffort, err error) {
	if c.File != "" {
		content, closed, err := s.open(c.File)
		if err != nil {
			return nil, err
		}
		defer closed()
		lines, err := readNumbers(content, "duration_s", "power_w")
		if err != nil {
			return nil, fmt.Errorf("%s: %w", calledIn(c.File), err)
		}
		for i, line := range lines {
			s.files.put(fmt.Sprintf("%s: effort %d", calledIn(c.File), i+1), "/efforts/%d", i)
			efforts = append(efforts, contract.MaximalEffort{DurationS: line[0], PowerW: line[1]})
		}
	}
	for _, short := range c.Effort {
		effort, err := parseEffort(short)
		if err != nil {
			return nil, fmt.Errorf("--effort: %w", err)
		}
		s.files.put("--effort "+short, "/efforts/%d", len(efforts))
		efforts = append(efforts, effort)
	}
	return efforts, nil
}

// parseEffort reads "5:00=330".
func parseEffort(short string) (contract.MaximalEffort, error) {
	long, power, ok := strings.Cut(short, "=")
	if !ok {
		return contract.MaximalEffort{}, errors.New("an effort is written like 5:00=330: how long, and how many watts")
	}
	duration, err := parseClock(strings.TrimSuffix(strings.TrimSpace(long), "s"))
	if err != nil {
		return contract.MaximalEffort{}, err
	}
	watts, err := strconv.ParseFloat(strings.TrimRight(strings.TrimSpace(power), " W"), 64)
	if err != nil {
		return contract.MaximalEffort{}, fmt.Errorf("%q is not a number of watts", power)
	}
	return contract.MaximalEffort{DurationS: duration, PowerW: watts}, nil
}

func (c *fitCommand) people(s *session, a *contract.Capability) {
	words := fmt.Sprintf("Critical power %s W, W′ %s kJ", rounded(a.Rider.CriticalPowerW, 0), kilojoules(a.Rider.WPrimeJ))
	if a.Rider.MaxPowerW != nil {
		words += fmt.Sprintf(", most power %s W", rounded(*a.Rider.MaxPowerW, 0))
	}
	s.heading(words)
	s.say(a.Reason)
	s.say(fmt.Sprintf("For --rider: cp=%s,wprime=%s", number(a.Rider.CriticalPowerW, 1), number(a.Rider.WPrimeJ, 0)))
	s.gap()
	fitTable(a.Fits).people(s.std.out, s.screen)
	if curve := bestCurve(a); len(curve) > 0 {
		s.gap()
		curveTable(curve).people(s.std.out, s.screen)
	}
	var odd []string
	for _, w := range a.Warnings {
		odd = append(odd, w.Detail)
	}
	for _, f := range a.AbsentFits {
		odd = append(odd, f.Detail)
	}
	s.listed("To know", slices.Compact(odd)) // two fits may be left out for one reason
	s.listed("Cautions", a.Cautions)
}

// bestCurve is the curve of the fit that was chosen.
func bestCurve(a *contract.Capability) []contract.CurvePoint {
	for _, f := range a.Fits {
		if f.Kind == a.BestFit {
			return f.Curve
		}
	}
	return nil
}

func fitTable(fits []contract.CapabilityFit) table[contract.CapabilityFit] {
	type fit = contract.CapabilityFit
	return table[fit]{title: "Fits", rows: fits, columns: []column[fit]{
		{head: "fit", left: true, text: func(f fit) string { return strings.ReplaceAll(string(f.Kind), "_", " ") }, name: "kind", value: func(f fit) any { return f.Kind }},
		{head: "CP W", text: func(f fit) string { return rounded(f.CriticalPowerW, 1) }, name: "critical_power_w", value: func(f fit) any { return f.CriticalPowerW }},
		{head: "± W", text: func(f fit) string { return optional(f.CriticalPowerErrorW, to(1)) }, name: "critical_power_error_w", value: func(f fit) any { return f.CriticalPowerErrorW }},
		{head: "W′ kJ", text: func(f fit) string { return kilojoules(f.WPrimeJ) }, name: "w_prime_j", value: func(f fit) any { return f.WPrimeJ }},
		{head: "± kJ", text: func(f fit) string { return optional(f.WPrimeErrorJ, kilojoules) }, name: "w_prime_error_j", value: func(f fit) any { return f.WPrimeErrorJ }},
		{head: "max W", text: func(f fit) string { return optional(f.MaxPowerW, to(0)) }, name: "max_power_w", value: func(f fit) any { return f.MaxPowerW }},
		{name: "max_power_error_w", value: func(f fit) any { return f.MaxPowerErrorW }},
		{head: "R²", text: func(f fit) string { return optional(f.RSquared, to(3)) }, name: "r_squared", value: func(f fit) any { return f.RSquared }},
	}}
}

func curveTable(curve []contract.CurvePoint) table[contract.CurvePoint] {
	type point = contract.CurvePoint
	return table[point]{title: "What that comes to", rows: curve, columns: []column[point]{
		{head: "for", text: func(p point) string { return clock(p.DurationS) }},
		{head: "W", text: func(p point) string { return rounded(p.PowerW, 0) }},
		{head: "from W", text: func(p point) string { return optional(p.PowerLowW, to(0)) }},
		{head: "to W", text: func(p point) string { return optional(p.PowerHighW, to(0)) }},
		{head: "sure?", left: true, text: func(p point) string {
			if p.Extrapolated {
				return "beyond the efforts"
			}
			return ""
		}},
	}}
}
