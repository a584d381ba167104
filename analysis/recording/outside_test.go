package recording_test

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/recording"
	"parcours.example/analysis/track"
)

// moduleFile reads a file of the module github.com/muktihari/fit v0.26.1 (BSD-3).
func moduleFile(t *testing.T, name string) []byte {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/muktihari/fit").Output()
	if err != nil {
		t.Skip("the module's files are not at hand: ", err)
	}
	data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "testdata", "from_official_sdk", name))
	if err != nil {
		t.Skip(err)
	}
	return data
}

// TestRecordedFiles reads the recordings of testdata/recorded that have times throughout
// (sources and licences in its README.md): a ride through a city with its halts, whose
// notes were held against the file's own times, and runs and walks.
func TestRecordedFiles(t *testing.T) {
	for name, want := range map[string][]string{
		"city-ride.gpx":           {"irregular-intervals", "paused"},
		"run.gpx":                 {"paused"},
		"visnjan.gpx":             {"irregular-intervals", "paused"},
		"walk-with-waypoints.gpx": {"paused", "same-time"},
	} {
		data, err := os.ReadFile(filepath.Join("../../testdata/recorded", name))
		if err != nil {
			t.Fatal(err)
		}
		got, err := recording.ReadGPX(context.Background(), data, track.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		checkOrder(t, got)
		if !slices.Equal(codes(got.Notes), want) {
			t.Errorf("%s: %+v", name, got.Notes)
		}
	}
}

// TestRecordedRides reads the rides of testdata/from_official_sdk of
// github.com/muktihari/fit v0.26.1 (BSD-3). Distances, times and work are what the devices
// wrote into the files' own summaries (28,156.69 m, 549,905 J, 138 W on average; 3,976
// records) or what their records add up to (12,466.05 m, 120.5 W on average).
func TestRecordedRides(t *testing.T) {
	for name, want := range map[string]struct {
		samples                         int
		distanceM, meanW, tolerW, workJ float64
		startUnixS, lastS               float64
		notes                           []string
	}{
		"activity_lowbattery.fit": {
			samples: 3976, distanceM: 28156.69, meanW: 138, tolerW: 0.5, workJ: 549905,
			startUnixS: 1590758262, lastS: 3975, notes: []string{"stops"},
		},
		"WithGearChangeData.fit": {
			samples: 1979, distanceM: 12466.05 - 0.09, meanW: 120.5, tolerW: 0.05, workJ: 238467,
			startUnixS: 1655939317, lastS: 1978, notes: []string{"position-missing", "stops"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := recording.ReadFIT(context.Background(), moduleFile(t, name), track.Limits{})
			if err != nil {
				t.Fatal(err)
			}
			checkOrder(t, got)
			if !slices.Equal(codes(got.Notes), want.notes) {
				t.Errorf("%+v", got.Notes)
			}
			last := got.Samples[len(got.Samples)-1]
			if len(got.Samples) != want.samples || got.StartUnixS != want.startUnixS || last.TimeS != want.lastS {
				t.Errorf("%d samples over %v s from %v", len(got.Samples), last.TimeS, got.StartUnixS)
			}
			if d := last.DistanceM - got.Samples[0].DistanceM; math.Abs(d-want.distanceM) > 1 {
				t.Errorf("%.2f m, want %.2f m", d, want.distanceM)
			}
			sum, n, work := 0.0, 0, 0.0
			for i, s := range got.Samples {
				if math.IsNaN(s.PowerW) {
					continue
				}
				sum, n = sum+s.PowerW, n+1
				if i > 0 {
					work += s.PowerW * (s.TimeS - got.Samples[i-1].TimeS)
				}
			}
			if mean := sum / float64(n); math.Abs(mean-want.meanW) > want.tolerW || math.Abs(work/want.workJ-1) > 0.006 {
				t.Errorf("%.2f W on average, %.0f J, want %.1f W and %.0f J", mean, work, want.meanW, want.workJ)
			}
		})
	}
}
