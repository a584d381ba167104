package main

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"parcours.example/internal/browsertest"
)

func TestMain(m *testing.M) { os.Exit(browsertest.Main(m)) }

func TestWrongCommandLines(t *testing.T) {
	in := invented(t)
	roster := "--riders=" + in.riders
	for _, args := range [][]string{
		{},
		{in.folder},
		{in.folder, roster, "--every=1ms"},
		{in.folder + "/none", roster},
		{in.folder, roster, "--key-file=/nowhere/key"},
		{in.folder, roster, "--server=courses.example"},
		{in.folder, roster, "--colour"},
		{in.folder, "--riders=" + in.path("round-3-words.gpx")},
	} {
		var out, err bytes.Buffer
		if code := run(t.Context(), args, &out, &err); code != exitUsage || !strings.HasPrefix(err.String(), "parcours-dashboard: ") {
			t.Errorf("%q: %d, %s", args, code, &err)
		}
	}
	var out bytes.Buffer
	if code := run(t.Context(), []string{"--help"}, &out, &out); code != exitDone || !strings.Contains(out.String(), "It asks for no password") && !strings.Contains(strings.Join(strings.Fields(out.String()), " "), "It asks for no password") {
		t.Errorf("--help: %d, %s", code, &out)
	}
}

// The program as it is started: it serves its own answer and ends when it is told to.
func TestProgram(t *testing.T) {
	in := invented(t)
	ctx, stop := context.WithCancel(t.Context())
	log := make(lines, 100)
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{in.folder, "--riders", in.riders, "--local", "--listen", "127.0.0.1:0", "--every", "1s"}, log, log)
	}()
	url := log.wait(t, regexp.MustCompile(`url=(\S+)`))
	log.wait(t, regexp.MustCompile(`answered rounds=(3)`))
	reply, err := http.Get(url + "answers.json")
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	var got shown
	if err := json.NewDecoder(reply.Body).Decode(&got); err != nil || got.State.Kind != current || got.Title != titleOf(filepath.ToSlash(in.folder)) {
		t.Errorf("%+v, %v", got.State, err)
	}
	stop()
	select {
	case code := <-ended:
		if code != exitDone {
			t.Errorf("it ends with %d", code)
		}
	case <-time.After(browsertest.Patience):
		t.Error("it doesn't end")
	}
}

// lines takes what a program writes, line by line.
type lines chan string

// Write implements io.Writer.
func (l lines) Write(p []byte) (int, error) {
	l <- string(p)
	return len(p), nil
}

// wait returns what a pattern finds in a line to come.
func (l lines) wait(t *testing.T, pattern *regexp.Regexp) string {
	t.Helper()
	late := time.After(browsertest.Patience)
	for {
		select {
		case line := <-l:
			if found := pattern.FindStringSubmatch(line); found != nil {
				return found[1]
			}
		case <-late:
			t.Fatalf("no line with %s", pattern)
		}
	}
}
