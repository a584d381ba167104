package api

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
)

// newTestMeter returns metrics that nothing shows.
func newTestMeter(t *testing.T) *meter {
	t.Helper()
	m, err := newMeter(prometheus.NewRegistry())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestRecover demands that a panic is a problem without a word of it, and that its
// stack is in the log under the request's id.
func TestRecover(t *testing.T) {
	var log bytes.Buffer
	meter := newTestMeter(t)
	s := &server{logger: slog.New(slog.NewJSONHandler(&log, nil)), meter: meter}
	g := gin.New()
	g.Use(identify, s.recover)
	g.GET("/", func(c *gin.Context) {
		c.Header("ETag", `"half"`)
		panic("secret")
	})
	w := httptest.NewRecorder()
	g.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
	if w.Code != http.StatusInternalServerError || !strings.Contains(w.Body.String(), `"type":"/problems/internal"`) || strings.Contains(w.Body.String(), "secret") {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	if w.Header().Get("ETag") != "" {
		t.Error("the problem has the tag of a result")
	}
	id := w.Header().Get("Request-Id")
	if l := log.String(); !strings.Contains(l, "secret") || !strings.Contains(l, "panic_test.go") || !strings.Contains(l, id) {
		t.Errorf("log %s", l)
	}
	if n := testutil.ToFloat64(meter.panics); n != 1 {
		t.Errorf("%v panics counted", n)
	}
}

// TestProblemKinds demands that names are unique and every kind has its page.
func TestProblemKinds(t *testing.T) {
	p, err := loadPages()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, k := range problemKinds() {
		if seen[k.name] || p.problems[k.name] == nil || k.title == "" || k.explanation == "" || k.remedy == "" || k.status < 400 {
			t.Errorf("%+v", k)
		}
		seen[k.name] = true
	}
	for code, k := range fileKinds {
		if !seen[k.name] {
			t.Errorf("%s: %s isn't listed", code, k.name)
		}
	}
}
