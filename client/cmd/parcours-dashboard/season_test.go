package main

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/local"
)

// The figures of riders that nobody may see who isn't shown them.
const (
	secretMass  = "61.37"
	secretPower = "258.3"
)

// invented writes a season of three rounds, one of which can't be read, with a roster, and
// returns them as inputs.
func invented(t testing.TB) *inputs {
	t.Helper()
	folder := t.TempDir()
	roster := filepath.Join(t.TempDir(), "roster.csv")
	for name, content := range map[string]string{
		filepath.Join(folder, "round-2-dyke.csv"):    profile(12, func(km int) int { return 4 + km%2 }),
		filepath.Join(folder, "round-10-summit.csv"): profile(9, func(km int) int { return 100 + 70*km }),
		filepath.Join(folder, "round-3-words.gpx"):   "just words",
		roster: "name,mass_kg,power_w\nNour," + secretMass + "," + secretPower + "\nBram,84,310\nIlse,70,262\n",
	} {
		write(t, name, content)
	}
	return &inputs{folder: folder, riders: roster, now: time.Now}
}

// profile is a table of a course.
func profile(km int, elevationM func(km int) int) string {
	var b strings.Builder
	b.WriteString("distance_m,elevation_m\n")
	for i := range km + 1 {
		fmt.Fprintf(&b, "%d,%d\n", 1000*i, elevationM(i))
	}
	return b.String()
}

func write(t testing.TB, name, content string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
}

// engine is the real service within the test.
func engine(t testing.TB) *client.Client {
	t.Helper()
	c, end, err := local.New(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(end)
	return c
}

// fake is a service that answers what it is told to.
type fake struct {
	mu      sync.Mutex
	version string
	away    error
	asked   int
	// lines are what it answers with, the error behind them.
	lines []*contract.SeasonLine
	err   error
	// step, where there is one, is waited for before each line.
	step chan struct{}
}

func (f *fake) set(how func(*fake)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	how(f)
}

func (f *fake) times() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.asked
}

// Ready implements service.
func (f *fake) Ready(context.Context) (*contract.Health, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return &contract.Health{Status: contract.Ready, EngineVersion: f.version}, f.away
}

// SeasonOfFiles implements service. It reads each file, as a service does.
func (f *fake) SeasonOfFiles(ctx context.Context, _ *contract.SeasonRequest, files iter.Seq[client.SeasonFile]) iter.Seq2[*contract.SeasonLine, error] {
	f.mu.Lock()
	f.asked++
	lines, err, step := f.lines, f.err, f.step
	f.mu.Unlock()
	return func(yield func(*contract.SeasonLine, error) bool) {
		for file := range files {
			content, err := file.Open()
			if err != nil {
				yield(nil, err)
				return
			}
			_ = content.Close()
		}
		for _, line := range lines {
			if step != nil {
				select {
				case <-step:
				case <-ctx.Done():
					yield(nil, ctx.Err())
					return
				}
			}
			if !yield(line, nil) {
				return
			}
		}
		if err != nil {
			yield(nil, err)
		}
	}
}

var errGone = errors.New("connection refused")

// item is the line of a round, on which Nour takes so long.
func item(index int, timeS float64) *contract.SeasonLine {
	ascent := 120.0
	return &contract.SeasonLine{Item: &contract.SeasonItem{Index: index, Result: &contract.SeasonRound{
		CourseID: fmt.Sprintf("%032d", index), DistanceM: 9000, AscentM: &ascent, Shape: "circuit",
		Predictions: []contract.SeasonPrediction{{Rider: "Nour", Setup: "road", TimeS: &timeS}},
	}}}
}

// bad is the line of a round that has a problem.
func bad(index, status int) *contract.SeasonLine {
	return &contract.SeasonLine{Item: &contract.SeasonItem{Index: index, Problem: &contract.Problem{
		Type: "/problems/malformed-file", Title: "The file can't be read", Status: status,
	}}}
}

func end(version string) *contract.SeasonLine {
	return &contract.SeasonLine{End: &contract.SeasonEnd{Comparison: contract.SeasonComparison{EngineVersion: version}}}
}

// clock is a clock that stands until it is moved.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// refresherOf is a refresher of the invented season by a service, with a clock of its own and
// what it logs.
func refresherOf(t testing.TB, from service) (*refresher, *clock, *strings.Builder) {
	t.Helper()
	hands := &clock{at: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)}
	var log strings.Builder
	return &refresher{
		inputs: invented(t), board: newBoard("League", false, hands.now), service: from,
		logger: slog.New(slog.NewTextHandler(&log, nil)), now: hands.now, every: 10 * time.Second,
	}, hands, &log
}
