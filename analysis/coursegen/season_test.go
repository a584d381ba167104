package coursegen

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"parcours.example/analysis/geodesy"
)

const seasonDir = "../../testdata/season"

func TestSeasonFilesAreFresh(t *testing.T) {
	files, err := SeasonFiles()
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{"README.md": true}
	total := 0
	for _, f := range files {
		known[f.Name] = true
		total += len(f.Data)
		have, err := os.ReadFile(filepath.Join(seasonDir, f.Name))
		if err != nil {
			t.Error(err)
		} else if !bytes.Equal(have, f.Data) {
			t.Errorf("%s is not what the generator writes: run go run ./testdata/generate", f.Name)
		}
	}
	if total > 8<<20 {
		t.Errorf("the season takes %d bytes, more than 8 MiB", total)
	}
	entries, err := os.ReadDir(seasonDir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !known[e.Name()] {
			t.Errorf("%s is not a file of the season", e.Name())
		}
	}
}

func TestSeasonIsAsAnnounced(t *testing.T) {
	want := []struct {
		name, shape      string
		laps             int
		lengthM, withinM float64
		climbs           int
	}{
		{"quellmere-criterium", "lapped", 25, 30000, 10, 0},
		{"hoskerrow-eight", "lapped", 8, 51200, 10, 16},
		{"morvask-laps-and-climb", "lapped", 5, 48800, 300, 12},
		{"brambleseth-time-trial", "out_and_back", 0, 24000, 10, 0},
		{"ludwether-mountain-stage", "point_to_point", 0, 108000, 100, 4},
		{"skarnholt-hill-climb", "point_to_point", 0, 4000, 10, 1},
	}
	season := Season()
	if len(season) != len(want) {
		t.Fatalf("%d rounds", len(season))
	}
	for i, w := range want {
		r := season[i]
		if r.Name != w.name || r.Truth.Shape != w.shape || r.Truth.Laps != w.laps || math.Abs(r.Truth.LengthM-w.lengthM) > w.withinM || len(r.Truth.Climbs) != w.climbs {
			t.Errorf("%s: %s, %d laps, %.0f m, %d climbs", r.Name, r.Truth.Shape, r.Truth.Laps, r.Truth.LengthM, len(r.Truth.Climbs))
		}
		if r.Lap == nil != (w.laps == 0) {
			t.Errorf("%s: one lap given is %t", r.Name, r.Lap != nil)
		}
		if r.Lap != nil && geodesy.Distance(r.Lap.Pos[0], r.Lap.Pos[len(r.Lap.Pos)-1]) > 0.01 {
			t.Errorf("%s: the lap does not close", r.Name)
		}
	}
}

// TestFinishingClimb holds the course with a climb to the line to the facts of the
// trade (common practice) that it is there for: three quarters of the ascent come
// before the last climb, and that climb of 6 to 7 % holds three sections with pitches
// of 17 to 19 %.
func TestFinishingClimb(t *testing.T) {
	r := Season()[2]
	if share := shareBeforeLastClimb(r.Line, r.Truth); share < 0.72 || share > 0.78 {
		t.Errorf("%.1f %% of the ascent come before the last climb", 100*share)
	}
	last := r.Truth.Climbs[len(r.Truth.Climbs)-1]
	if mean := last.GainM / (last.EndM - last.StartM); mean < 0.06 || mean > 0.07 || last.EndM < r.Truth.LengthM-1 {
		t.Errorf("it climbs at %.1f %% and ends %.0f m before the line", 100*mean, r.Truth.LengthM-last.EndM)
	}
	var pitches []float64
	steep := 0.0
	rec := recorder{line: r.Line}
	for at := last.StartM; at+25 < last.EndM; at++ {
		g := (rec.elevation(at+25) - rec.elevation(at)) / 25
		switch {
		case g > 0.13:
			steep = max(steep, g)
		case steep > 0:
			pitches, steep = append(pitches, steep), 0
		}
	}
	t.Logf("pitches over 25 m: %.3f", pitches)
	if len(pitches) != 3 {
		t.Fatalf("%d pitches", len(pitches))
	}
	for i, want := range []float64{0.17, 0.18, 0.19} {
		if math.Abs(pitches[i]-want) > 0.001 {
			t.Errorf("pitch %d is %.3f, want %.2f", i+1, pitches[i], want)
		}
	}
}

func TestSeasonMarksArePassedOncePerLap(t *testing.T) {
	for _, r := range Season() {
		for _, m := range r.Truth.Marks {
			if at, sure := passes(r.Line, m.Pos); !sure || len(at) == 0 {
				t.Errorf("%s: %s is passed at %.0f, and that is %t", r.Name, m.Name, at, sure)
			}
			if n := len(m.At); r.Truth.Laps > 0 && n != 1 && n != r.Truth.Laps && n != r.Truth.Laps+1 {
				t.Errorf("%s: %s is passed %d times in %d laps", r.Name, m.Name, n, r.Truth.Laps)
			}
		}
	}
}

func TestGradedProfile(t *testing.T) {
	road := path{{}, {E: 1000}}.even()
	got := road.graded(100, 130, slope{500, 10}, slope{300, -10})
	for _, c := range []struct {
		at int
		z  float64
	}{
		{0, 100},
		{400, 140},
		{490, 149},                    // the last metre before the blend
		{500, 150 - 0.2*10*10/(2*20)}, // its middle: half a blend of a change of −0.2
		{510, 150 - 1},
		{700, 130}, // after it
		{900, 120 + 5},
		{1000, 130}, // on the way to the end elevation
	} {
		if z := got[c.at].Z; math.Abs(z-c.z) > 1e-6 {
			t.Errorf("at %d m: %.4f m, want %.4f m", c.at, z, c.z)
		}
	}
}
