package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"parcours.example/internal/golden"
)

// folder writes a season: files of courses by their names, and some that are made up.
func folder(t *testing.T, courses map[string]string, others map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	put := func(name string, content []byte) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, from := range courses {
		content, err := os.ReadFile(seasonDir + from)
		if err != nil {
			t.Fatal(err)
		}
		put(name, content)
	}
	for name, content := range others {
		put(name, []byte(content))
	}
	return dir
}

// zipOf is an archive of course files.
func zipOf(t *testing.T, courses ...string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range courses {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		content, err := os.ReadFile(seasonDir + name)
		if err == nil {
			_, err = w.Write(content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A season is told round by round in the order in which people count, with archives, and with a
// round that is broken as a row that says so.
func TestSeason(t *testing.T) {
	dir := folder(t, map[string]string{
		"week-10.gpx": "skarnholt-hill-climb.gpx", "week-9.gpx": "quellmere-criterium.gpx", "week-1/lap.gpx": "hoskerrow-eight-lap.gpx",
	}, map[string]string{
		"week-2.gpx": "<gpx>", "notes.txt": "no round", ".hidden.gpx": "no round", "week-3.zip": zipOf(t, "quellmere-criterium-lap.gpx", "morvask-laps-and-climb-lap.gpx"),
	})
	riders := file(t, "riders.csv", ridersTable+"Ada,58,200,220,14000,\n")
	args := []string{"season", dir, "--riders", riders}
	asked := slices.Concat(args, []string{"--server", address})
	s := ask(t, "", asked...)
	if s.code != exitFailed || s.err != "" {
		t.Errorf("exit code %d, want %d for a broken round; %s", s.code, exitFailed, s.err)
	}
	golden.Check(t, "season.txt", s.out)
	for _, name := range []string{"rounds", "times", "riders", "suited"} {
		golden.Check(t, "season_"+name+".csv", ask(t, "", slices.Concat(asked, []string{"--csv", "--table", name})...).out)
	}
	if local := ask(t, "", slices.Concat(args, []string{"--local"})...); local.out != s.out || local.code != s.code {
		t.Errorf("from within\n%s%s", local.err, local.out)
	}
	lines := json.NewDecoder(strings.NewReader(ask(t, "", slices.Concat(asked, []string{"--json"})...).out))
	items, ended := 0, false
	for {
		var line map[string]json.RawMessage
		if err := lines.Decode(&line); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if line["item"] != nil {
			items++
		}
		ended = line["end"] != nil
	}
	if items != 6 || !ended {
		t.Errorf("%d items, ended: %t", items, ended)
	}
	if one := ask(t, "", "season", filepath.Join(dir, "week-9.gpx"), "--server", address); one.code != exitDone || !strings.Contains(one.out, "Quellmere") {
		t.Errorf("%+v", one)
	}
}

// On a terminal a season shows how far it is, and stays within the width.
func TestSeasonOnATerminal(t *testing.T) {
	dir := folder(t, map[string]string{"1.gpx": "skarnholt-hill-climb.gpx", "2.gpx": "quellmere-criterium-lap.gpx"}, map[string]string{"3.gpx": "<gpx>"})
	output, code := onTerminal(t, program(t, []string{unstyled + "=1"}, "season", dir, "--rider", nour, "--server", address), nil)
	if code != exitFailed || !strings.Contains(output, "rounds") || !strings.Contains(output, "/3)") {
		t.Errorf("exit code %d: %q", code, output)
	}
	shown := output[strings.LastIndex(output, "\r")+1:]
	for _, line := range strings.Split(shown, "\n") {
		if !strings.Contains(line, "\x1b") && wide(line) > 80 {
			t.Errorf("%d columns: %q", wide(line), line)
		}
	}
}

func TestSeasonFaults(t *testing.T) {
	empty := t.TempDir()
	request := file(t, "season.json", `{"rounds": [{"course": {"profile": {"distance_m": [0, 5000], "elevation_m": [0, 9]}}}], "riders": [{"mass_kg": 70}], "effort": {"kind": "power", "power_w": 5}}`)
	for _, tc := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{}, exitUsage, "name the folder"},
		{[]string{empty}, exitFailed, "there is no route file in it"},
		{[]string{filepath.Join(empty, "nowhere")}, exitFailed, "no such file"},
		{[]string{seasonDir, "--request", request}, exitUsage, "not both"},
		{[]string{seasonDir, "--rider", "mass=70"}, exitUsage, "no power"},
		{[]string{"--request", request}, exitDone, ""},
	} {
		s := ask(t, "", append(append([]string{"season"}, tc.args...), "--server", address)...)
		if s.code != tc.code || !strings.Contains(s.err, tc.says) {
			t.Errorf("%q: exit code %d, %s", tc.args, s.code, s.err)
		}
	}
	s := ask(t, "", "season", criterium, "--rider", "name=Ada,mass=70,power=1", "--server", address)
	if s.code != exitFailed || !strings.Contains(s.out, "Without a time\n- Ada, Quellmere Criterium: ") {
		t.Errorf("exit code %d: %s%s", s.code, s.err, s.out)
	}
}
