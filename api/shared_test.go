package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/redis/go-redis/v9"

	"parcours.example/internal/redistest"
	"parcours.example/service/cache"
	"parcours.example/service/engine"
)

// replica is a handler whose engine shares its courses through a Redis.
func replica(t testing.TB, url string) *harness {
	t.Helper()
	shared, err := cache.Open(cache.Config{URLs: []string{url}, Logger: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = shared.Close(context.Background()) })
	return newHarness(t, engine.Config{Shared: shared})
}

// waitFor waits for what happens after a reply.
func waitFor(t *testing.T, what string, holds func() bool) {
	t.Helper()
	if !within(patience, holds) {
		t.Fatalf("never %s", what)
	}
}

// within reports whether something comes to hold in a time.
func within(longest time.Duration, holds func() bool) bool {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(longest); time.Now().Before(end); <-tick.C {
		if holds() {
			return true
		}
	}
	return false
}

// What is asked of a course, in many ways.
func everyQuestion(id string) []*http.Request {
	about := func(path, rest string) *http.Request {
		return request(http.MethodPost, path, "application/json", fmt.Appendf(nil, `{"course":{"course_id":"%s"},%s}`, id, rest))
	}
	rider := `"riders":[{"name":"Nour","mass_kg":61,"critical_power_w":245,"w_prime_j":15000,"max_power_w":800}]`
	all := []*http.Request{
		request(http.MethodGet, "/v1/courses/"+id+"?include=profile,geometry", "", nil),
		request(http.MethodGet, "/v1/courses/"+id+"/profile?focus=map", "", nil),
		request(http.MethodGet, "/v1/courses/"+id+"/profile", "", nil),
		about("/v1/predictions?include=trace", rider+`,"effort":{"kind":"best"},"conditions":{"wind_mps":4,"wind_from_deg":200}`),
		about("/v1/briefs", rider+`,"effort":{"kind":"power","power_w":230}`),
		request(http.MethodPost, "/v1/courses/assemble", "application/json",
			fmt.Appendf(nil, `{"parts":[{"course":{"course_id":"%s"},"to_m":900,"reverse":true},{"course":{"course_id":"%s"},"from_m":300,"repeat":2}],"marks":[{"name":"Mill","at_m":700}]}`, id, id)),
	}
	for _, r := range all {
		r.Header.Set("Request-Id", "same")
	}
	all[1].Header.Set("Accept", "image/svg+xml")
	all[2].Header.Set("Accept", "image/png")
	return all
}

// Any replica answers about a course that another has analysed, with the same bytes, and does
// so too where the shared values are lost, damaged or of another make: then the caller sends
// the file again, which is all that it costs.
func TestReplicasAnswerAlike(t *testing.T) {
	for _, file := range []string{"../testdata/season/hoskerrow-eight-recorded.gpx", "../testdata/examples/orchard-loop.profile.csv", "../testdata/examples/orchard-loop.gpx"} {
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		server := redistest.Start(t) // of its own: writes come later than replies
		db := server.Client()
		alone, one, other := newHarness(t, engine.Config{}), replica(t, server.URL()), replica(t, server.URL())
		analysed := func(h *harness) (id string, body []byte) {
			w := h.send(t, request(http.MethodPost, "/v1/courses", "", content))
			var c struct {
				CourseID string `json:"course_id"`
			}
			if err := json.Unmarshal(w.Body.Bytes(), &c); err != nil {
				t.Fatal(err)
			}
			return c.CourseID, w.Body.Bytes()
		}
		id, want := analysed(alone)
		if _, got := analysed(one); !bytes.Equal(got, want) {
			t.Errorf("%s: sharing changes the analysis", file)
		}
		waitFor(t, "shared", func() bool { return db.DBSize(t.Context()).Val() > 0 })
		compare := func(h *harness, how string) {
			asked := everyQuestion(id)
			for i, r := range everyQuestion(id) {
				w, got := alone.serve(asked[i]), h.serve(r)
				if got.Code != w.Code || !bytes.Equal(got.Body.Bytes(), w.Body.Bytes()) || got.Header().Get("ETag") != w.Header().Get("ETag") {
					t.Errorf("%s, %s: %s %s: %d %.200s, alone %d %.200s", file, how, r.Method, r.URL.Path, got.Code, got.Body, w.Code, w.Body)
				}
			}
		}
		waitFor(t, "read by another replica", func() bool { // a busy machine may need more than one look
			return other.serve(request(http.MethodGet, "/v1/courses/"+id, "", nil)).Code == http.StatusOK
		})
		compare(other, "from another replica")
		damage(t, db)
		damaged := replica(t, server.URL())
		if w := damaged.send(t, request(http.MethodGet, "/v1/courses/"+id, "", nil)); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d from a damaged value", file, w.Code)
		}
		if _, got := analysed(damaged); !bytes.Equal(got, want) {
			t.Errorf("%s: a damaged value changes the analysis", file)
		}
		compare(damaged, "after a damaged value")
	}
}

// damage spoils every value that replicas share, and those that are still on their way.
func damage(t *testing.T, db *redis.Client) {
	t.Helper()
	spoiled := map[string]bool{}
	for quiet := 0; quiet < 10; quiet++ {
		for _, k := range db.Keys(t.Context(), "*").Val() {
			if spoiled[k] {
				continue
			}
			if !strings.HasPrefix(k, "parcours:course:v") && !strings.HasPrefix(k, "parcours:answer:v") {
				t.Errorf("key %q", k)
			}
			value := db.Get(t.Context(), k).Val()
			db.Set(t.Context(), k, value[:len(value)/2]+"x"+value[len(value)/2+1:], 0)
			spoiled[k], quiet = true, 0
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// While Redis is away the service is ready and says so, and answers as ever.
func TestReadyWithoutRedis(t *testing.T) {
	server := redistest.Start(t)
	h := replica(t, server.URL())
	cacheSays := func() string {
		var health struct{ Cache string }
		w := h.send(t, request(http.MethodGet, "/readyz", "", nil))
		if err := json.Unmarshal(w.Body.Bytes(), &health); err != nil || w.Code != http.StatusOK {
			t.Fatalf("status %d, %v", w.Code, err)
		}
		return health.Cache
	}
	if got := cacheSays(); got != "ok" {
		t.Errorf("cache: %s", got)
	}
	server.Kill()
	for i := range 5 {
		w := h.send(t, request(http.MethodPost, "/v1/courses", "", fmt.Appendf(nil, "distance_m,elevation_m\n0,%d\n900,60\n2000,20\n", i)))
		if w.Code != http.StatusOK {
			t.Fatalf("status %d without Redis", w.Code)
		}
	}
	waitFor(t, "degraded", func() bool { return cacheSays() == "degraded" })
	server.Restart()
	waitFor(t, "ok again", func() bool { return cacheSays() == "ok" })
}

// The same course asked of three replicas at the same time, many times, is analysed once a
// replica at most; and, unless Redis is too slow for a waiting caller each time, once in all
// where one replica was first.
func TestReplicasShareTheWork(t *testing.T) {
	server := redistest.Start(t)
	replicas := []*harness{replica(t, server.URL()), replica(t, server.URL()), replica(t, server.URL())}
	analyses := func() (n int) {
		for _, h := range replicas {
			body := h.serve(request(http.MethodGet, "/metrics", "", nil)).Body.String()
			for line := range strings.Lines(body) {
				var count int
				if _, err := fmt.Sscanf(line, `parcours_engine_seconds_count{stage="terrain"} %d`, &count); err == nil {
					n += count
				}
			}
		}
		return n
	}
	content := readFile(t, "testdata/examples/orchard-loop.gpx")
	const courses = 8
	for i := range courses {
		path, before := fmt.Sprintf("/v1/courses?name=Evening%%20%d", i), analyses()
		replicas[0].send(t, request(http.MethodPost, path, "", content))
		if !within(time.Second, func() bool { return server.Client().DBSize(t.Context()).Val() == int64(i+1) }) {
			t.Skip("the machine is too busy for Redis to answer in time")
		}
		var all sync.WaitGroup
		for k := range 60 {
			all.Go(func() {
				if w := replicas[k%3].serve(request(http.MethodPost, path, "", content)); w.Code != http.StatusOK {
					t.Errorf("status %d", w.Code)
				}
			})
		}
		all.Wait()
		switch n := analyses() - before; {
		case n == 1:
			return
		case n > len(replicas):
			t.Fatalf("analysed %d times", n)
		}
	}
	t.Errorf("none of %d courses was analysed but once", courses)
}
