package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/internal/golden"
	"parcours.example/service/engine"
)

// asProgram makes the test's own binary be the program, for tests that need a process.
const asProgram = "PARCOURS_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	program := os.Getenv(asProgram) != ""
	for _, pair := range os.Environ() {
		if name, _, _ := strings.Cut(pair, "="); strings.HasPrefix(name, "PARCOURS_") && name != "PARCOURS_REQUIRE" && name != "PARCOURS_FULL" && name != "PARCOURS_SEED" {
			if err := os.Unsetenv(name); err != nil {
				panic(err)
			}
		}
	}
	if program {
		main()
	}
	code := m.Run()
	stop()
	os.Exit(code)
}

// address is where the service answers that all tests ask; stop ends it.
var address, stop = serve()

// serve starts the service on a port.
func serve() (address string, stop func()) {
	if os.Getenv(asProgram) != "" {
		return "", func() {}
	}
	registry := prometheus.NewRegistry()
	running, err := engine.New(engine.Config{Registerer: registry})
	if err != nil {
		panic(err)
	}
	handler, err := api.New(api.Config{Engine: running, Registry: registry, Ready: func() bool { return true }, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		panic(err)
	}
	server := httptest.NewServer(handler)
	return server.URL, func() { server.CloseClientConnections(); server.Close(); running.Close() }
}

// The files that tests ask about.
const (
	seasonDir = "../../../testdata/season/"
	laps      = seasonDir + "morvask-laps-and-climb.gpx"
	criterium = seasonDir + "quellmere-criterium.gpx"
	oneLap    = seasonDir + "morvask-laps-and-climb-lap.gpx"
	examples  = "../../../testdata/examples/"
)

// Riders of tests.
const (
	nour = "name=Nour,mass=61,power=230,cp=245,wprime=15000"
	bram = "name=Bram,mass=82,power=300,cp=310,wprime=21000"
)

// said is what a run of the program came to.
type said struct {
	code     int
	out, err string
}

// ask runs the program in this process.
func ask(t *testing.T, stdin string, args ...string) said {
	t.Helper()
	var out, errs bytes.Buffer
	code := run(args, streams{strings.NewReader(stdin), &out, &errs})
	return said{code, out.String(), errs.String()}
}

// done runs the program, and fails the test where that isn't done.
func done(t *testing.T, args ...string) string {
	t.Helper()
	s := ask(t, "", append(args, "--server", address)...)
	if s.code != exitDone || s.err != "" {
		t.Fatalf("%q: exit code %d, %s", args, s.code, s.err)
	}
	return s.out
}

// file writes a file of the test's.
func file(t *testing.T, name, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

const ridersTable = "name,mass_kg,power_w,critical_power_w,w_prime_j,max_power_w\nNour,61,230,245,15000,780\nBram,82,300,310,21000,1100\n"

// What people read, in the words and numbers of each command.
func TestTablesAreAsTheyWereRead(t *testing.T) {
	riders := file(t, "riders.csv", ridersTable)
	for name, args := range map[string][]string{
		"analyse":         {"analyse", laps},
		"analyse_several": {"analyse", laps, criterium},
		"analyse_climbs":  {"analyse", laps, "--table", "sections,steepest,descents,gradients", "--units", "imperial"},
		"analyse_csv":     {"analyse", laps, criterium, "--csv"},
		"brief":           {"brief", laps, "--rider", nour, "--max-chars", "600"},
		"predict":         {"predict", laps, "--riders", riders, "--wind-mps", "4", "--wind-from-deg", "250"},
		"predict_splits":  {"predict", criterium, "--rider", nour, "--splits", "--food", "--units", "imperial"},
		"predict_csv":     {"predict", laps, "--riders", riders, "--setup", "name=all-round", "--setup", "name=light,mass=6.8", "--csv"},
		"predict_assumed": {"predict", laps, "--rider", nour, "--indoor", "--assumptions"},
		"plan":            {"plan", seasonDir + "skarnholt-hill-climb.gpx", "--rider", nour, "--power", "240"},
		"compare":         {"compare", laps, "--rider", nour, "--setup", "name=light,mass=6.8", "--setup", "name=aero,mass=7.9,cda_change=-0.015", "--ambition", "finish", "--ambition", "climb=climb-5,name=Wall"},
		"launch":          {"launch", laps, "--riders", riders, "--line", "mark=mark-3,pass=2"},
		"aid":             {"aid", laps, "--rider", nour, "--aid", "name=tuck,drag=0.8,duration=20"},
		"race":            {"race", criterium, "--riders", riders, "--runs", "20", "--duel", "Nour,Bram"},
		"after":           {"after", examples + "orchard-loop.gpx", examples + "orchard-loop-nour.fit", examples + "orchard-loop-bram.fit", "--rider", bram, "--rider", nour},
		"fit":             {"fit", "--effort", "3:00=360", "--effort", "5:00=330", "--effort", "12:00=290W"},
		"assemble":        {"assemble", "file=" + oneLap + ",repeat=2", oneLap, "--name", "Three times", "--table", "parts"},
		"completion_bash": {"completion", "bash"},
		"completion_fish": {"completion", "fish"},
	} {
		t.Run(name, func(t *testing.T) { golden.Check(t, name+".txt", done(t, args...)) })
	}
}

// What --help says, of all and of each command.
func TestHelp(t *testing.T) {
	var all strings.Builder
	for _, name := range []string{"", "analyse", "brief", "draw", "predict", "plan", "compare", "launch", "aid", "race", "season", "after", "fit", "assemble", "server", "completion"} {
		args := []string{"--help"}
		if name != "" {
			args = []string{name, "--help"}
		}
		s := ask(t, "", args...)
		if s.code != exitDone || s.err != "" {
			t.Errorf("%s: exit code %d, %s", name, s.code, s.err)
		}
		all.WriteString("$ parcours " + strings.Join(args, " ") + "\n" + s.out + "\n")
	}
	golden.Check(t, "help.txt", all.String())
}

// Every table for spreadsheets has one header, and as many cells in each line.
func TestSpreadsheets(t *testing.T) {
	riders := file(t, "riders.csv", ridersTable)
	setups := []string{"--setup", "name=light,mass=6.8", "--setup", "name==1+1,mass=7.9"}
	for _, args := range [][]string{
		{"analyse", laps, "--table", "parts"},
		{"analyse", laps, "--table", "climbs"},
		{"analyse", laps, "--table", "sections"},
		{"analyse", laps, "--table", "steepest"},
		{"analyse", laps, "--table", "descents"},
		{"analyse", laps, "--table", "marks"},
		{"analyse", laps, "--table", "bends"},
		{"analyse", laps, "--table", "gradients"},
		{"analyse", laps, "--table", "warnings"},
		{"brief", laps},
		{"predict", laps, "--riders", riders, "--splits"},
		{"plan", criterium, "--riders", riders},
		append([]string{"compare", criterium, "--riders", riders}, setups...),
		{"launch", laps, "--riders", riders},
		{"aid", criterium, "--riders", riders, "--aid", "duration=20,drag=0.8"},
		{"race", criterium, "--riders", riders, "--runs", "5"},
		{"fit", "--effort", "3:00=360", "--effort", "12:00=290"},
		{"after", examples + "orchard-loop.gpx", examples + "orchard-loop-nour.fit", "--rider", nour, "--trim", "300"},
	} {
		out := done(t, append(args, "--csv")...)
		if strings.Count(out, "\n") != strings.Count(out, "\r\n") {
			t.Errorf("%q: lines don't end as RFC 4180 has them", args)
		}
		lines, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if err != nil || len(lines) < 1 {
			t.Errorf("%q: %d lines, %v", args, len(lines), err)
		}
		for _, line := range lines {
			if slices.ContainsFunc(line, func(cell string) bool { return strings.HasPrefix(cell, "=") }) {
				t.Errorf("%q: a formula: %q", args, line)
			}
		}
	}
}

// What --json prints is the service's answer to the byte, from a server as from within.
func TestAnswersComeAsTheyAre(t *testing.T) {
	content, err := os.ReadFile(criterium)
	if err != nil {
		t.Fatal(err)
	}
	reply, err := http.Post(address+"/v1/courses", "", bytes.NewReader(content)) //nolint:noctx // of a test
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	want, err := io.ReadAll(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	var course struct {
		CourseID string `json:"course_id"`
	}
	if err := json.Unmarshal(want, &course); err != nil {
		t.Fatal(err)
	}
	picture := filepath.Join(t.TempDir(), "picture.svg")
	for _, args := range [][]string{
		{"analyse", criterium}, {"analyse", "-"}, {"analyse", course.CourseID}, {"analyse", criterium, "--picture", picture},
	} {
		s := ask(t, string(content), append(args, "--json", "--server", address)...)
		if strings.TrimRight(s.out, "\n") != strings.TrimRight(string(want), "\n") || s.code != exitDone {
			t.Errorf("%q: exit code %d, %s%.200s", args, s.code, s.err, s.out)
		}
	}
	if s := ask(t, string(content), "analyse", "-", "--json", "--local"); strings.TrimRight(s.out, "\n") != strings.TrimRight(string(want), "\n") {
		t.Errorf("here: exit code %d, %s%.200s", s.code, s.err, s.out)
	}
	remote := done(t, "predict", course.CourseID, "--rider", nour)
	if local := ask(t, "", "predict", criterium, "--rider", nour, "--local"); remote != local.out {
		t.Errorf("from a server\n%s\nfrom within\n%s%s", remote, local.err, local.out)
	}
	if drawn, err := os.ReadFile(picture); err != nil || !bytes.Contains(drawn, []byte("</svg>")) {
		t.Errorf("the picture: %v", err)
	}
}

// Pictures go to files, whole or not at all.
func TestPictures(t *testing.T) {
	for _, args := range [][]string{
		{"draw", criterium, "--focus", "map", "--width", "480", "--theme", "dark"},
		{"predict", criterium, "--rider", nour},
		{"plan", criterium, "--rider", nour},
		{"assemble", oneLap, oneLap},
	} {
		name := filepath.Join(t.TempDir(), "a.svg")
		if args[0] == "draw" {
			name = filepath.Join(t.TempDir(), "a.png")
		}
		done(t, append(args, "--picture", name)...)
		drawn, err := os.ReadFile(name)
		if err != nil || !bytes.HasPrefix(drawn, []byte("\x89PNG")) && !bytes.HasSuffix(bytes.TrimSpace(drawn), []byte("</svg>")) {
			t.Errorf("%q: %v", args, err)
		}
		if left, err := os.ReadDir(filepath.Dir(name)); err != nil || len(left) != 1 {
			t.Errorf("%q: %v left, %v", args, left, err)
		}
	}
}

// What goes wrong is one readable line for each fault, which says what of the command line or
// of which file is at fault.
func TestFaults(t *testing.T) {
	bad := file(t, "bad.gpx", "<gpx><trk><trkseg><trkpt lat=\"x\"")
	riders := file(t, "riders.csv", "name,mass_kg\nNour,600\n")
	request := file(t, "request.json", `{"riders": [{"mass_kg": 61}], "colour": 1}`)
	heavy := file(t, "heavy.json", `{"riders": [{"mass_kg": 61}, {"mass_kg": 600}]}`)
	for _, tc := range []struct {
		args []string
		code int
		says []string
	}{
		{[]string{"analyse"}, exitUsage, []string{"course"}},
		{[]string{"analyse", "nowhere.gpx"}, exitFailed, []string{"parcours: nowhere.gpx: no such file or directory"}},
		{[]string{"analyse", bad}, exitFailed, []string{"bad.gpx: line 1: "}},
		{[]string{"analyse", laps, bad}, exitFailed, []string{"bad.gpx: line 1: "}},
		{[]string{"analyse", laps, "--laps", "999"}, exitFailed, []string{"morvask-laps-and-climb.gpx: --laps: number must be at most 200"}},
		{[]string{"analyse", laps, "--mark", "name=Mill"}, exitFailed, []string{"--mark: The mark can't be read"}},
		{[]string{"analyse", laps, "-"}, exitUsage, []string{"standard input"}},
		{[]string{"analyse", laps, "--json", "--csv"}, exitUsage, []string{"--json"}},
		{[]string{"analyse", laps, criterium, "--picture", "x.svg"}, exitUsage, []string{"one course"}},
		{[]string{"analyse", laps, "--server", "http://127.0.0.1:1"}, exitFailed, []string{"no service answers at http://127.0.0.1:1"}},
		{[]string{"analyse", strings.Repeat("0", 32)}, exitFailed, []string{"give the course's file"}},
		{[]string{"draw", laps, "--picture", "x.gif"}, exitUsage, []string{".svg or .png"}},
		{[]string{"draw", laps}, exitUsage, []string{"--picture"}},
		{[]string{"draw", laps, "--picture", filepath.Join(t.TempDir(), "x.svg"), "--focus", "climb-77"}, exitFailed, []string{"climb-77"}},
		{[]string{"predict", laps}, exitUsage, []string{"--rider mass=72,power=250"}},
		{[]string{"predict", "--rider", nour}, exitUsage, []string{"name a course's file"}},
		{[]string{"predict", laps, "--rider", "mass=72"}, exitUsage, []string{"rider 1 has no power"}},
		{[]string{"predict", laps, "--rider", "mass=9,power=1", "--rider", "colour=red"}, exitUsage, []string{"from 20 to 250 kg", "colour"}},
		{[]string{"predict", laps, "--riders", riders}, exitUsage, []string{"riders.csv: line 2: mass_kg"}},
		{[]string{"predict", laps, "--rider", nour, "--wind-mps", "99"}, exitFailed, []string{"--wind-mps: number must be at most 40"}},
		{[]string{"predict", laps, "--rider", nour, "--setup", "crr=9"}, exitFailed, []string{"--setup 1 crr: "}},
		{[]string{"predict", laps, "--rider", nour, "--setup", "wheels=9"}, exitUsage, []string{`"wheels" is not known`}},
		{[]string{"predict", laps, "--rider", nour, "--setup", "mass=light"}, exitUsage, []string{"mass_kg is not a number"}},
		{[]string{"predict", laps, "--rider", nour, "--power", "200", "--best"}, exitUsage, []string{"--power"}},
		{[]string{"predict", laps, "--rider", nour, "--in-time", "1:99:00"}, exitUsage, []string{"1:45:00"}},
		{[]string{"predict", laps, "--rider", "mass=70,power=20"}, exitFailed, []string{"comes to a halt"}},
		{[]string{"predict", laps, "--rider", "mass=70,cp=250,wprime=15000,effort=best", "--rider", nour}, exitUsage, []string{"effort=best"}},
		{[]string{"predict", laps, "--request", request}, exitUsage, []string{`request.json: unknown field "colour"`}},
		{[]string{"predict", laps, "--request", heavy, "--power", "200"}, exitFailed, []string{"riders/1/mass_kg: "}},
		{[]string{"compare", laps, "--rider", nour}, exitUsage, []string{"set-ups to compare"}},
		{[]string{"compare", laps, "--rider", nour, "--setup", "name=a", "--setup", "name=b", "--ambition", "climb=climb-99"}, exitFailed, []string{"--ambition 1"}},
		{[]string{"race", laps, "--rider", "mass=70,power=200"}, exitUsage, []string{"cp and wprime"}},
		{[]string{"after", laps}, exitUsage, []string{"recordings"}},
		{[]string{"after", laps, criterium, oneLap, "--rider", nour, "--rider", nour, "--rider", bram}, exitUsage, []string{"3 riders for 2 recordings"}},
		{[]string{"after", laps, criterium, "--rider", nour}, exitFailed, []string{"quellmere-criterium.gpx"}},
		{[]string{"fit"}, exitUsage, []string{"--effort 5:00=330"}},
		{[]string{"fit", "--effort", "330"}, exitUsage, []string{"5:00=330"}},
		{[]string{"fit", "--effort", "5:00=330"}, exitFailed, []string{""}},
		{[]string{"assemble", "repeat=2"}, exitUsage, []string{"a file or an id"}},
		{[]string{"server", "ready", "--server", "ftp://x"}, exitUsage, []string{"--server"}},
		{[]string{"server", "ready", "--key-file", "nowhere"}, exitFailed, []string{"--key-file"}},
		{[]string{"predict", laps, "--rider", nour, "--timeout", "1ns"}, exitFailed, []string{"--timeout"}},
	} {
		args := tc.args
		if !slices.Contains(args, "--server") {
			args = append(args, "--server", address)
		}
		s := ask(t, "", args...)
		if s.code != tc.code {
			t.Errorf("%q: exit code %d, want %d: %s", tc.args, s.code, tc.code, s.err)
		}
		for _, words := range tc.says {
			if !strings.Contains(s.err, words) {
				t.Errorf("%q says %q, want %q", tc.args, s.err, words)
			}
		}
		if s.err == "" || strings.Contains(s.err, "client:") || strings.Contains(s.err, "#/") {
			t.Errorf("%q says %q", tc.args, s.err)
		}
	}
}

// A key is sent, and where one is wanted it is said how to give it.
func TestKeys(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("Authorization") == "Bearer sesame" && strings.HasPrefix(r.UserAgent(), "parcours/") {
			w.Header().Set("Content-Type", "text/plain")
			_, _ = io.WriteString(w, "open\n")
			return
		}
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(http.StatusUnauthorized)
		_, _ = io.WriteString(w, `{"type":"/problems/key-required","title":"A key is required","status":401}`)
	}))
	defer server.Close()
	if s := ask(t, "", "server", "metrics", "--server", server.URL, "--key-file", file(t, "key", "sesame\n")); s.out != "open\n" {
		t.Errorf("%+v", s)
	}
	if s := ask(t, "", "server", "metrics", "--server", server.URL); s.code != exitFailed || !strings.Contains(s.err, "--key-file") {
		t.Errorf("%+v", s)
	}
	t.Setenv("PARCOURS_SERVER", server.URL)
	t.Setenv("PARCOURS_KEY_FILE", file(t, "key", "sesame"))
	if s := ask(t, "", "server", "metrics"); s.out != "open\n" {
		t.Errorf("%+v", s)
	}
}

// Every call is reachable, and what comes of one goes into the next.
func TestOnGoesWhatCame(t *testing.T) {
	steps := file(t, "steps.csv", done(t, "plan", criterium, "--rider", nour, "--csv"))
	planned := done(t, "predict", criterium, "--rider", nour, "--steps", steps, "--json")
	var answer struct {
		Predictions []struct {
			TimeS float64 `json:"time_s"`
		}
	}
	if err := json.Unmarshal([]byte(planned), &answer); err != nil || answer.Predictions[0].TimeS < 1000 {
		t.Errorf("%v: %.200s", err, planned)
	}
	request := file(t, "request.json", `{"riders": [{"name": "Ada", "mass_kg": 58, "power_w": 210}], "effort": {"kind": "own_power"}}`)
	if out := done(t, "predict", criterium, "--request", request); !strings.Contains(out, "Ada") || !strings.Contains(out, "210") {
		t.Error(out)
	}
	if out := done(t, "predict", criterium, "--request", request, "--power", "222"); !strings.Contains(out, "222") {
		t.Error(out)
	}
	efforts := ask(t, "duration_s,power_w\n180,360\n720,290\n", "fit", "-", "--local")
	if !strings.Contains(efforts.out, "Critical power") {
		t.Errorf("%+v", efforts)
	}
	if out := done(t, "server", "contract"); !strings.HasPrefix(out, "openapi:") && !strings.Contains(out, "openapi: 3.0.3") {
		t.Errorf("%.100s", out)
	}
	if out := done(t, "server", "live"); !strings.Contains(out, "engine version") {
		t.Error(out)
	}
	if out := done(t, "server", "demo", "quellmere-criterium"); !strings.Contains(out, "<gpx") {
		t.Errorf("%.100s", out)
	}
	if out := done(t, "brief", criterium, "--speed", "38,40", "--csv"); !strings.Contains(out, "covered_km") {
		t.Errorf("%.100s", out)
	}
}
