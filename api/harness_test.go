package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"
	"github.com/prometheus/client_golang/prometheus"
	"go.uber.org/goleak"

	parcours "parcours.example"
	"parcours.example/api"
	"parcours.example/service/engine"
	"parcours.example/service/jobs"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// root is the module's root, from this package.
const root = ".."

// loadDoc parses the contract once for all tests.
var loadDoc = sync.OnceValues(func() (*openapi3.T, error) {
	doc, err := openapi3.NewLoader().LoadFromData(parcours.Contract)
	if err == nil {
		doc.Servers = nil
	}
	return doc, err
})

// harness is the real handler over a real engine; it holds every reply against the
// contract.
type harness struct {
	handler  http.Handler
	engine   *engine.Engine
	router   routers.Router
	log      *bytes.Buffer
	stopping atomic.Bool
}

// newHarness starts a handler. Its engine ends with the test.
func newHarness(t testing.TB, cfg engine.Config) *harness {
	t.Helper()
	return newHarnessOf(t, cfg, api.Config{})
}

// newHarnessOf is newHarness with a say in who may call, and perhaps a log and metrics of its
// own.
func newHarnessOf(t testing.TB, cfg engine.Config, callers api.Config) *harness {
	t.Helper()
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	h := &harness{log: new(bytes.Buffer)}
	if h.router, err = gorillamux.NewRouter(doc); err != nil {
		t.Fatal(err)
	}
	if callers.Registry == nil {
		callers.Registry = prometheus.NewRegistry()
	}
	if callers.Logger == nil {
		callers.Logger = slog.New(slog.NewJSONHandler(h.log, nil))
	}
	cfg.Registerer = callers.Registry
	if h.engine, err = engine.New(cfg); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.engine.Close() })
	if callers.Jobs == nil {
		queue, err := jobs.NewLocal(jobs.Config{Workers: 1, Registerer: callers.Registry})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = queue.Close(over) }) // before the engine
		callers.Jobs = queue
	}
	callers.Engine, callers.Ready = h.engine, func() bool { return !h.stopping.Load() }
	h.handler, err = api.New(callers)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// over is a context that has ended.
var over = func() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}()

// send answers a request and fails the test where the reply isn't in the contract.
func (h *harness) send(t testing.TB, r *http.Request) *httptest.ResponseRecorder {
	t.Helper()
	w := h.serve(r)
	h.check(t, r, w)
	return w
}

// serve answers a request.
func (h *harness) serve(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.handler.ServeHTTP(w, r)
	return w
}

// check holds a reply against the contract: its status, header and body.
func (h *harness) check(t testing.TB, r *http.Request, w *httptest.ResponseRecorder) {
	t.Helper()
	route, params, err := h.router.FindRoute(r)
	if err != nil { // outside the contract: a problem, and nothing else
		if got := w.Header().Get("Content-Type"); got != "application/problem+json" || w.Code < 400 {
			t.Errorf("%s %s: status %d with %q", r.Method, r.URL.Path, w.Code, got)
		}
		return
	}
	if route.Operation.Responses.Value(strconv.Itoa(w.Code)) == nil && w.Code != http.StatusInternalServerError {
		t.Errorf("%s %s: the contract doesn't declare status %d for %s", r.Method, r.URL, w.Code, route.Operation.OperationID)
	}
	body := w.Body.Bytes()
	if w.Code == http.StatusOK && w.Header().Get("Content-Type") == "application/x-ndjson" {
		checkLines(t, route.Operation.Responses.Status(w.Code), body)
	}
	header := w.Header().Clone()
	if coding := header.Get("Content-Encoding"); coding != "" {
		body = decoded(t, coding, body)
		header.Del("Content-Encoding")
	}
	input := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: &openapi3filter.RequestValidationInput{Request: r, PathParams: params, Route: route},
		Status:                 w.Code, Header: header, Body: io.NopCloser(bytes.NewReader(body)),
		Options: &openapi3filter.Options{IncludeResponseStatus: true, MultiError: true, ExcludeResponseBody: isPage(header.Get("Content-Type"))},
	}
	if err := openapi3filter.ValidateResponse(context.Background(), input); err != nil {
		t.Errorf("%s %s: the reply (status %d) isn't in the contract: %.2000s", r.Method, r.URL, w.Code, err.Error())
	}
}

// isPage reports the media types whose bodies have no schema that the general validator
// could check.
func isPage(mediaType string) bool {
	switch mediaType {
	case "text/html; charset=utf-8", "text/css; charset=utf-8", "text/javascript; charset=utf-8", "application/yaml", "application/x-ndjson":
		return true
	}
	return false
}

// checkLines holds each line of a stream against the contract.
func checkLines(t testing.TB, response *openapi3.ResponseRef, body []byte) {
	t.Helper()
	schema := response.Value.Content.Get("application/x-ndjson").Schema.Value
	for line := range bytes.Lines(body) {
		var value any
		if err := json.Unmarshal(line, &value); err != nil {
			t.Errorf("the line %.300q isn't JSON: %v", line, err)
		} else if err := schema.VisitJSON(value, openapi3.VisitAsResponse(), openapi3.MultiErrors()); err != nil {
			t.Errorf("a line isn't in the contract: %.2000s", err.Error())
		}
	}
}

// request makes a request with a body.
func request(method, target, contentType string, body []byte) *http.Request {
	r := httptest.NewRequest(method, target, bytes.NewReader(body))
	if contentType != "" {
		r.Header.Set("Content-Type", contentType)
	}
	return r
}

// readFile reads a file below the module's root.
func readFile(t testing.TB, name string) []byte {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(root, name))
	if err != nil {
		t.Fatal(err)
	}
	return content
}
