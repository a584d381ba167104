package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"

	parcours "parcours.example"
	"parcours.example/api"
	"parcours.example/service/engine"
)

// TestRequestID demands that a sane id is kept and another replaced, in the header,
// the problem and the log alike.
func TestRequestID(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for id, kept := range map[string]bool{"abc-1.Z_9": true, strings.Repeat("x", 64): true, strings.Repeat("x", 65): false, "a b": false, "é": false, "": false, "a\"b": false} {
		r := request(http.MethodGet, "/nothing", "", nil)
		r.Header.Set("Request-Id", id)
		w := h.serve(r)
		got := w.Header().Get("Request-Id")
		if (got == id) != kept || !regexp.MustCompile(`^[A-Za-z0-9._-]{1,64}$`).MatchString(got) {
			t.Errorf("id %q: answered %q", id, got)
		}
		checkProblem(t, w, "not-found")
		if !strings.Contains(h.log.String(), `"request_id":"`+got+`"`) {
			t.Errorf("id %q isn't in the log", got)
		}
	}
}

// TestLogHoldsNothingPersonal demands one record for each request and nothing of
// what was sent in it.
func TestLogHoldsNothingPersonal(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := bytes.ReplaceAll(readFile(t, "testdata/examples/orchard-loop.gpx"), []byte("<name>"), []byte("<name>Zebedee "))
	h.send(t, request(http.MethodPost, "/v1/courses?name=Zebedee", "", file))
	h.send(t, request(http.MethodPost, "/v1/briefs?rider=name=Zebedee,mass=72,power=250", "", file))
	h.send(t, request(http.MethodPost, "/v1/courses?Zebedee=1", "", file))
	h.send(t, request(http.MethodPost, "/v1/courses", "", file[:len(file)/2]))
	log := h.log.String()
	if n := strings.Count(log, `"msg":"request"`); n != 4 {
		t.Errorf("%d records", n)
	}
	var record struct {
		Route, Method string
		Status, Bytes int
		Ms            float64
	}
	if err := json.Unmarshal([]byte(strings.SplitN(log, "\n", 2)[0]), &record); err != nil || record.Route != "/v1/courses" || record.Status != 200 || record.Bytes == 0 {
		t.Errorf("%v: %+v", err, record)
	}
	for _, secret := range []string{"Zebedee", "47.", "trkpt", "72"} {
		for _, line := range strings.Split(log, "\n") {
			if i := strings.Index(line, `"route"`); i >= 0 && strings.Contains(regexp.MustCompile(`"(ms|bytes|request_id)":[^,}]*`).ReplaceAllString(line[i:], ""), secret) {
				t.Errorf("the log holds %q: %s", secret, line)
			}
		}
	}
}

// TestCallerGone demands that a request whose caller has left is logged as such and
// answered with nothing.
func TestCallerGone(t *testing.T) {
	h := newHarness(t, engine.Config{})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	w := h.serve(request(http.MethodPost, "/v1/courses", "", readFile(t, "testdata/season/skarnholt-hill-climb.gpx")).WithContext(ctx))
	if w.Body.Len() > 0 || !strings.Contains(h.log.String(), `"status":499`) {
		t.Errorf("%d bytes, log %s", w.Body.Len(), h.log)
	}
}

// TestMetrics demands the figures of requests by route, never by what a caller
// makes up.
func TestMetrics(t *testing.T) {
	h := newHarness(t, engine.Config{})
	h.serve(request("BREW", "/made-up-path", "", nil))
	h.send(t, request(http.MethodGet, "/livez", "", nil))
	figures := h.send(t, request(http.MethodGet, "/metrics", "", nil)).Body.String()
	for _, want := range []string{
		`parcours_http_requests_total{method="GET",route="/livez",status="200"} 1`,
		`parcours_http_requests_total{method="other",route="other",status="404"} 1`,
		`parcours_http_request_duration_seconds_count{outcome="ok",route="/livez"} 1`, `parcours_http_inflight 1`, `parcours_inflight{lane="light"} 0`, `parcours_waiting{lane="heavy"} 0`,
	} {
		if !strings.Contains(figures, want) {
			t.Errorf("no %s", want)
		}
	}
	if strings.Contains(figures, "made-up") || strings.Contains(figures, "BREW") {
		t.Error("a caller's text is a label")
	}
}

// TestEveryReplyIsSafe demands the header fields that keep browsers from guessing.
func TestEveryReplyIsSafe(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, path := range []string{"/livez", "/docs", "/openapi.yaml", "/metrics", "/problems/busy", "/nothing", "/v1/courses"} {
		w := h.serve(request(http.MethodGet, path, "", nil))
		for field, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer"} {
			if got := w.Header().Get(field); got != want {
				t.Errorf("%s: %s %q", path, field, got)
			}
		}
		if csp := w.Header().Get("Content-Security-Policy"); !strings.HasPrefix(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: Content-Security-Policy %q", path, csp)
		}
		if links := strings.Join(w.Header().Values("Link"), ","); !strings.Contains(links, `rel="service-desc"`) || !strings.Contains(links, `rel="service-doc"`) {
			t.Errorf("%s: Link %q", path, links)
		}
	}
}

// TestSameInputSameBytes demands equal bytes from two services, and their ETags.
func TestSameInputSameBytes(t *testing.T) {
	a, b := newHarness(t, engine.Config{Workers: 1}), newHarness(t, engine.Config{Workers: 4})
	file := readFile(t, "testdata/season/skarnholt-hill-climb.gpx")
	id := analyse(t, a, file)
	analyse(t, b, file)
	ride := `{"course": {"course_id": "` + id + `"}, "riders": [{"mass_kg": 60}, {"mass_kg": 80}, {"mass_kg": 90}], "setups": [{}, {"mass_kg": 7}], "effort": {"kind": "power", "power_w": 250}}`
	for _, r := range []func() *http.Request{
		func() *http.Request {
			return request(http.MethodPost, "/v1/courses?include=profile,geometry", "", file)
		},
		func() *http.Request {
			return request(http.MethodPost, "/v1/predictions?include=trace", "application/json", []byte(ride))
		},
		func() *http.Request { return request(http.MethodPost, "/v1/briefs?rider=mass=70,power=240", "", file) },
	} {
		x, y := a.send(t, r()), b.send(t, r())
		if x.Code != http.StatusOK || !bytes.Equal(x.Body.Bytes(), y.Body.Bytes()) || x.Header().Get("ETag") != y.Header().Get("ETag") {
			t.Errorf("status %d; other bytes or tags for the same input", x.Code)
		}
	}
}

// TestConditionalGet demands 304 for the tag that the caller holds, in each form.
func TestConditionalGet(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, "testdata/examples/orchard-loop.gpx"))
	get := func(query, held string) (int, string) {
		r := request(http.MethodGet, "/v1/courses/"+id+query, "", nil)
		r.Header.Set("If-None-Match", held)
		w := h.send(t, r)
		if w.Code == http.StatusNotModified && (w.Body.Len() > 0 || w.Header().Get("ETag") == "" || w.Header().Get("Vary") == "" || w.Header().Get("Cache-Control") == "") {
			t.Errorf("304 with %d bytes and %v", w.Body.Len(), w.Header())
		}
		return w.Code, w.Header().Get("ETag")
	}
	_, tag := get("", `"other"`)
	for held, status := range map[string]int{tag: 304, "W/" + tag: 304, `"x", ` + tag: 304, "*": 304, `"x"`: 200, strings.Trim(tag, `"`): 200} {
		if got, _ := get("", held); got != status {
			t.Errorf("If-None-Match %s: status %d, want %d", held, got, status)
		}
	}
	if got, other := get("?include=profile", tag); got != http.StatusOK || other == tag {
		t.Errorf("another view: status %d, tag %s", got, other)
	}
}

// TestPages demands that the pages are whole, load nothing, and that every type of
// problem leads to one.
func TestPages(t *testing.T) {
	h := newHarness(t, engine.Config{})
	docs := h.send(t, request(http.MethodGet, "/docs", "", nil))
	page := docs.Body.String()
	for _, m := range regexp.MustCompile(`(?:src|href)="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		switch {
		case strings.HasPrefix(m[1], "#"):
			if !strings.Contains(page, `id="`+m[1][1:]+`"`) {
				t.Errorf("%s leads nowhere", m[1])
			}
		case strings.HasPrefix(m[1], "/"):
			if w := h.send(t, request(http.MethodGet, m[1], "", nil)); w.Code != http.StatusOK {
				t.Errorf("%s: status %d", m[1], w.Code)
			}
		default:
			t.Errorf("%s is elsewhere", m[1])
		}
	}
	for id, c := range calls(t) {
		if !strings.Contains(page, `id="`+id+`"`) || !strings.Contains(page, c.path) {
			t.Errorf("%s isn't in the reference", id)
		}
		for _, x := range c.exchanges {
			if x.Problem != "" && !strings.Contains(page, `href="/problems/`+x.Problem+`"`) {
				t.Errorf("the problem %s isn't in the reference", x.Problem)
			}
		}
	}
	if strings.Contains(page, "<script") || strings.Contains(page, "style=") {
		t.Error("the page needs what its policy forbids")
	}
	if got := h.send(t, request(http.MethodGet, "/openapi.yaml", "", nil)).Body.Bytes(); !bytes.Equal(got, parcours.Contract) {
		t.Error("the contract isn't served as it is")
	}
}

// TestHead demands that HEAD is answered like GET, without the body, and counted as what it is.
func TestHead(t *testing.T) {
	registry := prometheus.NewRegistry()
	h := newHarnessOf(t, engine.Config{}, api.Config{Registry: registry})
	server := httptest.NewServer(h.handler)
	defer server.Close()
	defer http.DefaultClient.CloseIdleConnections()
	answer, err := http.Head(server.URL + "/docs")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close() //nolint:errcheck // only read
	if rest, err := io.ReadAll(answer.Body); err != nil || len(rest) > 0 || answer.StatusCode != http.StatusOK || answer.Header.Get("ETag") == "" || answer.ContentLength < 1000 {
		t.Errorf("%v: status %d, %d bytes, length %d", err, answer.StatusCode, len(rest), answer.ContentLength)
	}
	if head, get := sum(t, registry, "parcours_http_requests_total", "method", "HEAD"), sum(t, registry, "parcours_http_requests_total", "method", "GET"); head != 1 || get != 0 {
		t.Errorf("counted as HEAD %v times, as GET %v times", head, get)
	}
}
