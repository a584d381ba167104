package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/signal"

	"parcours.example/analysis"
	"parcours.example/analysis/brief"
	"parcours.example/analysis/course"
	"parcours.example/service/engine"
)

// briefCommand prints the write-up of one course file.
type briefCommand struct {
	File string `arg:"" help:"Route file (GPX, GeoJSON, KML, FIT, TCX or a table of values, also compressed); - for standard input."`

	Rider   []string `sep:"none" placeholder:"mass=KG,power=W" help:"A rider to predict, repeatable: comma-separated key=value of mass (kg), power (W), name, height (m), cda (m²), cp (critical power, W), wprime (W′, J), and effort=best in the place of a power: the plan that takes the least time, by cp and wprime."`
	Name    string   `help:"A name for the course instead of the file's."`
	Laps    int      `help:"The file holds one lap; the race rides it this many times in all (1 to 200). Left out, laps are detected."`
	LapLine string   `help:"The name of a mark that is the line of the laps that are detected."`
	Reverse bool     `help:"Ride the course the other way round."`
	Track   int      `help:"Which of the file's tracks (then routes), counted from 1. Left out, the first with a line."`
	StartM  float64  `placeholder:"M" help:"Cut off what lies before this position, in metres along the course without a cut."`
	EndM    float64  `placeholder:"M" help:"Cut off what lies behind this position, in metres along the course without a cut."`
	Mark    []string `sep:"none" placeholder:"name=NAME,at_m=M" help:"A mark beside the file's, repeatable: comma-separated key=value of name, kind (sprint, summit, gate, feed, other) and at_m, or lat_deg and lon_deg, the latter with heading_deg if it counts in one direction only."`

	Smoothing        string  `enum:"auto,none,light,strong" default:"auto" help:"How the profile is conditioned: auto, none, light or strong (${default})."`
	SpacingM         float64 `default:"10" placeholder:"M" help:"The distance between samples of the conditioned course in metres, 2 to 100 (${default})."`
	AscentThresholdM float64 `default:"1" placeholder:"M" help:"A rise or fall counts once it exceeds this, in metres, 0 to 50 (${default})."`

	MaxChars int    `help:"The most characters that the text may have, 120 or more."`
	Units    string `enum:"metric,imperial" default:"metric" help:"The units of the text: metric or imperial (${default})."`
	Format   string `enum:"markdown,text,json" default:"text" help:"What is printed: markdown, text or json (${default})."`
}

// maxFileBytes bounds a file like the decoded body of a request.
const maxFileBytes = 160 << 20

// Validate checks the ranges of the numbers; the parser calls it.
func (c *briefCommand) Validate() error {
	for _, r := range []struct {
		flag             string
		value, low, high float64
		// unset is the value that stands for the flag left out.
		unset float64
	}{
		{"laps", float64(c.Laps), 1, 200, 0},
		{"track", float64(c.Track), 1, 1000, 0},
		{"start-m", c.StartM, 0, course.LongestM, 0},
		{"end-m", c.EndM, 1, course.LongestM, 0},
		{"spacing-m", c.SpacingM, 2, 100, 10},
		{"ascent-threshold-m", c.AscentThresholdM, 0, 50, 1},
	} {
		if r.value != r.unset && !(r.low <= r.value && r.value <= r.high) {
			return fmt.Errorf("--%s: %v is not from %v to %v", r.flag, r.value, r.low, r.high)
		}
	}
	if c.MaxChars != 0 && c.MaxChars < brief.MinChars {
		return fmt.Errorf("--max-chars: %d is below %d", c.MaxChars, brief.MinChars)
	}
	return nil
}

// Run prints the brief.
func (c *briefCommand) Run(std streams) error {
	request, err := c.request(std.in)
	if err != nil {
		return err
	}
	eng, err := engine.New(engine.Config{})
	if err != nil {
		return err
	}
	defer eng.Close()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	written, err := eng.Brief(ctx, request)
	if err != nil {
		return err
	}
	return c.print(std.out, written)
}

// request turns the command line into the engine's request. A rider or a mark that
// can't be read is a fault of the command line.
func (c *briefCommand) request(stdin io.Reader) (engine.BriefRequest, error) {
	riders, faults := parseAll("rider", c.Rider, engine.ParseRider)
	marks, more := parseAll("mark", c.Mark, engine.ParseMark)
	if faults = append(faults, more...); len(faults) > 0 {
		return engine.BriefRequest{}, &usageError{faults}
	}
	content, err := readFile(c.File, stdin)
	if err != nil {
		return engine.BriefRequest{}, err
	}
	options := engine.CourseOptions{Track: c.Track, Options: course.Options{
		Name: c.Name, Laps: c.Laps, LapLine: c.LapLine, Reverse: c.Reverse, StartM: c.StartM, EndM: c.EndM, Marks: marks,
		Smoothing: course.Smoothing(c.Smoothing), SpacingM: c.SpacingM, AscentThresholdM: c.AscentThresholdM,
	}}
	return engine.BriefRequest{
		Course: engine.CourseSource{File: &engine.File{Content: content}, Options: options},
		Riders: riders, Conditions: engine.UnstatedConditions(),
		Units: brief.Units(c.Units), MaxChars: c.MaxChars,
	}, nil
}

// parseAll reads the values of a flag and collects the faults.
func parseAll[T any](flag string, texts []string, parse func(string) (T, error)) (all []T, faults []error) {
	for _, text := range texts {
		read, err := parse(text)
		if err != nil {
			faults = append(faults, fmt.Errorf("--%s: %w", flag, err))
		}
		all = append(all, read)
	}
	return all, faults
}

// readFile reads a file, or standard input for "-", up to maxFileBytes.
func readFile(name string, stdin io.Reader) ([]byte, error) {
	from := stdin
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close() //nolint:errcheck // only read
		from = f
	}
	content, err := io.ReadAll(io.LimitReader(from, maxFileBytes+1))
	if err != nil {
		return nil, err
	}
	if len(content) > maxFileBytes {
		return nil, fmt.Errorf("%s: the file has more than %d bytes", name, maxFileBytes)
	}
	return content, nil
}

// print writes the brief in the asked form.
func (c *briefCommand) print(out io.Writer, b *engine.Brief) error {
	var err error
	switch c.Format {
	case "json":
		enc := json.NewEncoder(out)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		err = enc.Encode(document(b))
	case "markdown":
		_, err = io.WriteString(out, b.Markdown)
	default:
		_, err = io.WriteString(out, b.Text)
	}
	return err
}

// briefDocument is the brief in JSON, with the names of the contract.
type briefDocument struct {
	CourseID      string          `json:"course_id"`
	EngineVersion string          `json:"engine_version"`
	Title         string          `json:"title"`
	Markdown      string          `json:"markdown"`
	Text          string          `json:"text"`
	Sections      []sectionObject `json:"sections"`
	Facts         []factObject    `json:"facts"`
	Cautions      []string        `json:"cautions"`
	OmittedCount  int             `json:"omitted_count"`
}

type sectionObject struct {
	Heading string   `json:"heading"`
	Lines   []string `json:"lines"`
}

type factObject struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Text  string  `json:"text"`
}

func document(b *engine.Brief) briefDocument {
	d := briefDocument{
		CourseID: b.Course.ID, EngineVersion: analysis.EngineVersion,
		Title: b.Title, Markdown: b.Markdown, Text: b.Text,
		Sections: []sectionObject{}, Facts: []factObject{}, Cautions: b.Cautions, OmittedCount: b.Omitted,
	}
	for _, s := range b.Sections {
		d.Sections = append(d.Sections, sectionObject(s))
	}
	for _, f := range b.Facts {
		d.Facts = append(d.Facts, factObject(f))
	}
	return d
}
