package api_test

import (
	"net/http"
	"strings"
	"testing"

	"parcours.example/service/engine"
)

// A record's level says whether somebody has to look: refusals warn, faults of callers inform, and
// probes that find the service well, one a second, only tell those who debug.
func TestRequestsAreLoggedByWhatBecameOfThem(t *testing.T) {
	h := newHarness(t, engine.Config{})
	records := func(path string) string {
		h.log.Reset()
		h.send(t, request(http.MethodGet, path, "", nil))
		return h.log.String()
	}
	for _, path := range []string{"/livez", "/readyz", "/metrics"} {
		if got := records(path); got != "" {
			t.Errorf("%s is logged: %s", path, got)
		}
	}
	for path, level := range map[string]string{"/docs": "INFO", "/v1/courses/none": "INFO", "/nowhere": "INFO"} {
		if got := records(path); !strings.Contains(got, `"level":"`+level+`"`) || strings.Count(got, "\n") != 1 {
			t.Errorf("%s: %s", path, got)
		}
	}
	h.stopping.Store(true)
	if got := records("/readyz"); !strings.Contains(got, `"level":"WARN"`) {
		t.Errorf("a refused probe: %s", got)
	}
}
