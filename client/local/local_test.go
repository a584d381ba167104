package local_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"go.uber.org/goleak"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/local"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// A program that asks no server.
func ExampleNew() {
	ctx, done := context.WithCancel(context.Background())
	defer done()
	c, stop, err := local.New(ctx)
	if err != nil {
		log.Fatal(err)
	}
	defer stop()
	power := 250.0
	found, err := c.Predict(ctx, &contract.PredictionRequest{
		Course: client.CourseOfProfile([]float64{0, 10_000}, []float64{0, 0}, nil),
		Riders: []contract.Rider{{MassKg: 72}},
		Effort: contract.Effort{Kind: contract.Power, PowerW: &power},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f min\n", *found.Predictions[0].TimeS/60)
	// Output:
	// 16 min
}

// open starts a service that ends with the test.
func open(t *testing.T) *local.Service {
	t.Helper()
	s, err := local.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

// field is a race that takes a while.
func field(runs int) *contract.ScenarioRequest {
	power := 300.0
	var riders []contract.ScenarioRider
	for i := range 12 {
		name := fmt.Sprintf("rider %d", i)
		riders = append(riders, contract.ScenarioRider{Name: &name, MassKg: 60 + float64(i), CriticalPowerW: power, WPrimeJ: 18_000})
	}
	return &contract.ScenarioRequest{
		Course: client.CourseOfProfile([]float64{0, 20_000, 40_000}, []float64{0, 200, 0}, nil), Riders: &riders,
		Rules: &contract.RaceRules{Runs: &runs},
	}
}

// What this process answers is what a server answers.
func TestAnswersAreTheServices(t *testing.T) {
	s := open(t)
	c, err := s.Client()
	if err != nil {
		t.Fatal(err)
	}
	if health, err := c.Ready(t.Context()); err != nil || health.Status == "" {
		t.Errorf("%+v, %v", health, err)
	}
	_, err = c.AnalyseCourse(t.Context(), client.File{Content: strings.NewReader("no route")}, nil)
	if p := (*client.Problem)(nil); !errors.As(err, &p) || p.Kind() != client.NotTheFormat {
		t.Errorf("%v", err)
	}
	long := make([]float64, 2000) // is sent compressed
	for i := range long {
		long[i] = float64(10 * i)
	}
	_, err = c.Brief(t.Context(), &contract.BriefRequest{Course: client.CourseOfProfile(long, make([]float64, len(long)), nil)})
	if err != nil {
		t.Errorf("a long request: %v", err)
	}
	if _, err := c.Course(t.Context(), strings.Repeat("0", 32)); !errors.Is(err, client.CourseNotCached) {
		t.Errorf("%v", err)
	}
}

// A stream comes line by line, and leaving it ends the work: Close would wait for it.
func TestStreamsComeAsTheyAreWritten(t *testing.T) {
	c, err := open(t).Client()
	if err != nil {
		t.Fatal(err)
	}
	for line, err := range c.ScenarioLines(t.Context(), field(2000)) {
		if err != nil || line.Progress == nil {
			t.Fatalf("%+v, %v; want progress first", line, err)
		}
		break
	}
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	for _, err = range c.ScenarioLines(ctx, field(2000)) {
		leave()
	}
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want that the context is over", err)
	}
}

func flush(w http.ResponseWriter) { _ = http.NewResponseController(w).Flush() }

// fake is a service of one handler.
func fake(h http.HandlerFunc) http.RoundTripper { return local.RoundTripperOf(h) }

// TestExchanges holds what goes over no wire against what would go over one.
func TestExchanges(t *testing.T) {
	for name, h := range map[string]http.HandlerFunc{
		"nothing": func(http.ResponseWriter, *http.Request) {},
		"status":  func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusTeapot) },
		"status again": func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(http.StatusTeapot)
			w.WriteHeader(http.StatusOK)
		},
		"header too late": func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "x"); w.Header().Set("X-Late", "1") },
		"early hints":     func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusEarlyHints); fmt.Fprint(w, "x") },
		"echo":            func(w http.ResponseWriter, r *http.Request) { _, _ = io.Copy(w, r.Body) },
		"body unread":     func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusRequestEntityTooLarge) },
		"address": func(w http.ResponseWriter, r *http.Request) {
			fmt.Fprint(w, r.RequestURI, r.URL.Path, r.URL.RawQuery, r.Method)
		},
		"broken off": func(w http.ResponseWriter, _ *http.Request) {
			fmt.Fprint(w, "x")
			flush(w)
			panic(http.ErrAbortHandler)
		},
		"flushed, broken": func(w http.ResponseWriter, _ *http.Request) {
			_ = http.NewResponseController(w).Flush()
			panic(http.ErrAbortHandler)
		},
		"sees the caller":  func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, r.Header.Get("X-Asked"), r.ContentLength) },
		"body of no bytes": func(w http.ResponseWriter, r *http.Request) { b, err := io.ReadAll(r.Body); fmt.Fprint(w, len(b), err) },
	} {
		t.Run(name, func(t *testing.T) {
			server := httptest.NewUnstartedServer(h)
			server.Config.ErrorLog = log.New(io.Discard, "", 0)
			server.Start()
			defer server.Close()
			for _, body := range []string{"", "a body of some bytes"} {
				ask := func(over http.RoundTripper) (string, bool) {
					r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, server.URL+"/a%20path?b=c", strings.NewReader(body))
					if err != nil {
						t.Fatal(err)
					}
					r.Header.Set("X-Asked", "1")
					reply, err := over.RoundTrip(r)
					if err != nil {
						return "", false
					}
					defer reply.Body.Close()
					got, err := io.ReadAll(reply.Body)
					return fmt.Sprint(reply.StatusCode, reply.Header.Get("X-Late"), string(got)), err == nil
				}
				wire := &http.Transport{DisableKeepAlives: true}
				want, whole := ask(wire)
				got, gotWhole := ask(fake(h))
				if got != want || gotWhole != whole {
					t.Errorf("%q, whole: %t; over a wire %q, %t", got, gotWhole, want, whole)
				}
			}
		})
	}
}

// Who leaves before an answer gets the context's error, and the work's context ends.
func TestLeaving(t *testing.T) {
	ended := make(chan struct{})
	ctx, leave := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://parcours.invalid/", nil)
	if err != nil {
		t.Fatal(err)
	}
	reply, err := fake(func(_ http.ResponseWriter, r *http.Request) {
		leave()
		<-r.Context().Done()
		close(ended)
	}).RoundTrip(r)
	if !errors.Is(err, context.Canceled) {
		reply.Body.Close()
		t.Errorf("%v", err)
	}
	<-ended

	// A body that is cut by its reader's leaving isn't taken for whole.
	ctx, leave = context.WithCancel(t.Context())
	defer leave()
	reply, err = fake(func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, "a part")
		<-r.Context().Done()
	}).RoundTrip(r.Clone(ctx))
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	part := make([]byte, 6)
	if _, err := io.ReadFull(reply.Body, part); err != nil {
		t.Fatal(err)
	}
	leave()
	if _, err := io.ReadAll(reply.Body); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want that the context is over", err)
	}
}

// A request in JSON that is large enough to be sent compressed is read as one.
func TestCompressedRequest(t *testing.T) {
	c, err := open(t).Client()
	if err != nil {
		t.Fatal(err)
	}
	distances := make([]float64, 4000)
	for i := range distances {
		distances[i] = 10 * float64(i)
	}
	power := 250.0
	_, err = c.Predict(t.Context(), &contract.PredictionRequest{
		Course: client.CourseOfProfile(distances, make([]float64, len(distances)), nil),
		Riders: []contract.Rider{{MassKg: 72}},
		Effort: contract.Effort{Kind: contract.Power, PowerW: &power},
	})
	if err != nil {
		t.Error(err)
	}
}
