package api_test

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"go.opentelemetry.io/otel/codes"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/sdk/trace/tracetest"
	oteltrace "go.opentelemetry.io/otel/trace"

	"parcours.example/api"
	"parcours.example/service/engine"
)

// traced returns the handler, and what keeps its spans.
func traced(t testing.TB, sampler sdk.Sampler) (*harness, *tracetest.InMemoryExporter) {
	t.Helper()
	kept := tracetest.NewInMemoryExporter()
	provider := sdk.NewTracerProvider(sdk.WithSyncer(kept), sdk.WithSampler(sampler))
	t.Cleanup(func() { _ = provider.Shutdown(context.Background()) })
	h := newHarness(t, engine.Config{})
	handler, err := api.New(api.Config{
		Engine: h.engine, Registry: prometheus.NewRegistry(), Ready: func() bool { return !h.stopping.Load() },
		Logger: slog.New(slog.NewJSONHandler(io.Discard, nil)), Tracer: provider.Tracer("test"),
	})
	if err != nil {
		t.Fatal(err)
	}
	h.handler = handler
	return h, kept
}

// The steps of a request stand below it, whichever goroutine they ran on.
func TestStepsStandBelowTheirRequest(t *testing.T) {
	h, kept := traced(t, sdk.AlwaysSample())
	h.send(t, request(http.MethodPost, "/v1/courses", "", readFile(t, "testdata/examples/orchard-loop.gpx")))
	spans := kept.GetSpans()
	parents := map[oteltrace.SpanID]tracetest.SpanStub{}
	for _, s := range spans {
		parents[s.SpanContext.SpanID()] = s
	}
	seen := map[string]bool{}
	for _, s := range spans {
		seen[s.Name] = true
		top := s
		for top.Parent.IsValid() {
			top = parents[top.Parent.SpanID()]
		}
		if top.Name != "POST /v1/courses" || s.EndTime.Before(s.StartTime) {
			t.Errorf("%s stands below %q", s.Name, top.Name)
		}
	}
	for _, name := range []string{"POST /v1/courses", "read body", "validate", "flight", "queue", "read", "course", "terrain", "encode", "write"} {
		if !seen[name] {
			t.Errorf("no span %q among %v", name, seen)
		}
	}
}

// A caller's traceparent is taken up where it is one (W3C Trace Context, section 3.2.2), and is no
// reason to refuse a request where it isn't.
func TestTraceparent(t *testing.T) {
	const id, parent = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"
	for field, takenUp := range map[string]bool{
		"00-" + id + "-" + parent + "-01":                  true,
		"00-" + id + "-" + parent + "-00":                  true,
		"cc-" + id + "-" + parent + "-01-what-comes-later": true,
		"":         false,
		"nonsense": false,
		"00-" + strings.ToUpper(id) + "-" + parent + "-01":         false,
		"00-" + strings.Repeat("0", 32) + "-" + parent + "-01":     false,
		"00-" + id + "-" + strings.Repeat("0", 16) + "-01":         false,
		"ff-" + id + "-" + parent + "-01":                          false,
		"00-" + id + "-" + parent + "-01-more":                     false,
		"00-" + id[1:] + "-" + parent + "-01":                      false,
		strings.Repeat("00-"+id+"-"+parent+"-01", 1000):            false,
		"00-" + strings.Repeat("\u00e9", 16) + "-" + parent + "-1": false,
	} {
		h, kept := traced(t, sdk.AlwaysSample())
		r := request(http.MethodGet, "/livez", "", nil)
		r.Header.Set("Traceparent", field)
		r.Header.Set("Tracestate", "rider=nour")
		if w := h.send(t, r); w.Code != http.StatusOK {
			t.Errorf("%.80q: status %d", field, w.Code)
		}
		top := kept.GetSpans()[len(kept.GetSpans())-1]
		if got := top.SpanContext.TraceID().String() == id && top.Parent.SpanID().String() == parent; got != takenUp {
			t.Errorf("%.80q: taken up %v, want %v", field, got, takenUp)
		}
		if top.SpanContext.TraceState().Len() > 0 {
			t.Errorf("%.80q: with state %v", field, top.SpanContext.TraceState())
		}
	}
}

// A span says what became of its request; only what is the service's fault is an error.
func TestSpansTellTheStatus(t *testing.T) {
	h, kept := traced(t, sdk.AlwaysSample())
	for path, wrong := range map[string]codes.Code{"/livez": codes.Unset, "/nowhere": codes.Unset, "/readyz": codes.Error} {
		h.stopping.Store(path == "/readyz")
		kept.Reset()
		h.send(t, request(http.MethodGet, path, "", nil))
		spans := kept.GetSpans()
		if top := spans[len(spans)-1]; top.Status.Code != wrong || top.Status.Description != "" || top.SpanKind != oteltrace.SpanKindServer {
			t.Errorf("%s: %+v", path, top.Status)
		}
	}
}

// BenchmarkTracing says what tracing costs a cheap call: without, with none of the requests traced,
// and with all of them.
func BenchmarkTracing(b *testing.B) {
	never, _ := traced(b, sdk.NeverSample())
	always, kept := traced(b, sdk.AlwaysSample())
	for _, of := range []struct {
		name string
		h    *harness
	}{{"off", newHarness(b, engine.Config{})}, {"none", never}, {"all", always}} {
		b.Run(of.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				of.h.serve(request(http.MethodGet, "/livez", "", nil))
				kept.Reset()
			}
		})
	}
}
