package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis"
	"parcours.example/internal/redistest"
	"parcours.example/service/engine"
)

// answersFrom returns how many answers of a harness came from somewhere.
func answersFrom(h *harness, from string) (n int) {
	for line := range strings.Lines(h.serve(request(http.MethodGet, "/metrics", "", nil)).Body.String()) {
		var count int
		if _, err := fmt.Sscanf(line, `parcours_answers_total{from="`+from+`"} %d`, &count); err == nil {
			n = count
		}
	}
	return n
}

// Every call answers a request that came before, in other words or to another replica, with the
// answer that was made then: the same bytes, and nothing computed.
func TestAnswersAreKept(t *testing.T) {
	server := redistest.Start(t)
	db := server.Client()
	asked := map[string]bool{}
	for id, c := range calls(t) {
		for _, x := range c.exchanges {
			if x.Cached == "" || x.Status != http.StatusOK || strings.Contains(x.Headers["Accept"], "ndjson") {
				continue
			}
			one, other := replica(t, server.URL()), replica(t, server.URL())
			course := analyse(t, one, readFile(t, x.Cached))
			before := answersFrom(one, "made")
			first := one.serve(x.request(t, c, course))
			if id == "assembleCourse" || id == "compareSeason" || answersFrom(one, "made") == before {
				continue // it has no name beforehand, its parts are kept (TestSeasonsAreResumed), or the course was answered when its file was sent
			}
			tag, _, _ := strings.Cut(strings.Trim(first.Header().Get("ETag"), `"`), "-")
			if !within(5*time.Second, func() bool {
				return db.Exists(t.Context(), "parcours:answer:v"+analysis.EngineVersion+":"+tag).Val() == 1
			}) {
				t.Errorf("%s %s: not shared under the name in its tag", id, x.Name)
				continue
			}
			made := answersFrom(one, "made")
			spaced := x
			spaced.Body = strings.Replace(x.Body, "{", "{\n ", 1)
			shared := other.serve(spaced.request(t, c, course))
			if shared.Code == http.StatusNotFound {
				continue // a busy machine: Redis wasn't waited for, and the course is nowhere else
			}
			asked[id] = true
			for _, w := range []*httptest.ResponseRecorder{one.serve(x.request(t, c, course)), one.serve(spaced.request(t, c, course)), shared} {
				if !bytes.Equal(w.Body.Bytes(), first.Body.Bytes()) || w.Header().Get("ETag") != first.Header().Get("ETag") {
					t.Errorf("%s %s: answered otherwise the second time: %d %.300s", id, x.Name, w.Code, w.Body)
				}
			}
			if n := answersFrom(one, "made"); n != made {
				t.Errorf("%s %s: made %d times more", id, x.Name, n-made)
			}
			if answersFrom(other, "redis") != 1 && answersFrom(other, "made") != 1 { // a busy machine may not answer in time
				t.Errorf("%s %s: neither read nor made", id, x.Name)
			}
		}
	}
	if len(asked) < 8 {
		t.Errorf("only %v were asked", asked)
	}
}

// A thousand who ask the same at once are all answered by one computation, and those who leave
// take nobody with them.
func TestAnswersAreMadeOnce(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, "testdata/examples/orchard-loop.gpx"))
	before := answersFrom(h, "made")
	ask := func() *http.Request {
		return request(http.MethodPost, "/v1/plans", "application/json", fmt.Appendf(nil,
			`{"course":{"course_id":"%s"},"riders":[{"mass_kg":70,"critical_power_w":250,"w_prime_j":20000}]}`, id))
	}
	var (
		all   sync.WaitGroup
		first atomic.Pointer[[]byte]
	)
	for i := range 1000 {
		all.Go(func() {
			r := ask()
			if i%3 == 0 {
				ctx, leave := context.WithTimeout(r.Context(), time.Duration(i)*20*time.Microsecond)
				defer leave()
				h.serve(r.WithContext(ctx))
				return
			}
			w := h.serve(r)
			body := w.Body.Bytes()
			if w.Code != http.StatusOK || !first.CompareAndSwap(nil, &body) && !bytes.Equal(*first.Load(), body) {
				t.Errorf("status %d: %.200s", w.Code, body)
			}
		})
	}
	all.Wait()
	if n := answersFrom(h, "made") - before; n != 1 {
		t.Errorf("made %d times", n)
	}
}

// What a rider weighs or can do is in no key.
func TestKeysOfAnswersAreDigests(t *testing.T) {
	server := redistest.Start(t)
	h := replica(t, server.URL())
	id := analyse(t, h, readFile(t, "testdata/examples/orchard-loop.gpx"))
	h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", fmt.Appendf(nil,
		`{"course":{"course_id":"%s"},"riders":[{"name":"Zwoltner","mass_kg":71.937}],"effort":{"kind":"power","power_w":287.3}}`, id)))
	db := server.Client()
	waitFor(t, "written", func() bool { return len(db.Keys(t.Context(), "parcours:answer:*").Val()) > 0 })
	for _, key := range db.Keys(t.Context(), "*").Val() {
		if strings.Contains(key, "Zwoltner") || strings.Contains(key, "71.937") || strings.Contains(key, "287.3") {
			t.Errorf("key %q", key)
		}
	}
}

// BenchmarkKept compares answers that are kept with the same bytes from a handler that does
// nothing but write them, over real connections: x is the rate's share of that.
func BenchmarkKept(b *testing.B) {
	h := newHarness(b, engine.Config{})
	content := readFile(b, "testdata/season/morvask-laps-and-climb.gpx")
	var doc struct {
		CourseID string `json:"course_id"`
	}
	if err := json.Unmarshal(h.serve(request(http.MethodPost, "/v1/courses", "", content)).Body.Bytes(), &doc); err != nil {
		b.Fatal(err)
	}
	prediction := fmt.Appendf(nil, `{"course":{"course_id":"%s"},"riders":[{"mass_kg":70}],"effort":{"kind":"power","power_w":250}}`, doc.CourseID)
	for _, tc := range []struct {
		name, method, path string
		body               []byte
	}{
		{"GET course", http.MethodGet, "/v1/courses/" + doc.CourseID, nil},
		{"GET profile", http.MethodGet, "/v1/courses/" + doc.CourseID + "/profile", nil},
		{"POST prediction", http.MethodPost, "/v1/predictions", prediction},
		{"POST file", http.MethodPost, "/v1/courses", content},
	} {
		b.Run(tc.name, func(b *testing.B) {
			contentType := ""
			if tc.body != nil && tc.body[0] == '{' {
				contentType = "application/json"
			}
			ask := func() *http.Request { return request(tc.method, tc.path, contentType, tc.body) }
			kept := h.serve(ask())
			if kept.Code != http.StatusOK {
				b.Fatalf("status %d: %.300s", kept.Code, kept.Body)
			}
			bare := gin.New()
			bare.Handle(tc.method, "/*any", func(c *gin.Context) { c.Data(http.StatusOK, kept.Header().Get("Content-Type"), kept.Body.Bytes()) })
			ours, theirs := servedAt(b, h.handler), servedAt(b, bare)
			var took [2]time.Duration
			const round = 500
			b.ResetTimer()
			for n := 0; n < b.N; n += 2 * round { // in turns, so that both see the same machine
				for k, at := range []string{ours, theirs} {
					start := time.Now()
					hammer(b, at, round, ask)
					took[k] += time.Since(start)
				}
			}
			b.ReportMetric(took[1].Seconds()/took[0].Seconds(), "x")
		})
	}
}

// servedAt serves a handler on a port of its own.
func servedAt(b *testing.B, handler http.Handler) string {
	s := httptest.NewServer(handler)
	b.Cleanup(s.Close)
	return s.URL
}

// hammer sends n requests by eight callers who keep their connections.
func hammer(b *testing.B, at string, n int, ask func() *http.Request) {
	var all sync.WaitGroup
	var left atomic.Int64
	left.Store(int64(n))
	for range 8 {
		all.Go(func() {
			for left.Add(-1) >= 0 {
				r := ask()
				r.RequestURI, r.URL.Scheme, r.URL.Host = "", "http", strings.TrimPrefix(at, "http://")
				reply, err := hammering.Do(r)
				if err != nil {
					b.Error(err)
					return
				}
				_, err = io.Copy(io.Discard, reply.Body)
				_ = reply.Body.Close()
				if err != nil || reply.StatusCode != http.StatusOK {
					b.Errorf("status %d, %v", reply.StatusCode, err)
					return
				}
			}
		})
	}
	all.Wait()
}

// hammering keeps its connections and asks for no coding, which the other handler doesn't do.
var hammering = &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 8, DisableCompression: true}}
