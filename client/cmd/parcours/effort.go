package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"parcours.example/api/contract"
)

// effortFlags say how riders ride, all in the same way.
type effortFlags struct {
	Power    *float64 `group:"effort" xor:"effort" placeholder:"W" help:"At this power."`
	PerMass  *float64 `group:"effort" xor:"effort" placeholder:"W/KG" help:"At this power per kilogram of body mass."`
	ShareCP  *float64 `group:"effort" xor:"effort" name:"share-cp" placeholder:"SHARE" help:"At this share of their critical power, like 0.95."`
	InTime   string   `group:"effort" xor:"effort" placeholder:"H:MM:SS" help:"At the constant power that takes this long."`
	Best     bool     `group:"effort" xor:"effort" help:"By the plan that takes the least time."`
	StepFile string   `group:"effort" xor:"effort" name:"steps" placeholder:"FILE" type:"path" help:"By the steps of a table (CSV) of end_m and power_w, as plan --csv writes it."`
}

// effort returns the effort; nil where none was given. bests is that all riders ask for the
// best by themselves.
func (f effortFlags) effort(s *session, bests bool) (*contract.Effort, error) {
	s.files.put("the effort", "/effort")
	switch {
	case f.Power != nil:
		s.files.put("--power", "/effort/power_w")
		return &contract.Effort{Kind: contract.Power, PowerW: f.Power}, nil
	case f.PerMass != nil:
		s.files.put("--per-mass", "/effort/w_per_kg")
		return &contract.Effort{Kind: contract.PowerPerMass, WPerKg: f.PerMass}, nil
	case f.ShareCP != nil:
		s.files.put("--share-cp", "/effort/of_critical_power")
		return &contract.Effort{Kind: contract.Fraction, OfCriticalPower: f.ShareCP}, nil
	case f.InTime != "":
		seconds, err := parseClock(f.InTime)
		if err != nil {
			return nil, wrongUsage("--in-time: %w", err)
		}
		s.files.put("--in-time", "/effort/time_s")
		return &contract.Effort{Kind: contract.Time, TimeS: &seconds}, nil
	case f.StepFile != "":
		steps, err := f.steps(s)
		if err != nil {
			return nil, usageError{fmt.Errorf("--steps: %w", err)}
		}
		s.files.put("--steps", "/effort/steps")
		return &contract.Effort{Kind: contract.Steps, Steps: &steps}, nil
	case f.Best || bests:
		return &contract.Effort{Kind: contract.Best}, nil
	}
	return nil, nil //nolint:nilnil // none was given
}

// orOwn returns how riders ride who weren't told: each at their own power.
func (f effortFlags) orOwn(s *session, riders []contract.Rider, bests bool) (*contract.Effort, error) {
	effort, err := f.effort(s, bests)
	if effort != nil || err != nil {
		return effort, err
	}
	for i, r := range riders {
		if r.PowerW == nil {
			return nil, wrongUsage("rider %d has no power; say how all ride: --power, --per-mass, --share-cp, --in-time, --best or --steps", i+1)
		}
	}
	return &contract.Effort{Kind: contract.OwnPower}, nil
}

// parseClock reads a time as h:mm:ss, m:ss or s, in s.
func parseClock(clock string) (float64, error) {
	parts := strings.Split(clock, ":")
	total := 0.0
	for i, part := range parts {
		v, err := strconv.ParseFloat(part, 64)
		if err != nil || !(v >= 0 && v < 1e6) || len(parts) > 3 || i > 0 && v >= 60 || i < len(parts)-1 && strings.Contains(part, ".") {
			return 0, fmt.Errorf("a time is written like 1:45:00, 5:30 or 330, not %q", clock)
		}
		total = total*60 + v
	}
	return total, nil
}

// steps reads a table of steps.
func (f effortFlags) steps(s *session) ([]contract.Step, error) {
	content, closed, err := s.open(f.StepFile)
	if err != nil {
		return nil, err
	}
	defer closed()
	lines, err := readNumbers(content, "end_m", "power_w")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.StepFile, err)
	}
	steps := make([]contract.Step, len(lines))
	for i, line := range lines {
		steps[i] = contract.Step{EndM: line[0], PowerW: line[1]}
	}
	return steps, nil
}

// readNumbers reads columns of numbers out of a table (CSV), which may have others.
func readNumbers(from io.Reader, names ...string) ([][]float64, error) {
	in := csv.NewReader(from)
	in.FieldsPerRecord, in.TrimLeadingSpace = -1, true
	header, err := in.Read()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("the table is empty")
	}
	if err != nil {
		return nil, err
	}
	columns := make([]int, len(names))
	for i, name := range names {
		columns[i] = -1
		for j, head := range header {
			if strings.EqualFold(strings.TrimSpace(strings.TrimPrefix(head, "\ufeff")), name) {
				columns[i] = j
			}
		}
		if columns[i] < 0 {
			return nil, fmt.Errorf("there is no column %s", name)
		}
	}
	var lines [][]float64
	for {
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			return lines, nil
		}
		if err != nil {
			return nil, err
		}
		line := make([]float64, len(names))
		for i, j := range columns {
			at, _ := in.FieldPos(0)
			if j >= len(record) {
				return nil, fmt.Errorf("line %d: %s is missing", at, names[i])
			}
			if line[i], err = strconv.ParseFloat(strings.TrimSpace(record[j]), 64); err != nil {
				return nil, fmt.Errorf("line %d: %s is not a number", at, names[i])
			}
		}
		lines = append(lines, line)
	}
}

// stretchFlags say how much of the course is ridden.
type stretchFlags struct {
	FromM *float64 `group:"effort" placeholder:"M" help:"Ride from this place along the course on."`
	ToM   *float64 `group:"effort" placeholder:"M" help:"Ride to this place along the course."`
}

// requestFlags take a request as the contract has it.
type requestFlags struct {
	Request string `group:"look" placeholder:"FILE" type:"path" help:"A request in JSON as the contract has it, for what no flag says; flags that are given go before it."`
}

// load reads the request, if there is one.
func (f requestFlags) load(s *session, request any) error {
	if f.Request == "" {
		return nil
	}
	content, closed, err := s.open(f.Request)
	if err != nil {
		return usageError{fmt.Errorf("--request: %w", err)}
	}
	defer closed()
	if err := decodeWhole(content, request); err != nil {
		return usageError{fmt.Errorf("--request: %s: %w", f.Request, err)}
	}
	return nil
}
