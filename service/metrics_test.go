package main

import (
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
)

// labels says which values each label of ours may take: words that the program chose, routes of
// the contract, statuses that it answers. What isn't here isn't bounded.
var labels = map[string]string{
	"route": `other|/[a-z0-9:_/.]*`, "method": `GET|POST|HEAD|OPTIONS|PUT|DELETE|other`, "status": `[2-5]\d\d`,
	"outcome": `ok|rejected|refused|failed|gone|done|cancelled|dropped|sent|taken`, "lane": `light|heavy|large`, "reason": `workers|large|memory|seasons`,
	"stage": `[a-z]+`, "found": `hit|miss|foreign|failed|skipped`, "operation": `read|write|script`, "from": `process|redis|made`, "key": `known|unknown|missing`, "by": `redis|replica`,
	"version": `\S+`, "engine_version": `\d+`, "go_version": `go\S+`,
}

// families are the metrics that a running service shows after it was asked all sorts of things.
func families(t *testing.T) (text string, all map[string]*dto.MetricFamily) {
	t.Helper()
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	var line, key strings.Builder
	if code := run([]string{"keys", "new", "--client", "league", "--per-minute", "60"}, strings.NewReader(""), &line, &key); code != exitDone {
		t.Fatalf("exit code %d: %s", code, key.String())
	}
	file := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(file, []byte(line.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	p := replica.Start(t, "PARCOURS_REDIS_URL="+redistest.Start(t).URL(), "PARCOURS_TRACE_ENDPOINT=http://127.0.0.1:1", "PARCOURS_KEYS_FILE="+file)
	for _, asked := range []struct{ method, path, body string }{
		{"BREW", "/zebedee", ""},
		{http.MethodGet, "/v1/courses/zebedee?zebedee=1", ""},
		{http.MethodPatch, "/v1/courses", "zebedee"},
		{http.MethodGet, "/problems/zebedee", ""},
		{http.MethodPost, "/v1/courses", string(courseFile())},
		{http.MethodGet, "/readyz", ""},
		{http.MethodHead, "/docs", ""},
	} {
		r, err := http.NewRequestWithContext(t.Context(), asked.method, p.URL(asked.path), strings.NewReader(asked.body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bearer "+strings.TrimSpace(key.String()))
		r.Header.Set("User-Agent", "zebedee")
		r.Header.Set("Traceparent", "zebedee")
		read(t, r)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.URL("/metrics"), nil)
	if err != nil {
		t.Fatal(err)
	}
	text = read(t, r)
	parser := expfmt.NewTextParser(model.UTF8Validation)
	all, err = parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return text, all
}

// read sends a request and returns the body of its reply.
func read(t *testing.T, r *http.Request) string {
	t.Helper()
	reply, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	body, err := io.ReadAll(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}

// Names follow the convention of Prometheus (its own linter says so), and every label of ours
// takes few values, none of them a caller's.
func TestMetricsAreWellNamedAndBounded(t *testing.T) {
	text, all := families(t)
	problems, err := promlint.New(strings.NewReader(text)).Lint()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
	if strings.Contains(text, "zebedee") || strings.Contains(text, "league") {
		t.Error("a caller's text is in the metrics")
	}
	for name, family := range all {
		ours := strings.HasPrefix(name, "parcours_")
		if !ours && !strings.HasPrefix(name, "go_") && !strings.HasPrefix(name, "process_") && !strings.HasPrefix(name, "promhttp_") {
			t.Errorf("%s isn't named for whose it is", name)
		}
		for _, m := range family.GetMetric() {
			for _, l := range m.GetLabel() {
				if !ours {
					continue
				}
				allowed, known := labels[l.GetName()]
				if !known || !regexp.MustCompile("^("+allowed+")$").MatchString(l.GetValue()) {
					t.Errorf("%s{%s=%q} isn't bounded", name, l.GetName(), l.GetValue())
				}
			}
		}
	}
	for _, name := range []string{
		"parcours_build_info", "parcours_held_bytes", "parcours_queue_wait_seconds", "parcours_redis_duration_seconds",
		"parcours_panics_total", "go_goroutines", "go_gc_gomemlimit_bytes", "process_resident_memory_bytes",
	} {
		if all[name] == nil {
			t.Errorf("no %s", name)
		}
	}
	reasons := []string{}
	for _, m := range all["parcours_busy_total"].GetMetric() {
		reasons = append(reasons, m.GetLabel()[0].GetValue())
	}
	if slices.Sort(reasons); !slices.Equal(reasons, []string{"large", "memory", "seasons", "workers"}) {
		t.Errorf("refusals are told by %v from the start", reasons)
	}
}
