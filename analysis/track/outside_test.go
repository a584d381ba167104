package track_test

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// recordedLine is one line of a file as testdata/recorded/lengths.py tells it.
type recordedLine struct {
	Name         string
	Points       int
	Breaks       []int
	LengthM      float64 `json:"length_m"`
	Elevations   int
	MinElevation *float64 `json:"min_elevation_m"`
	MaxElevation *float64 `json:"max_elevation_m"`
}

type recordedFile struct {
	Waypoints int
	Lines     []recordedLine
}

const recorded = "../../testdata/recorded"

func recordedFiles(t *testing.T) map[string]recordedFile {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(recorded, "lengths.json"))
	if err != nil {
		t.Fatal(err)
	}
	var files map[string]recordedFile
	if err := json.Unmarshal(data, &files); err != nil {
		t.Fatal(err)
	}
	return files
}

// TestRecordedFiles holds what is read of recorded files (their sources are in
// testdata/recorded/README.md) against xml.etree, and their lengths against
// GeographicLib in Python (python3-geographiclib of Debian, MIT).
func TestRecordedFiles(t *testing.T) {
	for name, want := range recordedFiles(t) {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(recorded, name))
			if err != nil {
				t.Fatal(err)
			}
			checkLines(t, data, want)
		})
	}
}

// TestOriginalFiles reads the files of github.com/tkrajina/gpxgo v1.4.0 as the
// module ships them: all that was stripped of ours changes nothing.
func TestOriginalFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/tkrajina/gpxgo").Output()
	if err != nil || len(dir) == 0 {
		t.Skip("the module's files are not at hand")
	}
	files := recordedFiles(t)
	for original, ours := range map[string]string{
		"Mojstrovka.gpx": "mojstrovka.gpx", "cerknicko-without-times.gpx": "cerknicko.gpx",
		"korita-zbevnica.gpx": "korita-zbevnica.gpx", "visnjan.gpx": "visnjan.gpx",
		"iso8859-1encoded.gpx": "iso-8859-1.gpx",
	} {
		t.Run(original, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "test_files", original))
			if err != nil {
				t.Skip(err)
			}
			checkLines(t, data, files[ours])
		})
	}
}

func checkLines(t *testing.T, data []byte, want recordedFile) {
	t.Helper()
	for i, w := range want.Lines {
		got, err := track.ReadGPX(data, track.Options{Track: i + 1})
		if w.Points < 2 {
			wantCode(t, err, track.CodeNoLine)
			continue
		}
		if err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		checkLine(t, got, w)
		if len(got.Marks) != want.Waypoints {
			t.Errorf("line %d: %d marks, want %d", i+1, len(got.Marks), want.Waypoints)
		}
	}
	if len(want.Lines) == 0 {
		_, err := track.ReadGPX(data, track.Options{})
		wantCode(t, err, track.CodeNoLine)
	}
}

func checkLine(t *testing.T, got *track.Track, want recordedLine) {
	t.Helper()
	if got.Name != want.Name || len(got.Points) != want.Points || !slices.Equal(got.Breaks, want.Breaks) {
		t.Errorf("%q: %d points, breaks %v; want %q: %d, %v", got.Name, len(got.Points), got.Breaks, want.Name, want.Points, want.Breaks)
	}
	if l := length(got.Points); math.Abs(l-want.LengthM) > 1e-6*want.LengthM {
		t.Errorf("%s: %.6f m, want %.6f m", want.Name, l, want.LengthM)
	} else {
		t.Logf("%s: %.3f m, off by %.1e", want.Name, l, l/want.LengthM-1)
	}
	n, lowest, highest := 0, math.Inf(1), math.Inf(-1)
	for _, p := range got.Points {
		if !math.IsNaN(p.Elevation) {
			n, lowest, highest = n+1, min(lowest, p.Elevation), max(highest, p.Elevation)
		}
	}
	if n != want.Elevations || n > 0 && (lowest != *want.MinElevation || highest != *want.MaxElevation) {
		t.Errorf("%s: %d elevations, %v…%v m; want %+v", want.Name, n, lowest, highest, want)
	}
}

// length returns the sum of the geodesics between consecutive points in metres.
func length(points []track.Point) float64 {
	sum := 0.0
	for i := 1; i < len(points); i++ {
		sum += geodesy.Distance(points[i-1].Pos, points[i].Pos)
	}
	return sum
}

// wantCode fails unless err is a *track.Error with the code and a sentence.
func wantCode(t *testing.T, err error, code string) *track.Error {
	t.Helper()
	e := &track.Error{}
	ok := errors.As(err, &e)
	if !ok || e.Code != code || len(e.Detail) < 20 {
		t.Fatalf("got %T %v, want the code %q", err, err, code)
	}
	return e
}
