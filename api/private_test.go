package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/sdk/trace/tracetest"

	"parcours.example/api"
	"parcours.example/internal/redistest"
	"parcours.example/internal/sharedlog"
	"parcours.example/service/cache"
	"parcours.example/service/engine"
	"parcours.example/service/quota"
)

// The marks that are put into all that callers send. No digest, time or count holds them but by
// a chance of one in millions.
const (
	markedName    = "Zebedee"
	markedDigits  = "9876543"
	markedAddress = "198.51.100.77"
)

// marks are what must be found nowhere, also that of the key.
var marks = regexp.MustCompile(`(?i)` + markedName + `|` + markedDigits + `|` + regexp.QuoteMeta(markedAddress) + `|` + aKey[len("parcours_"):])

// Nothing of what callers send, of who they are, or of their keys stands in the log of any
// level, in the metrics, in traces, or in the names of what is kept in Redis: of every exchange
// of the contract, in which all names, masses, powers, positions and files are marked.
func TestNothingPersonalIsTold(t *testing.T) {
	server := redistest.Start(t)
	log, registry := new(sharedlog.Buffer), prometheus.NewRegistry()
	logger := slog.New(slog.NewJSONHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	shared, err := cache.Open(cache.Config{URLs: []string{server.URL()}, Logger: logger, Registerer: registry})
	if err != nil {
		t.Fatal(err)
	}
	counted, err := quota.New(quota.Config{Shared: shared, Registerer: registry})
	if err != nil {
		t.Fatal(err)
	}
	spans := tracetest.NewInMemoryExporter()
	provider := sdk.NewTracerProvider(sdk.WithSyncer(spans), sdk.WithSampler(sdk.AlwaysSample()))
	h := newHarnessOf(t, engine.Config{Shared: shared}, api.Config{
		Tracer: provider.Tracer("test"), Keys: keyFile(t, quota.Limits{PerMinute: 1_000_000}), Quotas: counted, Origins: []string{"https://" + markedName + ".example"}, Logger: logger, Registry: registry,
	})
	answered := 0
	for _, c := range calls(t) {
		for _, x := range c.exchanges {
			if h.serve(markedExchange(t, h, c, x)).Code == http.StatusOK {
				answered++
			}
		}
	}
	if answered < 40 {
		t.Errorf("only %d marked requests were answered", answered)
	}
	figures := h.serve(request(http.MethodGet, "/metrics", "", nil)).Body.String()
	if err := shared.Close(context.Background()); err != nil { // all is written
		t.Fatal(err)
	}
	traces := spanTexts(spans.GetSpans())
	if err := provider.Shutdown(context.Background()); err != nil {
		t.Fatal(err)
	}
	keys := server.Client().Keys(t.Context(), "*").Val()
	if len(keys) < 10 || strings.Count(log.String(), "\n") < 100 || len(figures) < 1000 || strings.Count(traces, "\n") < 100 {
		t.Errorf("%d keys, %d bytes of log, %d of metrics, %d of traces", len(keys), len(log.String()), len(figures), len(traces))
	}
	for where, text := range map[string]string{
		"the log": log.String(), "the metrics": sampleValue.ReplaceAllString(figures, ""), "a trace": traces, "the names in Redis": strings.Join(keys, "\n"),
	} {
		for line := range strings.Lines(text) {
			if found := marks.FindString(line); found != "" {
				t.Errorf("%s holds %q: %.500s", where, found, line)
			}
		}
	}
}

// spanTexts is what spans say beside times and numbers of their own, one on each line.
func spanTexts(spans tracetest.SpanStubs) string {
	var b strings.Builder
	for _, s := range spans {
		fmt.Fprintf(&b, "%s %v %v %v", s.Name, s.Attributes, s.Status, s.SpanContext.TraceState())
		for _, e := range s.Events {
			fmt.Fprintf(&b, " %s %v", e.Name, e.Attributes)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// sampleValue is the number of a line of metrics.
var sampleValue = regexp.MustCompile(`(?m) [^ ]+$`)

// markedExchange is an exchange's request with all marks in it.
func markedExchange(t *testing.T, h *harness, c call, x exchange) *http.Request {
	t.Helper()
	courseID := ""
	if x.Cached != "" {
		courseID = analyseAs(t, h, marked(readFile(t, x.Cached)))
	}
	x.BodyBytes, x.Stalls = min(x.BodyBytes, 100), false
	r := x.request(t, c, courseID)
	body, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	of := request(r.Method, r.URL.String(), "", marked(body))
	of.Header = r.Header
	if x.Status >= 400 && of.URL.RawQuery == "" {
		of.URL.RawQuery = markedName + "=" + markedDigits
	}
	return as(of)
}

// as marks who sends a request.
func as(r *http.Request) *http.Request {
	for name, value := range map[string]string{
		"Authorization": "Bearer " + aKey, "User-Agent": markedName, "Referer": "https://" + markedName + ".example/", "Cookie": markedName + "=" + markedDigits,
		"X-Forwarded-For": markedAddress, "Origin": "https://" + markedName + ".example", "Traceparent": markedName,
	} {
		r.Header.Set(name, value)
	}
	r.RemoteAddr = markedAddress + ":4711"
	return r
}

// analyseAs has a course analysed and returns its id.
func analyseAs(t *testing.T, h *harness, file []byte) string {
	t.Helper()
	w := h.serve(as(request(http.MethodPost, "/v1/courses", "", file)))
	var course struct {
		CourseID string `json:"course_id"`
	}
	if err := json.Unmarshal(w.Body.Bytes(), &course); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return course.CourseID
}

// What is marked in files and in JSON, where it is marked in place.
var (
	position  = regexp.MustCompile(`((?:lat|lon)="-?[0-9]+\.[0-9]{1,6})[0-9]*"`)
	elevation = regexp.MustCompile(`(<ele>-?[0-9]+)[0-9.]*</ele>`)
	fileName  = regexp.MustCompile(`<(name|desc|cmt)>([^<]*)<`)
	jsonName  = regexp.MustCompile(`("name": *")`)
	quantity  = regexp.MustCompile(`("(?:mass_kg|power_w|critical_power_w|w_prime_j|max_power_w|cda_m2|height_m|lat_deg|lon_deg|w_per_kg)": *)(-?[0-9]+)(?:\.([0-9]{1,2})[0-9]*)?`)
)

// Lists of positions, and the numbers in them.
var (
	positions = regexp.MustCompile(`"(?:latitude_deg|longitude_deg)": *\[[^\]]*\]`)
	decimal   = regexp.MustCompile(`([0-9]\.[0-9]{1,2})[0-9]*`)
)

// marked puts the marks into a body.
func marked(body []byte) []byte {
	body = position.ReplaceAll(body, []byte(`${1}`+markedDigits+`"`))
	body = elevation.ReplaceAll(body, []byte(`${1}.`+markedDigits+`</ele>`))
	body = fileName.ReplaceAll(body, []byte(`<${1}>`+markedName+` ${2}<`))
	body = positions.ReplaceAllFunc(body, func(list []byte) []byte { return decimal.ReplaceAll(list, []byte(`${1}`+markedDigits)) })
	body = jsonName.ReplaceAll(body, []byte(`${1}`+markedName+` `))
	return quantity.ReplaceAll(body, []byte(`${1}${2}.${3}`+markedDigits))
}
