// Package clienttest is a service for tests of what calls one: it answers with what a script
// says, slow, cut off or not at all where that is to be tried, and holds what it is asked, and
// what it answers, against the contract.
package clienttest

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"

	parcours "parcours.example"
	"parcours.example/api/contract"
)

// Reply is what a request is answered with.
type Reply struct {
	// Status is 200 where it is 0.
	Status int
	// Header is sent with application/json as Content-Type where that isn't given.
	Header map[string]string
	Body   []byte
	// Delay is how long the reply takes to begin.
	Delay time.Duration
	// Reset closes the connection before anything is sent; CutAt, where it is above 0, after
	// so many bytes of the body.
	Reset bool
	CutAt int
	// Endless sends Body again and again until the caller leaves or so many bytes are sent.
	Endless int64
	// Foreign is a reply that isn't the service's, and isn't held against the contract.
	Foreign bool
}

// JSON is a reply with a document of the contract.
func JSON(doc any) Reply {
	body, err := json.Marshal(doc)
	if err != nil {
		panic("clienttest: " + err.Error()) // a document of the contract can be encoded
	}
	return Reply{Body: body}
}

// Accepted is the reply to a call that becomes a job, of which JSON tells in a contract.Job.
func Accepted(jobID string) Reply {
	r := JSON(contract.Job{JobID: jobID, State: contract.Waiting})
	r.Status = http.StatusAccepted
	r.Header = map[string]string{"Location": "/v1/jobs/" + jobID, "Preference-Applied": "respond-async", "Retry-After": "1"}
	return r
}

// JobDone is the reply that tells of a job which has come to a document of the contract.
func JobDone(jobID string, result any) Reply {
	body := json.RawMessage(JSON(result).Body)
	return JSON(contract.Job{JobID: jobID, State: contract.Done, Result: &body})
}

// Problem is a reply with a problem, and a Retry-After of so many seconds where that is above 0.
func Problem(kind string, status, retryAfterS int) Reply {
	r := JSON(contract.Problem{Type: "/problems/" + kind, Title: kind, Status: status})
	r.Status, r.Header = status, map[string]string{"Content-Type": "application/problem+json"}
	if retryAfterS > 0 {
		r.Header["Retry-After"] = strconv.Itoa(retryAfterS)
	}
	return r
}

// Server is a service that answers by a script.
type Server struct {
	*httptest.Server
	t      testing.TB
	router routers.Router

	mu     sync.Mutex
	script []Reply
	asked  []*http.Request
	sent   int64
}

// New starts a service that gives its replies in turn, and the last of them to all further
// requests. It ends with the test.
func New(t testing.TB, script ...Reply) *Server {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(parcours.Contract)
	if err != nil {
		t.Fatal(err)
	}
	doc.Servers = nil
	router, err := gorillamux.NewRouter(doc)
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{t: t, router: router, script: script}
	s.Server = httptest.NewServer(http.HandlerFunc(s.answer))
	t.Cleanup(s.CloseClientConnections)
	t.Cleanup(s.Close)
	return s
}

// Requests returns what was asked so far, with whole bodies.
func (s *Server) Requests() []*http.Request {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]*http.Request(nil), s.asked...)
}

// Sent returns how many bytes of bodies were sent so far.
func (s *Server) Sent() int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.sent
}

// next takes note of a request and returns its reply.
func (s *Server) next(r *http.Request) Reply {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asked = append(s.asked, r)
	reply := s.script[0]
	if len(s.script) > 1 {
		s.script = s.script[1:]
	}
	return reply
}

func (s *Server) answer(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return // the caller left
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	input := s.checkRequest(r, body)
	r.Body = io.NopCloser(bytes.NewReader(body))
	reply := s.next(r)
	if reply.Delay > 0 {
		select {
		case <-time.After(reply.Delay):
		case <-r.Context().Done():
			return
		}
	}
	if reply.Reset {
		panic(http.ErrAbortHandler)
	}
	w.Header().Set("Content-Type", "application/json")
	for name, value := range reply.Header {
		w.Header().Set(name, value)
	}
	status := reply.Status
	if status == 0 {
		status = http.StatusOK
	}
	if !reply.Foreign && input != nil {
		s.checkReply(input, status, w.Header(), reply.Body)
	}
	w.WriteHeader(status)
	s.write(w, reply)
}

// write sends a body as the script wants it.
func (s *Server) write(w http.ResponseWriter, reply Reply) {
	body := reply.Body
	if reply.CutAt > 0 {
		body = body[:min(reply.CutAt, len(body))]
	}
	for sent := int64(0); ; {
		n, err := w.Write(body)
		sent += int64(n)
		s.mu.Lock()
		s.sent += int64(n)
		s.mu.Unlock()
		if err != nil || sent >= reply.Endless {
			break
		}
	}
	if reply.CutAt > 0 {
		_ = http.NewResponseController(w).Flush()
		panic(http.ErrAbortHandler)
	}
}

// checkRequest fails the test where a request isn't in the contract. The contract's own checks
// of a file are its reader's.
func (s *Server) checkRequest(r *http.Request, body []byte) *openapi3filter.RequestValidationInput {
	route, params, err := s.router.FindRoute(r)
	if err != nil {
		s.t.Errorf("clienttest: %s %s: %v", r.Method, r.URL.Path, err)
		return nil
	}
	input := &openapi3filter.RequestValidationInput{
		Request: r, PathParams: params, Route: route,
		Options: &openapi3filter.Options{ExcludeRequestBody: len(body) == 0 || r.Header.Get("Content-Encoding") != "" || r.Header.Get("Content-Type") != "application/json"},
	}
	input.Options.AuthenticationFunc = openapi3filter.NoopAuthenticationFunc
	if err := openapi3filter.ValidateRequest(r.Context(), input); err != nil {
		s.t.Errorf("clienttest: %s %s: %v", r.Method, r.URL.Path, err)
	}
	return input
}

// checkReply fails the test where a scripted reply isn't in the contract.
func (s *Server) checkReply(input *openapi3filter.RequestValidationInput, status int, header http.Header, body []byte) {
	response := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: input, Status: status, Header: header, Body: io.NopCloser(bytes.NewReader(body)),
		Options: &openapi3filter.Options{IncludeResponseStatus: true, ExcludeResponseBody: header.Get("Content-Type") != "application/json"},
	}
	if err := openapi3filter.ValidateResponse(input.Request.Context(), response); err != nil {
		s.t.Errorf("clienttest: the scripted reply to %s: %v", input.Request.URL.Path, err)
	}
}
