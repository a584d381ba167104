package analysis_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// readSeason reads a file of the season into a course.
func readSeason(t *testing.T, file string, laps int) *course.Course {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "testdata", "season", file))
	if err != nil {
		t.Fatal(err)
	}
	tr, err := track.ReadGPX(context.Background(), data, track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	opt := course.Defaults()
	opt.Laps = laps
	c, err := course.FromTrack(context.Background(), tr, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// seasonFiles are the files of a whole round with the noise of each.
func seasonFiles(r coursegen.Round) map[string]coursegen.Noise {
	files := map[string]coursegen.Noise{r.Name + ".gpx": {}}
	for _, rec := range r.Recordings {
		files[r.Name+"-"+rec.Variant+".gpx"] = rec.Noise
	}
	return files
}

func TestSeasonStructure(t *testing.T) {
	for _, r := range coursegen.Season() {
		for file := range seasonFiles(r) {
			t.Run(file, func(t *testing.T) {
				c := readSeason(t, file, 0)
				if string(c.Shape) != r.Truth.Shape || c.Laps.Count != r.Truth.Laps {
					t.Fatalf("%s with %d laps, want %s with %d", c.Shape, c.Laps.Count, r.Truth.Shape, r.Truth.Laps)
				}
				if r.Truth.Laps > 0 {
					if worst := worstBoundary(r.Line, r.Truth, c); worst > 30 {
						t.Errorf("a lap's end is off by %.0f m", worst)
					}
				}
				if off := math.Abs(c.LengthM()/r.Truth.LengthM - 1); off > 0.01 {
					t.Errorf("%.0f m long, want %.0f m", c.LengthM(), r.Truth.LengthM)
				}
			})
		}
	}
}

func TestSeasonMarks(t *testing.T) {
	for _, r := range coursegen.Season() {
		for file := range seasonFiles(r) {
			t.Run(file, func(t *testing.T) {
				c := readSeason(t, file, 0)
				for _, want := range r.Truth.Marks {
					got := markNamed(c, want.Name)
					if len(got.At) != len(want.At) || got.Kind != want.Kind {
						t.Errorf("%s (%s) is passed at %.0f, want (%s) at %.0f", want.Name, got.Kind, got.At, want.Kind, want.At)
						continue
					}
					for i, at := range got.At {
						if off := math.Abs(onGround(r.Line, c, at, want.At[i]) - want.At[i]); off > 20 {
							t.Errorf("%s is off by %.0f m on pass %d", want.Name, off, i+1)
						}
					}
				}
			})
		}
	}
}

// A drifting barometer adds ascent of its own, so those files have no bound.
func TestSeasonAscent(t *testing.T) {
	for _, r := range coursegen.Season() {
		for file, noise := range seasonFiles(r) {
			t.Run(file, func(t *testing.T) {
				c := readSeason(t, file, 0)
				got := c.AscentM(0, c.LengthM())
				t.Logf("%.1f m, true %.1f m", got, r.Truth.AscentOver1M)
				if size := math.Max(noise.ElevationM, noise.RoundM); noise.DriftM == 0 && math.Abs(got-r.Truth.AscentOver1M) > ascentBound(r.Truth.AscentOver1M, size) {
					t.Errorf("ascent %.1f m, want %.1f m", got, r.Truth.AscentOver1M)
				}
			})
		}
	}
}

func TestSeasonClimbs(t *testing.T) {
	for _, r := range coursegen.Season() {
		for file, noise := range seasonFiles(r) {
			if noise.DriftM > 0 || noise.RoundM > 0 {
				continue
			}
			t.Run(file, func(t *testing.T) {
				found := climbsFound(readSeason(t, file, 0), r.Truth.LengthM)
				if len(found) != len(r.Truth.Climbs) {
					t.Errorf("%d climbs, want %d", len(found), len(r.Truth.Climbs))
				}
				for _, s := range r.Truth.Climbs {
					if _, ok := toldOf(s, found, nearOn(r.Line)); !ok {
						t.Errorf("the climb %.0f–%.0f m is not among %+v", s.StartM, s.EndM, found)
					}
				}
			})
		}
	}
}

// One lap, declared to be ridden a number of times, is the whole without what comes
// before and after the laps.
func TestSeasonDeclaredLaps(t *testing.T) {
	for _, r := range coursegen.Season() {
		if r.Lap == nil {
			continue
		}
		t.Run(r.Name, func(t *testing.T) {
			c := readSeason(t, r.Name+"-lap.gpx", r.Truth.Laps)
			if c.Laps.Count != r.Truth.Laps || c.Laps.Source != course.LapsDeclared || c.Shape != course.Lapped {
				t.Errorf("%s with %d laps, %s", c.Shape, c.Laps.Count, c.Laps.Source)
			}
			want := float64(r.Truth.Laps) * r.Truth.LapLengthM
			if math.Abs(c.LengthM()/want-1) > 0.003 {
				t.Errorf("%.0f m long, want %.0f m", c.LengthM(), want)
			}
			rises := 0.0
			for i := 1; i < len(r.Lap.Z); i++ {
				rises += math.Max(0, r.Lap.Z[i]-r.Lap.Z[i-1])
			}
			total := float64(r.Truth.Laps) * rises
			if got := c.AscentM(0, c.LengthM()); math.Abs(got-total) > ascentBound(total, 0) {
				t.Errorf("ascent %.1f m, want %.1f m", got, total)
			}
			for _, m := range c.Marks {
				if n := len(m.At); n != r.Truth.Laps && n != r.Truth.Laps+1 {
					t.Errorf("%s is passed %d times", m.Name, n)
				}
			}
		})
	}
}

// Facts of the trade (common practice): a course with a climb to the line can hold
// three quarters of its ascent before that climb, and a finishing climb of 6 to 7 %
// can hold three sections with pitches of 17 to 19 %, which must not be smoothed away.
func TestSeasonFinishingClimb(t *testing.T) {
	for _, file := range []string{"morvask-laps-and-climb.gpx", "morvask-laps-and-climb-recorded.gpx"} {
		t.Run(file, func(t *testing.T) {
			c := readSeason(t, file, 0)
			tr := dissect(c)
			if got := tr.Climbing.ShareBeforeLastClimb; math.Abs(got-0.764) > 0.02 {
				t.Errorf("%.3f of the ascent come before the last climb, want 0.764", got)
			}
			var last terrain.Climb
			for _, climb := range tr.Climbs {
				if climb.EndsAtFinish && climb.ParentID == "" {
					last = climb
				}
			}
			if last.MeanGradientPct < 6 || last.MeanGradientPct > 7 {
				t.Errorf("the finishing climb, %.0f–%.0f m, has a mean of %.1f %%", last.StartM, last.EndM, last.MeanGradientPct)
			}
			if strings.Contains(file, "recorded") {
				return // 0.3 m of noise bound gradients over 100 m only
			}
			if pitches := steepOver25(c, last.StartM, last.EndM); len(pitches) != 3 || pitches[0] < 16 || pitches[1] < 17 || pitches[2] < 18 {
				t.Errorf("pitches of %.1f %%, want 17, 18 and 19 %%", pitches)
			}
		})
	}
}

// steepOver25 returns the maxima, over 25 m and in per cent, of each stretch steeper
// than 13 %.
func steepOver25(c *course.Course, from, to float64) []float64 {
	var pitches []float64
	steepest := 0.0
	for at := from; at+25 <= to; at++ {
		switch g := 100 * (c.ElevationAt(at+25) - c.ElevationAt(at)) / 25; {
		case g > 13:
			steepest = math.Max(steepest, g)
		case steepest > 0:
			pitches, steepest = append(pitches, steepest), 0
		}
	}
	return pitches
}
