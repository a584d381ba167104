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
	File string `arg:"" help:"Route file (GPX); - for standard input."`

	Rider     []string `sep:"none" placeholder:"mass=KG,power=W" help:"A rider to predict, repeatable: comma-separated key=value of mass (kg), power (W), name, height (m), cda (m²), cp (critical power, W), wprime (W′, J)."`
	Name      string   `help:"A name for the course instead of the file's."`
	Laps      int      `help:"The file holds one lap; the race rides it this many times in all (1 to 200). Left out, laps are detected."`
	Reverse   bool     `help:"Ride the course the other way round."`
	Track     int      `help:"Which of the file's tracks (then routes), counted from 1. Left out, the first with a line."`
	Smoothing string   `enum:"auto,none,light,strong" default:"auto" help:"How the profile is conditioned: auto, none, light or strong (${default})."`
	MaxChars  int      `help:"The most characters that the text may have, 120 or more."`
	Units     string   `enum:"metric,imperial" default:"metric" help:"The units of the text: metric or imperial (${default})."`
	Format    string   `enum:"markdown,text,json" default:"text" help:"What is printed: markdown, text or json (${default})."`
}

// maxFileBytes bounds a file like the decoded body of a request.
const maxFileBytes = 160 << 20

// Validate checks the ranges of the numbers; the parser calls it.
func (c *briefCommand) Validate() error {
	switch {
	case c.Laps < 0 || c.Laps > 200:
		return fmt.Errorf("--laps: %d is not from 1 to 200", c.Laps)
	case c.Track < 0 || c.Track > 1000:
		return fmt.Errorf("--track: %d is not from 1 to 1000", c.Track)
	case c.MaxChars != 0 && c.MaxChars < brief.MinChars:
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

// request turns the command line into the engine's request. A rider that can't be
// read is a fault of the command line.
func (c *briefCommand) request(stdin io.Reader) (engine.BriefRequest, error) {
	var riders []engine.BriefRider
	var faults []error
	for _, text := range c.Rider {
		rider, err := engine.ParseRider(text)
		if err != nil {
			faults = append(faults, fmt.Errorf("--rider: %w", err))
		}
		riders = append(riders, rider)
	}
	if len(faults) > 0 {
		return engine.BriefRequest{}, &usageError{faults}
	}
	content, err := readFile(c.File, stdin)
	if err != nil {
		return engine.BriefRequest{}, err
	}
	options := engine.CourseOptions{Options: course.Defaults(), Track: c.Track}
	options.Name, options.Laps, options.Reverse = c.Name, c.Laps, c.Reverse
	options.Smoothing = course.Smoothing(c.Smoothing)
	return engine.BriefRequest{
		Course: engine.CourseSource{File: &engine.File{Content: content}, Options: options},
		Riders: riders, Conditions: engine.UnstatedConditions(),
		Units: brief.Units(c.Units), MaxChars: c.MaxChars,
	}, nil
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
