package main

import (
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/internal/replica"
)

// asked returns what the admin listener answers under some settings.
func asked(t *testing.T, path string, args ...string) *httptest.ResponseRecorder {
	t.Helper()
	c := parse(t, args...)
	s, err := c.check()
	if err != nil {
		t.Fatal(err)
	}
	registry := prometheus.NewRegistry()
	registry.MustRegister(thisBuild().metric())
	w := httptest.NewRecorder()
	admin(s, registry).ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

func TestAdminAnswers(t *testing.T) {
	for path, holds := range map[string]string{
		"/": "/debug/pprof/", "/metrics": "parcours_build_info{", "/build": `"engine_version": "`, "/debug/pprof/": "goroutine",
		"/debug/pprof/goroutine?debug=1": "goroutine profile:",
	} {
		if w := asked(t, path); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), holds) {
			t.Errorf("%s: status %d: %.200s", path, w.Code, w.Body)
		}
	}
	for _, path := range []string{"/debug/pprof/cmdline", "/v1/courses", "/livez"} {
		if w := asked(t, path); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}

// The administrator sees every setting, and no password.
func TestConfigurationIsShownWithoutSecrets(t *testing.T) {
	w := asked(t, "/configuration", "--redis-url=redis://zebedee:sesame@a:6379,redis://zebedee:sesame@b:6379", "--queue-wait=750ms")
	var got map[string]string
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(w.Body.String(), "sesame") || strings.Contains(w.Body.String(), "zebedee") {
		t.Errorf("a secret is shown: %s", w.Body)
	}
	if got["redis-url"] != "redis://a:6379,redis://b:6379" || got["queue-wait"] != "750ms" {
		t.Errorf("%v", got)
	}
	var cli commands
	parser, err := newParser(&cli)
	if err != nil {
		t.Fatal(err)
	}
	var flags []string
	for _, node := range parser.Model.Children {
		if node.Name != "serve" {
			continue
		}
		for _, flag := range node.Flags {
			flags = append(flags, flag.Name)
		}
	}
	slices.Sort(flags)
	if shown := slices.Sorted(maps.Keys(got)); !slices.Equal(shown, flags) {
		t.Errorf("shown are %v,\nflags are %v", shown, flags)
	}
}

func TestWithoutSecrets(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "127.0.0.1:80": "127.0.0.1:80", "redis://a:1": "redis://a:1", "rediss://u:p@a:1/2?master=m,rediss://u:p@b:1": "rediss://a:1/2?master=m,rediss://b:1",
		"redis://u:p%@a:1": "…",
	} {
		if got := withoutSecrets(text); got != want {
			t.Errorf("%q shown as %q, want %q", text, got, want)
		}
	}
}

// A service with an admin listener keeps its two addresses apart.
func TestAdminListensApart(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	p := replica.Start(t, "PARCOURS_ADMIN_LISTEN=127.0.0.1:0")
	status := func(url string) int {
		reply, err := http.Get(url)
		if err != nil {
			t.Fatal(err)
		}
		defer reply.Body.Close()
		return reply.StatusCode
	}
	if got := status("http://" + p.AdminAddress + "/debug/pprof/heap"); got != http.StatusOK {
		t.Errorf("profiles: status %d", got)
	}
	for _, path := range []string{"/debug/pprof/", "/configuration", "/build"} {
		if got := status(p.URL(path)); got != http.StatusNotFound {
			t.Errorf("callers get %s: status %d", path, got)
		}
	}
}
