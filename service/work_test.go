package main

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// parseWork reads a command line as a worker does.
func parseWork(t *testing.T, args ...string) workCommand {
	t.Helper()
	var cli commands
	parser, err := newParser(&cli)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parser.Parse(append([]string{"work"}, args...)); err != nil {
		t.Fatal(err)
	}
	return cli.Work
}

func TestWorkersSettings(t *testing.T) {
	c := parseWork(t, "--redis-url=redis://a:1", "--jobs-redis-url=redis://b:1", "--job-workers=3")
	s, err := c.check()
	if err != nil || s.jobWorkers != 3 || !s.jobsOnly || s.jobsRedisURLs[0] != "redis://b:1" || s.shown["job-workers"] != "3" {
		t.Errorf("%+v, %v", s, err)
	}
	for fault, args := range map[string][]string{
		"--jobs-redis-url (": {},
		"--redis-url":        {"--jobs-redis-url=redis://b:1"},
		"--job-workers (":    {"--redis-url=redis://a:1", "--jobs-redis-url=redis://b:1", "--job-workers=0"},
		"--listen (":         {"--redis-url=redis://a:1", "--jobs-redis-url=redis://b:1", "--listen=x"},
	} {
		c := parseWork(t, args...)
		if _, err := c.check(); err == nil || !strings.Contains(err.Error(), fault) {
			t.Errorf("%v: %v", args, err)
		}
	}
}

// A worker answers those who look after it and nobody else.
func TestWorkersAnswerProbes(t *testing.T) {
	h := probesOnly(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) }))
	for path, want := range map[string]int{"/livez": 204, "/readyz": 204, "/metrics": 204, "/": 404, "/v1/courses": 404, "/docs": 404} {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		if w.Code != want {
			t.Errorf("%s: status %d, want %d", path, w.Code, want)
		}
	}
}
