package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"parcours.example/internal/golden"
)

// courseFile is a hill of 60 m with a summit and a sprint at the end, 4 km.
func courseFile() []byte {
	const stepDeg, points = 20 / 111_195.0, 201
	var b strings.Builder
	mark := func(i int, name, kind string) {
		fmt.Fprintf(&b, "<wpt lat=\"%.7f\" lon=\"3.1000000\"><name>%s</name><type>%s</type></wpt>\n", 47.3+float64(i)*stepDeg, name, kind)
	}
	b.WriteString("<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n")
	mark(points/2, "Hill of Oster", "summit")
	mark(points-1, "Market line", "sprint")
	b.WriteString("<trk><name>Over Oster</name><trkseg>\n")
	for i := range points {
		ele := 200 + 60*math.Pow(math.Sin(math.Pi*float64(i)/(points-1)), 2)
		fmt.Fprintf(&b, "<trkpt lat=\"%.7f\" lon=\"3.1000000\"><ele>%.2f</ele></trkpt>\n", 47.3+float64(i)*stepDeg, ele)
	}
	b.WriteString("</trkseg></trk>\n</gpx>\n")
	return []byte(b.String())
}

// runBrief runs the brief command on the course file and returns what it prints.
func runBrief(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr strings.Builder
	args = append([]string{"brief", "-"}, args...)
	if code := run(args, strings.NewReader(string(courseFile())), &stdout, &stderr); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr.String())
	}
	return stdout.String()
}

func TestBriefCommand(t *testing.T) {
	for _, tc := range []struct {
		golden string
		args   []string
	}{
		{"brief.txt", []string{"--rider", "mass=72,power=250,name=Ada"}},
		{"brief.md", []string{"--format=markdown", "--units=imperial", "--rider", "mass=60,power=200", "--rider", "mass=85,power=280,cp=260,wprime=9000"}},
		{"brief-short.txt", []string{"--max-chars=200"}},
		{"brief-itinerary.txt", []string{"--itinerary", "--start-clock=23:55", "--max-chars=2000"}},
		{"brief-itinerary.csv", []string{"--format=csv", "--speed=38,40,42", "--neutral-m=500", "--neutral-s=90"}},
		{"brief-paced.txt", []string{"--rider", "mass=72,name=Ada,cp=255,wprime=14000,effort=best"}},
	} {
		t.Run(tc.golden, func(t *testing.T) {
			golden.Check(t, tc.golden, runBrief(t, tc.args...))
		})
	}
}

func TestBriefCommandPlans(t *testing.T) {
	text := runBrief(t, "--rider", "mass=72,cp=250,wprime=18000,effort=best,name=Ada", "--rider", "mass=72,power=250,name=Bo")
	if strings.Count(text, "Paced by a plan") != 1 || !strings.Contains(text, "Ada") {
		t.Errorf("one of the riders follows a plan:\n%s", text)
	}
	var stdout, stderr strings.Builder
	code := run([]string{"brief", "-", "--rider", "mass=72,effort=best"}, strings.NewReader(string(courseFile())), &stdout, &stderr)
	if code != exitUsage || !strings.Contains(stderr.String(), "needs cp and wprime") {
		t.Errorf("a plan without a capability: exit code %d: %s", code, stderr.String())
	}
}

// TestBriefOptions demands that every option of a course changes the course, and that
// its environment twin does the same.
func TestBriefOptions(t *testing.T) {
	id := func(args ...string) string {
		var doc struct {
			CourseID string `json:"course_id"`
		}
		if err := json.Unmarshal([]byte(runBrief(t, append(args, "--format=json")...)), &doc); err != nil {
			t.Fatal(err)
		}
		return doc.CourseID
	}
	seen := map[string]string{id(): "no option"}
	for flag, value := range map[string]string{
		"name": "Another", "lap-line": "Market line", "reverse": "true", "smoothing": "light", "spacing-m": "20", "ascent-threshold-m": "3",
		"start-m": "300", "end-m": "3000", "mark": "name=Mill,kind=sprint,at_m=900",
	} {
		byFlag := id("--" + flag + "=" + value)
		if other, ok := seen[byFlag]; ok {
			t.Errorf("--%s and %s come to the same", flag, other)
		}
		seen[byFlag] = flag
		twin := "PARCOURS_" + strings.ToUpper(strings.ReplaceAll(flag, "-", "_"))
		t.Setenv(twin, value)
		if byTwin := id(); byTwin != byFlag {
			t.Errorf("%s doesn't do what --%s does", twin, flag)
		}
		os.Unsetenv(twin) //nolint:errcheck // t.Setenv puts it back
	}
}

// TestItineraryFlags demands that every flag of an itinerary asks for one and changes it,
// and that its environment twin does the same.
func TestItineraryFlags(t *testing.T) {
	seen := map[string]string{runBrief(t): "no flag"}
	for flag, value := range map[string]string{"itinerary": "true", "speed": "30,31", "start-clock": "09:30", "neutral-s": "60"} {
		byFlag := runBrief(t, "--"+flag+"="+value)
		if other, ok := seen[byFlag]; ok || !strings.Contains(byFlag, "Itinerary") {
			t.Errorf("--%s comes to the same as %s:\n%s", flag, other, byFlag)
		}
		seen[byFlag] = flag
		twin := "PARCOURS_" + strings.ToUpper(strings.ReplaceAll(flag, "-", "_"))
		t.Setenv(twin, value)
		if runBrief(t) != byFlag {
			t.Errorf("%s doesn't do what --%s does", twin, flag)
		}
		os.Unsetenv(twin) //nolint:errcheck // t.Setenv puts it back
	}
	if mph := runBrief(t, "--speed=25", "--units=imperial"); !strings.Contains(mph, "Times at 25.0 mph.") {
		t.Errorf("speeds in mph:\n%s", mph)
	}
}

func TestItineraryFlagsRefused(t *testing.T) {
	for says, args := range map[string][]string{
		"--speed: 4":      {"--speed=30,31,32,33"},
		"--speed: 0.8":    {"--speed=3"},
		"--start-clock":   {"--start-clock=9:30"},
		"--neutral-m":     {"--neutral-m=100001"},
		"--neutral-s":     {"--neutral-s=-1"},
		"--max-chars: a ": {"--max-chars=500", "--format=csv"},
	} {
		var stdout, stderr strings.Builder
		code := run(append([]string{"brief", "-"}, args...), strings.NewReader(string(courseFile())), &stdout, &stderr)
		if code != exitUsage || stdout.Len() > 0 || !strings.Contains(stderr.String(), says) {
			t.Errorf("%v: exit code %d, %q", args, code, stderr.String())
		}
	}
}

func TestBriefCommandInJSON(t *testing.T) {
	var doc struct {
		CourseID string `json:"course_id"`
		Text     string
		Facts    []struct{ Name string }
		Cautions []string
		Omitted  int `json:"omitted_count"`
	}
	if err := json.Unmarshal([]byte(runBrief(t, "--format=json", "--max-chars=300")), &doc); err != nil {
		t.Fatal(err)
	}
	if len(doc.CourseID) != 32 || len(doc.Facts) == 0 || len(doc.Cautions) == 0 || doc.Omitted == 0 || utf8.RuneCountInString(doc.Text) > 300 {
		t.Errorf("%+v", doc)
	}
}

func TestBriefCommandReadsAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "course.gpx")
	if err := os.WriteFile(path, courseFile(), 0o600); err != nil {
		t.Fatal(err)
	}
	var stdout, stderr strings.Builder
	if code := run([]string{"brief", path}, strings.NewReader(""), &stdout, &stderr); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr.String())
	}
	if stdout.String() != runBrief(t) {
		t.Error("a file and standard input give two briefs")
	}
}

func TestBriefCommandFails(t *testing.T) {
	for _, tc := range []struct{ name, content, says string }{
		{"nothing", "", "GPX"},
		{"no format at all", "just words", "GPX"},
		{"JSON of another kind", "{}", "GeoJSON"},
		{"cut off", string(courseFile()[:900]), "line"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var stdout, stderr strings.Builder
			code := run([]string{"brief", "-"}, strings.NewReader(tc.content), &stdout, &stderr)
			if code != exitFailed || stdout.Len() > 0 || !strings.Contains(stderr.String(), tc.says) {
				t.Errorf("exit code %d, %q, %q; want it to say %q", code, stdout.String(), stderr.String(), tc.says)
			}
		})
	}
}
