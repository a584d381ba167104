package api_test

import (
	"archive/zip"
	"bytes"
	"encoding/base64"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	"parcours.example/api"
	"parcours.example/internal/figures"
	"parcours.example/service/engine"
	"parcours.example/service/quota"
)

// exchange is an example in the contract: a request, and what it is answered.
type exchange struct {
	Name      string            `json:"name"`
	Show      bool              `json:"show"`
	Path      map[string]string `json:"path"`
	Query     string            `json:"query"`
	Headers   map[string]string `json:"headers"`
	Body      string            `json:"body"`
	BodyFile  string            `json:"body_file"`
	BodyBytes int               `json:"body_bytes"`
	Stalls    bool              `json:"stalls"`
	Cached    string            `json:"cached"`
	Busy      bool              `json:"busy"`
	Keyed     bool              `json:"keyed"`
	Exhausted bool              `json:"exhausted"`
	Stopping  bool              `json:"stopping"`
	Job       string            `json:"job"`
	JobsAway  bool              `json:"jobs_away"`
	Status    int               `json:"status"`
	Problem   string            `json:"problem"`
}

// call is an operation of the contract with its examples.
type call struct {
	method, path string
	bodies       openapi3.Content
	responses    *openapi3.Responses
	// parameters are the names of those in the query.
	parameters []string
	exchanges  []exchange
}

// calls lists every operation.
func calls(t testing.TB) map[string]call {
	t.Helper()
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]call{}
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			c := call{method: method, path: path, responses: op.Responses}
			for _, p := range op.Parameters {
				if p.Value.In == openapi3.ParameterInQuery {
					c.parameters = append(c.parameters, p.Value.Name)
				}
			}
			if op.RequestBody != nil {
				c.bodies = op.RequestBody.Value.Content
			}
			raw, err := json.Marshal(op.Extensions["x-exchanges"])
			if err != nil {
				t.Fatal(err)
			}
			dec := json.NewDecoder(bytes.NewReader(raw))
			dec.DisallowUnknownFields()
			if err := dec.Decode(&c.exchanges); err != nil {
				t.Fatalf("%s: x-exchanges: %v", op.OperationID, err)
			}
			for i, x := range c.exchanges {
				c.exchanges[i].Body = withFiles(t, x.Body)
			}
			out[op.OperationID] = c
		}
	}
	return out
}

// withFiles puts files as base64 where a body names them: {base64:testdata/…}.
func withFiles(t testing.TB, body string) string {
	t.Helper()
	for {
		before, rest, named := strings.Cut(body, "{base64:")
		if !named {
			return body
		}
		name, after, _ := strings.Cut(rest, "}")
		body = before + base64.StdEncoding.EncodeToString(readFile(t, name)) + after
	}
}

// TestT05Contract sends every example of the contract to the real handler and holds the
// replies against the contract. Every status that a call declares, in every media type, must
// be among them; statuses that it doesn't declare fail every test of this package.
func TestT05Contract(t *testing.T) {
	all, sent := calls(t), 0
	exercised := map[string]bool{}
	for id, c := range all {
		for _, x := range c.exchanges {
			sent++
			t.Run(id+"/"+x.Name, func(t *testing.T) {
				w := exchanged(t, c, x)
				for again := 0; again < 10 && x.Busy && w.Code == http.StatusOK; again++ {
					w = exchanged(t, c, x) // a worker became free just then
				}
				exercised[answer(id, strconv.Itoa(w.Code), w.Header().Get("Content-Type"))] = true
				if w.Code != x.Status {
					t.Fatalf("status %d, want %d: %.1000s", w.Code, x.Status, w.Body)
				}
				if x.Problem != "" {
					checkProblem(t, w, x.Problem)
				}
			})
		}
	}
	missing, declared := 0, 0
	for id, c := range all {
		for _, a := range c.answers(id) {
			declared++
			if !exercised[a] {
				missing++
				t.Errorf("no example is answered %s", a)
			}
		}
	}
	figures.Report(t, "T5", "%d examples of %d calls: %d of %d declared pairs of status and media type exercised, 0 outside the contract",
		sent, len(all), declared-missing, declared)
}

// TestT05Bodies sends a file under every media type that a call is declared to read.
func TestT05Bodies(t *testing.T) {
	h := newHarness(t, engine.Config{})
	example := func(extension string) []byte { return readFile(t, "testdata/examples/orchard-loop."+extension) }
	files := map[string][]byte{
		"application/geo+json": example("geojson"), "application/json": example("geojson"),
		"application/vnd.google-earth.kml+xml": example("kml"), "application/kml+xml": example("kml"),
		"application/vnd.google-earth.kmz": archived(t, example("kml")), "application/zip": archived(t, example("kml")),
		"application/fit": example("fit"), "application/vnd.ant.fit": example("fit"), "application/tcx+xml": example("tcx"),
		"text/csv": example("csv"), "application/vnd.ms-excel": example("csv"),
		"text/tab-separated-values": bytes.ReplaceAll(example("csv"), []byte(","), []byte("\t")),
		"application/gzip":          example("gpx.gz"), "application/x-gzip": example("gpx.gz"),
	}
	for id, c := range calls(t) {
		for mediaType, content := range c.bodies {
			if content.Schema.Ref != "#/components/schemas/RouteFile" {
				continue
			}
			file, special := files[mediaType]
			if !special {
				file = example("gpx")
			}
			if w := h.send(t, request(c.method, c.path, mediaType, file)); w.Code != http.StatusOK {
				t.Errorf("%s of %s: status %d: %.300s", id, mediaType, w.Code, w.Body)
			}
		}
	}
}

// archived is a zip archive of a document, as KML is sent.
func archived(t testing.TB, document []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("doc.kml")
	if err == nil {
		_, err = w.Write(document)
	}
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// answer names what a call answers: a status, and a media type if there is a body.
func answer(id, status, contentType string) string {
	mediaType, _, _ := strings.Cut(contentType, ";")
	return strings.TrimSpace(id + " " + status + " " + mediaType)
}

// answers lists what a call declares to answer; "default" is for what no request can bring
// about.
func (c call) answers(id string) []string {
	var list []string
	for status, response := range c.responses.Map() {
		if status == "default" {
			continue
		}
		for mediaType := range response.Value.Content {
			list = append(list, answer(id, status, mediaType))
		}
		if len(response.Value.Content) == 0 {
			list = append(list, answer(id, status, ""))
		}
	}
	return list
}

// exchanged sends an exchange's request to a handler of its own.
func exchanged(t *testing.T, c call, x exchange) *httptest.ResponseRecorder {
	t.Helper()
	cfg := engine.Config{Workers: 1}
	if x.Busy {
		cfg.QueueWait = 20 * time.Millisecond
	}
	h := newHarnessOf(t, cfg, x.callers(t))
	h.stopping.Store(x.Stopping)
	courseID := ""
	if x.Cached != "" {
		courseID = analyse(t, h, readFile(t, x.Cached))
	}
	if x.Busy {
		defer occupy(t, h)()
	}
	if x.Job != "" {
		x.Path, x.Body = map[string]string{"job_id": jobOf(t, h, x.Body, x.Job)}, ""
	}
	return h.send(t, x.request(t, c, courseID))
}

// callers says who may call in an exchange: everyone, those with a key, or those of an address
// whose quota is used up.
func (x exchange) callers(t *testing.T) api.Config {
	t.Helper()
	cfg := api.Config{Quotas: counter(t)}
	if x.JobsAway {
		cfg.Jobs = awayQueue{}
	}
	switch {
	case x.Keyed:
		cfg.Keys = keyFile(t, quota.Limits{})
	case x.Exhausted:
		cfg.PerAddress = quota.MostCost
		caller := httptest.NewRequest(http.MethodGet, "/", nil)
		address, _, err := net.SplitHostPort(caller.RemoteAddr)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Quotas.TakeHere(address+"/32", quota.Limits{PerMinute: quota.MostCost}, quota.MostCost)
	}
	return cfg
}

// request builds the example's request.
func (x exchange) request(t *testing.T, c call, courseID string) *http.Request {
	t.Helper()
	path := c.path
	if courseID != "" {
		path = strings.ReplaceAll(path, "{course_id}", courseID)
	}
	for name, value := range x.Path {
		path = strings.ReplaceAll(path, "{"+name+"}", value)
	}
	if x.Query != "" {
		path += "?" + x.Query
	}
	contentType, body := "", []byte(strings.ReplaceAll(x.Body, "{course_id}", courseID))
	switch {
	case x.BodyFile != "":
		body = readFile(t, x.BodyFile)
	case x.BodyBytes > 0:
		body = bytes.Repeat([]byte(" "), x.BodyBytes)
	case x.Body != "" && x.Headers["Content-Type"] == "":
		contentType = "application/json"
	}
	r := request(c.method, path, contentType, body)
	if x.Stalls {
		r.Body = io.NopCloser(io.MultiReader(bytes.NewReader(body), iotest.ErrReader(os.ErrDeadlineExceeded)))
	}
	for name, value := range x.Headers {
		r.Header.Set(name, value)
	}
	return r
}

// checkProblem demands a problem of a kind, complete and with the reply's status.
func checkProblem(t testing.TB, w *httptest.ResponseRecorder, name string) map[string]any {
	t.Helper()
	var p map[string]any
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
		t.Fatalf("the problem isn't JSON: %v", err)
	}
	if p["type"] != "/problems/"+name || p["status"] != float64(w.Code) || p["title"] == "" || p["request_id"] != w.Header().Get("Request-Id") {
		t.Fatalf("problem %v, want %s with status %d", p, name, w.Code)
	}
	return p
}

// analyse sends a file and returns its course's id.
func analyse(t testing.TB, h *harness, file []byte) string {
	t.Helper()
	w := h.send(t, request(http.MethodPost, "/v1/courses", "application/gpx+xml", file))
	var course struct {
		CourseID string `json:"course_id"`
	}
	if err := json.Unmarshal(w.Body.Bytes(), &course); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return course.CourseID
}
