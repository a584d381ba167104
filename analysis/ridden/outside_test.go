package ridden_test

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/track"
)

// TestRecordedOnTheirOwnCourse lays recordings of testdata/recorded (sources and licences
// in its README.md) on the courses that they make: the time is that from the file's first
// to its last point, read with another program, and the way the course's.
func TestRecordedOnTheirOwnCourse(t *testing.T) {
	for name, want := range map[string]struct {
		timeS float64
		// awayM is the largest median of the deviation: courses are smoothed, and spikes
		// left out.
		awayM float64
	}{
		"city-ride.gpx":           {1338, 3},
		"run.gpx":                 {7896, 3},
		"visnjan.gpx":             {1850, 4},
		"walk-with-waypoints.gpx": {2347, 3},
	} {
		t.Run(name, func(t *testing.T) {
			ctx := context.Background()
			data, err := os.ReadFile(filepath.Join("../../testdata/recorded", name))
			if err != nil {
				t.Fatal(err)
			}
			line, err := track.ReadGPX(ctx, data, track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			c, err := course.FromTrack(ctx, line, course.Defaults())
			if err != nil {
				t.Fatal(err)
			}
			r, err := recording.ReadGPX(ctx, data, track.Limits{})
			if err != nil {
				t.Fatal(err)
			}
			got, err := ridden.Lay(ctx, c, r, ridden.Options{})
			if err != nil {
				t.Fatal(err)
			}
			checkRide(t, c, got)
			t.Logf("%.1f s, from %.0f to %.0f m of %.0f m, %+v, speeds ± %.2f m/s, %+v", got.TimeS(), got.StartM, got.EndM, c.LengthM(), got.Deviation, got.SpeedNoiseMPS, got.Notes)
			if !(math.Abs(got.TimeS()-want.timeS) <= 10) || got.Deviation.MedianM > want.awayM {
				t.Errorf("%.1f s, want %.1f s; %+v", got.TimeS(), want.timeS, got.Deviation)
			}
		})
	}
}

// TestRecordedByDistance lays the rides with power of testdata/from_official_sdk of
// github.com/muktihari/fit v0.26.1 (BSD-3), which have no positions, on their own
// profiles: the way and the time are those of the files' own summaries.
func TestRecordedByDistance(t *testing.T) {
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/muktihari/fit").Output()
	if err != nil {
		t.Skip("the module's files are not at hand: ", err)
	}
	for name, want := range map[string]struct{ lengthM, timeS float64 }{
		"activity_lowbattery.fit": {28156, 3975},
		"WithGearChangeData.fit":  {12466, 1978},
	} {
		t.Run(name, func(t *testing.T) {
			ctx := context.Background()
			data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "testdata", "from_official_sdk", name))
			if err != nil {
				t.Skip(err)
			}
			r, err := recording.ReadFIT(ctx, data, track.Limits{})
			if err != nil {
				t.Fatal(err)
			}
			var d, z []float64
			for _, s := range r.Samples {
				if n := len(d); n == 0 || s.DistanceM > d[n-1]+5 {
					d, z = append(d, s.DistanceM-r.Samples[0].DistanceM), append(z, s.ElevationM)
				}
			}
			c, err := course.FromProfile(ctx, d, z, course.Defaults())
			if err != nil {
				t.Fatal(err)
			}
			got, err := ridden.Lay(ctx, c, r, ridden.Options{})
			if err != nil {
				t.Fatal(err)
			}
			checkRide(t, c, got)
			way := 0.0
			for i := 1; i < len(got.Points); i++ {
				way += (got.Points[i].SpeedMPS + got.Points[i-1].SpeedMPS) / 2 * (got.Points[i].TimeS - got.Points[i-1].TimeS)
			}
			t.Logf("%.1f s over %.1f m, scale %.4f, speeds ± %.3f m/s, ∫v %.1f m, %+v", got.TimeS(), got.EndM, got.Scale, got.SpeedNoiseMPS, way, got.Notes)
			if math.Abs(got.EndM-want.lengthM) > 10 || !(math.Abs(got.TimeS()-want.timeS) <= 40) || math.Abs(way/want.lengthM-1) > 0.005 {
				t.Errorf("%.1f s over %.1f m, ∫v %.1f m, want %.0f s over %.0f m", got.TimeS(), got.EndM, way, want.timeS, want.lengthM)
			}
		})
	}
}
