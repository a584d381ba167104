package roster

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"parcours.example/api/contract"
	"parcours.example/internal/shortform"
)

// The limits of a table: its bytes, and the faults that are told of it.
const (
	mostBytes  = 4 << 20
	mostFaults = 16
)

// column is a column of a table that holds numbers in a range, which is the contract's.
type column struct {
	name      string
	low, high float64
	unit      string
	set       func(*contract.Rider, float64)
}

// columns are those that hold numbers.
var columns = []column{
	{"mass_kg", 20, 250, "kg", func(r *contract.Rider, x float64) { r.MassKg = x }},
	{"power_w", 1, 4000, "W", func(r *contract.Rider, x float64) { r.PowerW = &x }},
	{"critical_power_w", 10, 1000, "W", func(r *contract.Rider, x float64) { r.CriticalPowerW = &x }},
	{"w_prime_j", 500, 100_000, "J", func(r *contract.Rider, x float64) { r.WPrimeJ = &x }},
	{"max_power_w", 50, 4000, "W", func(r *contract.Rider, x float64) { r.MaxPowerW = &x }},
	{"height_m", 1, 2.5, "m", func(r *contract.Rider, x float64) { r.HeightM = &x }},
	{"cda_m2", 0.05, 2, "m²", func(r *contract.Rider, x float64) { r.CdaM2 = &x }},
	{"recovery_rate", 0, 10, "", func(r *contract.Rider, x float64) { r.RecoveryRate = &x }},
	{"gross_efficiency", 0.1, 0.35, "", func(r *contract.Rider, x float64) { r.GrossEfficiency = &x }},
}

// nameColumn holds the riders' names.
const nameColumn = "name"

// Read reads a table of riders: CSV whose first line names the columns as the contract names a
// rider's fields, in any order: mass_kg, which is required, and name, power_w,
// critical_power_w, w_prime_j, max_power_w, height_m, cda_m2, recovery_rate, gross_efficiency.
// Fields stand apart by commas, semicolons or tabs; without commas between them, numbers may
// have a decimal comma. Empty fields and empty lines are left out. It fails with every fault
// that it finds, up to 16, each with its line; never with a rider's numbers.
func Read(from io.Reader) ([]contract.Rider, error) {
	content, err := io.ReadAll(io.LimitReader(from, mostBytes+1))
	switch {
	case err != nil:
		return nil, err
	case len(content) > mostBytes:
		return nil, fmt.Errorf("the table of riders has more than %d bytes", mostBytes)
	}
	content = bytes.TrimPrefix(content, []byte("\ufeff")) // a spreadsheet's mark of UTF-8
	t := table{separator: separatorOf(content)}
	return t.read(content)
}

// separatorOf is what separates the names of the first line.
func separatorOf(content []byte) rune {
	header, _, _ := bytes.Cut(content, []byte("\n"))
	for _, s := range ";\t" {
		if bytes.ContainsRune(header, s) {
			return s
		}
	}
	return ','
}

// table is a table that is being read.
type table struct {
	separator rune
	// header are the columns' names.
	header []string
	faults []error
}

func (t *table) read(content []byte) ([]contract.Rider, error) {
	lines := csv.NewReader(bytes.NewReader(content))
	lines.Comma, lines.FieldsPerRecord, lines.TrimLeadingSpace = t.separator, -1, true
	header, err := lines.Read()
	if err != nil {
		return nil, lineError(err)
	}
	t.takeHeader(header)
	var riders []contract.Rider
	for len(t.faults) < mostFaults {
		fields, err := lines.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.faults = append(t.faults, lineError(err))
			break
		}
		if line, _ := lines.FieldPos(0); !blank(fields) {
			riders = append(riders, t.rider(line, fields))
		}
	}
	if len(riders) == 0 && len(t.faults) == 0 {
		t.faults = append(t.faults, errors.New("the table of riders has no line below its header"))
	}
	if len(t.faults) > 0 {
		return nil, errors.Join(t.faults...)
	}
	return riders, nil
}

// lineError is an error of CSV in a sentence with its line, without what stands there.
func lineError(err error) error {
	if errors.Is(err, io.EOF) {
		return errors.New("the table of riders is empty")
	}
	if at, ok := errors.AsType[*csv.ParseError](err); ok {
		return fmt.Errorf("line %d: %w", at.Line, at.Err)
	}
	return err
}

func blank(fields []string) bool {
	return !slices.ContainsFunc(fields, func(f string) bool { return strings.TrimSpace(f) != "" })
}

// fault takes note of a fault in a line.
func (t *table) fault(line int, format string, args ...any) {
	if len(t.faults) < mostFaults {
		t.faults = append(t.faults, fmt.Errorf("line %d: "+format, append([]any{line}, args...)...))
	}
}

// takeHeader takes the columns' names.
func (t *table) takeHeader(names []string) {
	for _, name := range names {
		name = strings.ToLower(strings.TrimSpace(name))
		switch {
		case name != nameColumn && !slices.ContainsFunc(columns, func(c column) bool { return c.name == name }):
			t.fault(1, "there is no column %q; there are %s", shortform.Clip(name), known())
		case slices.Contains(t.header, name):
			t.fault(1, "there are two columns %q", name)
		}
		t.header = append(t.header, name)
	}
	if len(t.faults) == 0 && !slices.Contains(t.header, columns[0].name) {
		t.fault(1, "there is no column %s, which every rider needs", columns[0].name)
	}
}

// known lists the columns that there can be.
func known() string {
	names := []string{nameColumn}
	for _, c := range columns {
		names = append(names, c.name)
	}
	return strings.Join(names, ", ")
}

// rider reads a line.
func (t *table) rider(line int, fields []string) (r contract.Rider) {
	before := len(t.faults)
	for i, text := range fields {
		text = strings.TrimSpace(text)
		switch {
		case text == "":
		case i >= len(t.header):
			t.fault(line, "there are %d fields below %d columns", len(fields), len(t.header))
			return r
		case t.header[i] == nameColumn:
			t.name(line, &r, text)
		default:
			t.number(line, &r, t.header[i], text)
		}
	}
	if r.MassKg == 0 && len(t.faults) == before {
		t.fault(line, "the rider has no %s", columns[0].name)
	}
	return r
}

func (t *table) name(line int, r *contract.Rider, text string) {
	name, err := shortform.Form{Thing: "rider"}.Name(text)
	if err != nil {
		t.fault(line, "%w", err)
	}
	r.Name = &name
}

func (t *table) number(line int, r *contract.Rider, name, text string) {
	i := slices.IndexFunc(columns, func(c column) bool { return c.name == name })
	if i < 0 {
		return // told with the header
	}
	c := columns[i]
	if t.separator != ',' {
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(x) || x < c.low || x > c.high {
		t.fault(line, "%s is a number from %v to %v%s", name, c.low, c.high, strings.TrimRight(" "+c.unit, " "))
		return
	}
	c.set(r, x)
}
