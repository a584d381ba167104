package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	collector "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	traced "go.opentelemetry.io/proto/otlp/trace/v1"
	"google.golang.org/protobuf/proto"

	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
)

// receiver takes traces as a collector does.
type receiver struct {
	*httptest.Server
	mu    sync.Mutex
	raw   bytes.Buffer
	spans []*traced.Span
}

// attributes says what each attribute of a span may be as text; "" stands for a number.
var attributes = map[string]string{
	"http.request.method": `[A-Z]+|other`, "http.route": `other|/[a-z0-9:_/.]*`, "http.response.status_code": ``, "error.type": `5\d\d`,
	"parcours.lane": `light|heavy`, "parcours.cached": `hit|miss`, "parcours.answer": `process|redis|made`,
}

func newReceiver(t *testing.T) *receiver {
	r := &receiver{}
	r.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, asked *http.Request) {
		var body io.Reader = asked.Body
		if asked.Header.Get("Content-Encoding") == "gzip" {
			unpacked, err := gzip.NewReader(body)
			if err != nil {
				t.Error(err)
				return
			}
			body = unpacked
		}
		content, err := io.ReadAll(body)
		if err != nil {
			t.Error(err)
		}
		var batch collector.ExportTraceServiceRequest
		if err := proto.Unmarshal(content, &batch); err != nil || asked.URL.Path != "/v1/traces" {
			t.Errorf("%s: %v", asked.URL.Path, err)
		}
		r.mu.Lock()
		defer r.mu.Unlock()
		r.raw.Write(content)
		for _, of := range batch.GetResourceSpans() {
			for _, in := range of.GetScopeSpans() {
				r.spans = append(r.spans, in.GetSpans()...)
			}
		}
		w.Header().Set("Content-Type", "application/x-protobuf")
	}))
	t.Cleanup(r.Close)
	return r
}

// named returns the names of the spans, each once.
func (r *receiver) named() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	var names []string
	for _, s := range r.spans {
		names = append(names, s.GetName())
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// What is sent of a request tells its steps and nothing of who sent it or what; what wasn't sent
// yet is when the service stops.
func TestTracesTellStepsAndNothingPersonal(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	to := newReceiver(t)
	p := replica.Start(t, "PARCOURS_TRACE_ENDPOINT="+to.URL, "PARCOURS_REDIS_URL="+redistest.Start(t).URL())
	course := bytes.ReplaceAll(courseFile(), []byte("<name>"), []byte("<name>Zebedee "))
	ride := `{"course": {"profile": {"distance_m": [0, 12345], "elevation_m": [80, 480]}}, "riders": [{"name": "Zebedee", "mass_kg": 61.25}], "effort": {"kind": "power", "power_w": 217.25}}`
	const id = "4bf92f3577b34da6a3ce929d0e0e4736"
	for _, asked := range []struct{ path, mediaType, body string }{
		{"/v1/courses?name=Zebedee", "application/gpx+xml", string(course)},
		{"/v1/briefs?rider=name=Zebedee,mass=61.25,power=217.25", "application/gpx+xml", string(course)},
		{"/v1/predictions", "application/json", ride},
		{"/v1/predictions", "application/json", strings.Replace(ride, "power_w", "Zebedee", 1)},
		{"/v1/Zebedee", "text/zebedee", "Zebedee"},
	} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.URL(asked.path), strings.NewReader(asked.body))
		if err != nil {
			t.Fatal(err)
		}
		for field, value := range map[string]string{
			"Content-Type": asked.mediaType, "User-Agent": "Zebedee", "Request-Id": "Zebedee", "Authorization": "Bearer Zebedee",
			"Traceparent": "00-" + id + "-00f067aa0ba902b7-01", "Tracestate": "zebedee=Zebedee", "Baggage": "rider=Zebedee", "X-Forwarded-For": "203.0.113.7",
		} {
			r.Header.Set(field, value)
		}
		read(t, r)
	}
	if !strings.Contains(p.Log(), `"trace_id":"`+id+`"`) {
		t.Error("the log doesn't name the trace")
	}
	p.Signal(os.Interrupt)
	if code := p.ExitCode(); code != exitDone {
		t.Errorf("exit code %d:\n%s", code, p.Log())
	}
	names := to.named()
	for _, name := range []string{
		"POST /v1/courses", "POST /v1/briefs", "POST /v1/predictions", "POST other", "read body", "validate", "flight", "queue", "redis", "encode", "write",
		"read", "course", "terrain", "ride", "brief",
	} {
		if !slices.Contains(names, name) {
			t.Errorf("no span %q among %q", name, names)
		}
	}
	to.mu.Lock()
	defer to.mu.Unlock()
	for _, s := range to.spans {
		if got := s.GetTraceId(); len(got) != 16 || !bytes.HasPrefix(got, []byte{0x4b, 0xf9, 0x2f}) {
			t.Errorf("%s is of trace %x", s.GetName(), got)
		}
	}
	for _, s := range to.spans {
		for _, a := range s.GetAttributes() {
			if known, is := attributes[a.GetKey()]; !is || !regexp.MustCompile("^("+known+")$").MatchString(a.GetValue().GetStringValue()) {
				t.Errorf("%s: attribute %v isn't one of the program's words", s.GetName(), a)
			}
		}
	}
	for _, mark := range []string{"Zebedee", "zebedee", "61.25", "217.25", "12345", "203.0.113.7", "127.0.0.1"} {
		if bytes.Contains(to.raw.Bytes(), []byte(mark)) {
			t.Errorf("%q is in the traces", mark)
		}
	}
}

// A collector that takes connections and never answers costs no request anything, is told of once,
// and doesn't keep the service from stopping.
func TestNobodyWaitsForTheCollector(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	p := replica.Start(t, "PARCOURS_TRACE_ENDPOINT=http://"+silent.Addr().String(), "PARCOURS_STOP_GRACE=100ms")
	const requests = 700
	for range requests {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.URL("/docs"), nil)
		if err != nil {
			t.Fatal(err)
		}
		if page := read(t, r); !strings.Contains(page, "<html") {
			t.Fatalf("%.100s", page)
		}
	}
	p.Await("spans that too many wait before", func() bool {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.URL("/livez"), nil)
		if err != nil {
			t.Fatal(err)
		}
		read(t, r)
		return p.Metric("parcours_trace_spans_total", "outcome", "dropped") > 0
	})
	p.Signal(os.Interrupt)
	if code := p.ExitCode(); code != exitDone {
		t.Errorf("exit code %d:\n%s", code, p.Log())
	}
	for line := range strings.Lines(p.Log()) {
		if !strings.HasPrefix(line, "{") {
			t.Errorf("a line of the log that is no record: %s", line)
		}
	}
}
