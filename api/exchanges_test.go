package api_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"time"

	"parcours.example/service/engine"
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
	Cached    string            `json:"cached"`
	Busy      bool              `json:"busy"`
	Stopping  bool              `json:"stopping"`
	Status    int               `json:"status"`
	Problem   string            `json:"problem"`
}

// call is an operation of the contract with its examples.
type call struct {
	method, path string
	statuses     map[string]bool
	exchanges    []exchange
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
			c := call{method: method, path: path, statuses: map[string]bool{}}
			for status := range op.Responses.Map() {
				c.statuses[status] = true
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
			out[op.OperationID] = c
		}
	}
	return out
}

// TestExchanges sends every example of the contract to the real handler.
func TestExchanges(t *testing.T) {
	for id, c := range calls(t) {
		for _, x := range c.exchanges {
			t.Run(id+"/"+x.Name, func(t *testing.T) {
				w := exchanged(t, c, x)
				for again := 0; again < 10 && x.Busy && w.Code == http.StatusOK; again++ {
					w = exchanged(t, c, x) // a worker became free just then
				}
				if w.Code != x.Status {
					t.Fatalf("status %d, want %d: %.1000s", w.Code, x.Status, w.Body)
				}
				if x.Problem != "" {
					checkProblem(t, w, x.Problem)
				}
			})
		}
	}
}

// exchanged sends an exchange's request to a handler of its own.
func exchanged(t *testing.T, c call, x exchange) *httptest.ResponseRecorder {
	t.Helper()
	cfg := engine.Config{Workers: 1}
	if x.Busy {
		cfg.QueueWait = 20 * time.Millisecond
	}
	h := newHarness(t, cfg)
	h.stopping = x.Stopping
	courseID := ""
	if x.Cached != "" {
		courseID = analyse(t, h, readFile(t, x.Cached))
	}
	if x.Busy {
		defer occupy(t, h)()
	}
	return h.send(t, x.request(t, c, courseID))
}

// TestEveryStatusHasAnExample demands one exchange for each operation and status.
func TestEveryStatusHasAnExample(t *testing.T) {
	for id, c := range calls(t) {
		shown := map[string]bool{"default": true} // for what no request can bring about
		for _, x := range c.exchanges {
			shown[strconv.Itoa(x.Status)] = true
		}
		for status := range c.statuses {
			if !shown[status] {
				t.Errorf("%s: no example of status %s", id, status)
			}
		}
		for status := range shown {
			if !c.statuses[status] {
				t.Errorf("%s: an example has the undeclared status %s", id, status)
			}
		}
	}
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
