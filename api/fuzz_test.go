package api_test

import (
	"encoding/json"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"parcours.example/service/engine"
)

// FuzzCoursesHandler sends any bytes as a course file: never a 5xx, never a reply
// outside the contract.
func FuzzCoursesHandler(f *testing.F) {
	for _, seed := range mutationSeeds(f) {
		f.Add(seed, "application/gpx+xml", "laps=2")
		f.Add(seed, "", "include=profile,geometry")
	}
	f.Add([]byte("{}"), "application/json", "a=b")
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute})
	f.Fuzz(func(t *testing.T, body []byte, contentType, query string) {
		r := request(http.MethodPost, "/v1/courses", contentType, body)
		r.URL.RawQuery = query
		noFault(t, h, r)
	})
}

// FuzzRequests sends any bytes as the request of any call in JSON. What is long by right is
// kept short by an engine that takes little work.
func FuzzRequests(f *testing.F) {
	all := calls(f)
	names := slices.Sorted(maps.Keys(everything))
	for i, name := range names {
		f.Add(uint8(i), []byte(everything[name]), "", "application/json")
		for _, x := range all[name].exchanges {
			if x.BodyFile == "" && x.BodyBytes == 0 && x.Headers["Content-Type"] == "" {
				f.Add(uint8(i), []byte(x.Body), x.Query, x.Headers["Accept"])
			}
		}
	}
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute, Limits: quickLimits})
	f.Fuzz(func(t *testing.T, call uint8, body []byte, query, accept string) {
		if manyLaps(body) || manyPlans(body) || longAssembly(body) {
			return
		}
		r := request(http.MethodPost, all[names[int(call)%len(names)]].path, "application/json", body)
		r.URL.RawQuery = query
		r.Header.Set("Accept", accept)
		noFault(t, h, r)
	})
}

// FuzzAddresses asks for whatever stands at an address, in any words and on any condition.
func FuzzAddresses(f *testing.F) {
	h := newHarness(f, engine.Config{QueueWait: time.Minute})
	id := analyse(f, h, readFile(f, "testdata/examples/orchard-loop.gpx"))
	for _, c := range calls(f) {
		for _, x := range c.exchanges {
			if c.method == http.MethodGet {
				path := strings.ReplaceAll(c.path, "{course_id}", id)
				for name, value := range x.Path {
					path = strings.ReplaceAll(path, "{"+name+"}", value)
				}
				f.Add(path, x.Query, x.Headers["Accept"], x.Headers["If-None-Match"])
			}
		}
	}
	f.Add("/v1/courses/"+id+"/profile", "focus=climb-1&width=480&height=320stheme=dark&unit&=gmperial", "impa\fe/png", "")
	f.Fuzz(func(t *testing.T, path, query, accept, held string) {
		r := request(http.MethodGet, "/", "", nil)
		r.URL = &url.URL{Path: "/" + strings.TrimPrefix(path, "/"), RawQuery: query}
		r.Header.Set("Accept", accept)
		r.Header.Set("If-None-Match", held)
		noFault(t, h, r)
	})
}

// manyPlans reports requests that are slow by right: of plans that go over hundreds of
// kilometres together.
func manyPlans(body []byte) bool {
	var q struct {
		Course struct {
			Profile struct {
				DistanceM []float64 `json:"distance_m"`
			}
			Options struct{ Laps int }
		}
		Riders, Setups []json.RawMessage
	}
	if json.Unmarshal(body, &q) != nil || len(q.Course.Profile.DistanceM) == 0 {
		return false
	}
	d := q.Course.Profile.DistanceM
	plans := len(q.Riders) * max(1, len(q.Setups), q.Course.Options.Laps)
	return (d[len(d)-1]-d[0])*float64(plans) > 100_000
}

// longAssembly reports assemblies that are slow by right.
func longAssembly(body []byte) bool {
	var q struct {
		Parts []struct {
			Course json.RawMessage
			Repeat float64
		}
	}
	repeats := 0.0
	if json.Unmarshal(body, &q) != nil {
		return false
	}
	for _, p := range q.Parts {
		if manyLaps([]byte(`{"course": ` + string(p.Course) + `}`)) {
			return true
		}
		repeats += max(1, p.Repeat)
	}
	return repeats > 10
}

// manyLaps reports requests that are slow by right: a course of thousands of km.
func manyLaps(body []byte) bool {
	var q struct {
		Course struct {
			Profile struct {
				DistanceM []float64 `json:"distance_m"`
			}
			Options struct{ Laps int }
		}
	}
	if json.Unmarshal(body, &q) != nil || len(q.Course.Profile.DistanceM) == 0 {
		return false
	}
	d := q.Course.Profile.DistanceM
	return (d[len(d)-1]-d[0])*float64(max(1, q.Course.Options.Laps)) > 300_000
}

// noFault sends a request and demands that the reply is in the contract and blames
// nobody but the request.
func noFault(t *testing.T, h *harness, r *http.Request) {
	t.Helper()
	if w := h.send(t, r); w.Code >= 500 {
		t.Errorf("status %d: %.1000s\n%s", w.Code, w.Body, h.log)
	}
	h.log.Reset()
}
