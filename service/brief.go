package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/course"
	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
	"parcours.example/api"
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
	Format   string `enum:"markdown,text,json,csv" default:"text" help:"What is printed: markdown, text, json, or csv for the itinerary alone (${default})."`

	Itinerary  bool      `help:"Add an itinerary: every line, climb and mark on every pass, and when it is passed. The flags that follow ask for it as well."`
	Speed      []float64 `placeholder:"KM/H" help:"Average speeds of the itinerary, 1 to 3 of them, in km/h or, with imperial units, mph. Left out, the riders' predictions, else three that suit the course."`
	StartClock string    `placeholder:"HH:MM" help:"The time of day at which the itinerary's clocks start, also with seconds. Left out, elapsed times."`
	NeutralM   float64   `placeholder:"M" help:"Where a stretch that is ridden together before the race is on ends, in metres along the course; 0 where it lies before it."`
	NeutralS   float64   `placeholder:"S" help:"How long that stretch takes, in seconds."`
}

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
		{"neutral-m", c.NeutralM, 0, 100_000, 0},
		{"neutral-s", c.NeutralS, 0, 36_000, 0},
	} {
		if r.value != r.unset && !(r.low <= r.value && r.value <= r.high) {
			return fmt.Errorf("--%s: %v is not from %v to %v", r.flag, r.value, r.low, r.high)
		}
	}
	if c.MaxChars != 0 && c.MaxChars < brief.MinChars {
		return fmt.Errorf("--max-chars: %d is below %d", c.MaxChars, brief.MinChars)
	}
	if c.MaxChars != 0 && c.Format == "csv" {
		return errors.New("--max-chars: a table as csv is whole")
	}
	return c.validateSpeeds()
}

// validateSpeeds checks the itinerary's speeds.
func (c *briefCommand) validateSpeeds() error {
	if len(c.Speed) > engine.MostSpeeds {
		return fmt.Errorf("--speed: %d speeds are more than %d", len(c.Speed), engine.MostSpeeds)
	}
	for _, v := range c.speedsMps() {
		if !(engine.LeastSpeedMps <= v && v <= engine.MostSpeedMps) {
			return fmt.Errorf("--speed: %.1f m/s is not from %v to %v m/s", v, engine.LeastSpeedMps, engine.MostSpeedMps)
		}
	}
	return nil
}

// speedsMps are the itinerary's speeds in m/s.
func (c *briefCommand) speedsMps() []float64 {
	perHour := wording.Units{Imperial: c.Units == string(brief.Imperial)}.LongM() / 3600
	speeds := make([]float64, len(c.Speed))
	for i, v := range c.Speed {
		speeds[i] = v * perHour
	}
	return speeds
}

// itinerary returns what is asked of an itinerary; nil for none.
func (c *briefCommand) itinerary() (*engine.Itinerary, error) {
	if !c.Itinerary && len(c.Speed) == 0 && c.StartClock == "" && c.NeutralM == 0 && c.NeutralS == 0 && c.Format != "csv" {
		return nil, nil
	}
	asked := &engine.Itinerary{
		SpeedsMps: c.speedsMps(), StartS: math.NaN(), Neutral: itinerary.Neutral{EndM: c.NeutralM, TimeS: c.NeutralS},
	}
	if c.StartClock == "" {
		return asked, nil
	}
	var err error
	if asked.StartS, err = engine.ParseTimeOfDay(c.StartClock); err != nil {
		return nil, fmt.Errorf("--start-clock: %w", err)
	}
	return asked, nil
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
	faults = append(faults, more...)
	asked, err := c.itinerary()
	if err != nil {
		faults = append(faults, err)
	}
	if len(faults) > 0 {
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
		Units: brief.Units(c.Units), MaxChars: c.MaxChars, Itinerary: asked,
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

// readFile reads a file, or standard input for "-", up to what the body of a request may decode to.
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
	most := track.DefaultLimits().Bytes
	content, err := io.ReadAll(io.LimitReader(from, int64(most)+1))
	if err != nil {
		return nil, err
	}
	if len(content) > most {
		return nil, fmt.Errorf("%s: the file has more than %d bytes", name, most)
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
		err = enc.Encode(api.EncodeBrief(b))
	case "csv":
		_, err = out.Write(b.Itinerary.CSV())
	case "markdown":
		_, err = io.WriteString(out, b.Markdown)
	default:
		_, err = io.WriteString(out, b.Text)
	}
	return err
}
