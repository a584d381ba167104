package api_test

import (
	"bytes"
	"cmp"
	"errors"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/redis/go-redis/v9"

	"parcours.example/internal/figures"
	"parcours.example/internal/redistest"
	"parcours.example/internal/seeded"
	"parcours.example/service/cache"
	"parcours.example/service/engine"
)

// inquiry is a request of the corpus.
type inquiry struct {
	name string
	// cached is the file of the course that the request names by its id; "" where it names
	// none.
	cached  string
	request func(t *testing.T, courseID string) *http.Request
}

// corpus is every example of the contract that is answered 200 and can be answered from a
// cache, and files of the season.
func corpus(t *testing.T) []inquiry {
	t.Helper()
	var all []inquiry
	for id, c := range calls(t) {
		if !strings.HasPrefix(c.path, "/v1/") {
			continue
		}
		for _, x := range c.exchanges {
			if x.Status == http.StatusOK && x.Job == "" {
				all = append(all, inquiry{id + "/" + x.Name, x.Cached, func(t *testing.T, courseID string) *http.Request { return x.request(t, c, courseID) }})
			}
		}
	}
	files, err := filepath.Glob(filepath.Join(root, "testdata/season/*.gpx"))
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	slices.SortFunc(all, func(a, b inquiry) int { return cmp.Compare(a.name, b.name) })
	for _, name := range files[:seeded.Cases(len(files))] {
		content, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, inquiry{filepath.Base(name), "", func(*testing.T, string) *http.Request {
			return request(http.MethodPost, "/v1/courses?include=profile", "application/gpx+xml", content)
		}})
	}
	return all
}

// replied is what must be the same whatever is cached.
type replied struct {
	status int
	header string
	body   []byte
}

// ask sends a request of the corpus. Where its course isn't cached the file is sent first, as
// a client does.
func (a inquiry) ask(t *testing.T, h *harness, ids map[string]string) replied {
	t.Helper()
	if a.cached != "" && ids[a.cached] == "" {
		ids[a.cached] = analyse(t, h, readFile(t, a.cached))
	}
	w := h.serve(a.request(t, ids[a.cached]))
	if a.cached != "" && w.Code == http.StatusNotFound {
		analyse(t, h, readFile(t, a.cached))
		w = h.serve(a.request(t, ids[a.cached]))
	}
	return told(w)
}

func told(w *httptest.ResponseRecorder) replied {
	var header strings.Builder
	for _, name := range slices.Sorted(maps.Keys(w.Header())) {
		if name != "Request-Id" {
			header.WriteString(name + ": " + strings.Join(w.Header()[name], ", ") + "\n")
		}
	}
	return replied{w.Code, header.String(), withoutProgress(w.Body.Bytes())}
}

// sharing is a replica that shares what it computes through a Redis.
type sharing struct {
	*harness
	shared  *cache.Shared
	metrics *prometheus.Registry
}

// newSharing starts a replica with an empty memory of its own, of so many bytes.
func newSharing(t *testing.T, server *redistest.Server, cacheBytes int64) *sharing {
	t.Helper()
	metrics := prometheus.NewRegistry()
	shared, err := cache.Open(cache.Config{URLs: []string{server.URL()}, Logger: slog.New(slog.DiscardHandler), Registerer: metrics})
	if err != nil {
		t.Fatal(err)
	}
	return &sharing{newHarness(t, engine.Config{Shared: shared, CacheBytes: cacheBytes}), shared, metrics}
}

// end waits until what the replica computed is written.
func (s *sharing) end(t *testing.T) {
	t.Helper()
	if err := s.shared.Close(t.Context()); err != nil {
		t.Error(err)
	}
}

// found counts look-ups in Redis by what they found.
func (s *sharing) found(t *testing.T, what string) (n float64) {
	t.Helper()
	families, err := s.metrics.Gather()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range families {
		for _, m := range f.GetMetric() {
			if f.GetName() == "parcours_redis_lookups_total" && m.GetLabel()[0].GetValue() == what {
				n += m.GetCounter().GetValue()
			}
		}
	}
	return n
}

// T12: the cache is only an optimisation. Every reply is the same, to the byte and in its
// header, with and without it, cold and warm, from memory and from Redis, where hardly
// anything stays in memory, and where every value in Redis is spoilt, another's or of another
// kind, which is found out, counted and overwritten.
func TestT12CacheIsOnlyAnOptimisation(t *testing.T) {
	server := redistest.Start(t)
	db, all := server.Client(), corpus(t)
	want := make([]replied, len(all))
	for i, a := range all {
		want[i] = a.ask(t, newHarness(t, engine.Config{}), map[string]string{})
		if want[i].status != http.StatusOK {
			t.Fatalf("%s: status %d: %.300s", a.name, want[i].status, want[i].body)
		}
	}
	replies := 0
	same := func(how string, h *harness) {
		t.Helper()
		ids := map[string]string{}
		for i, a := range all {
			replies++
			if got := a.ask(t, h, ids); got.status != want[i].status || got.header != want[i].header || !bytes.Equal(got.body, want[i].body) {
				t.Errorf("%s, %s: status %d\n%s%.500s\nwithout a cache status %d\n%s%.500s", a.name, how, got.status, got.header, got.body, want[i].status, want[i].header, want[i].body)
			}
		}
	}
	const hardlyAny = 1 << 20 // the least memory that can be set
	if os.Getenv("PARCOURS_FULL") == "1" {
		alone := newHarness(t, engine.Config{})
		same("without Redis, cold", alone)
		same("without Redis, warm", alone)
		same("without Redis, hardly any memory", newHarness(t, engine.Config{CacheBytes: hardlyAny, AnswerBytes: hardlyAny}))
	}
	first := newSharing(t, server, 0)
	same("cold", first.harness)
	same("warm", first.harness)
	first.end(t)
	second := newSharing(t, server, hardlyAny)
	same("what another replica shared, hardly any memory", second.harness)
	second.end(t)
	if second.found(t, "hit") == 0 || second.found(t, "foreign") != 0 {
		t.Errorf("%v hits, %v foreign values", second.found(t, "hit"), second.found(t, "foreign"))
	}
	seed, found, left := seeded.First(t), 0.0, 0
	for pass := range seeded.Cases(20) {
		spoil(t, db, rand.New(rand.NewPCG(seed, uint64(pass))))
		before := valuesOf(t, db)
		h := newSharing(t, server, 0)
		same("spoilt", h.harness)
		h.end(t)
		// Whatever was looked up was spoilt, and is kept in memory since.
		if hits, foreign := h.found(t, "hit"), h.found(t, "foreign"); hits != 0 || foreign == 0 {
			t.Errorf("%v values were taken for good, %v found out", hits, foreign)
		}
		found += h.found(t, "foreign")
		left += unchanged(t, db, before)
		// A request writes one value, so what it found spoilt may be left to the next.
		still := 1.0
		for again := 0; again < 5 && still > 0; again++ {
			next := newSharing(t, server, 0)
			same("after it was spoilt", next.harness)
			next.end(t)
			still = next.found(t, "foreign")
		}
		if still > 0 {
			t.Errorf("%v values are still spoilt", still)
		}
	}
	figures.Report(t, "T12", "%d replies to %d requests in all states of the cache: 0 differ; %.0f look-ups of spoilt values: all found out, counted and overwritten; %d values weren't asked for",
		replies, len(all), found, left)
}

// spoil makes every value in a Redis one that nobody wrote under its key.
func spoil(t *testing.T, db *redis.Client, random *rand.Rand) {
	t.Helper()
	values := valuesOf(t, db)
	keys := slices.Sorted(maps.Keys(values))
	for i, key := range keys {
		value := []byte(values[key])
		switch random.IntN(5) {
		case 0: // cut short
			value = value[:random.IntN(len(value))]
		case 1: // another key's, as another version of the engine's would be
			value = []byte(values[keys[(i+1)%len(keys)]])
		case 2: // of another kind
			if err := errors.Join(db.Del(t.Context(), key).Err(), db.LPush(t.Context(), key, "a").Err()); err != nil {
				t.Fatal(err)
			}
			continue
		default:
			bit := random.IntN(8 * len(value))
			value[bit/8] ^= 1 << (bit % 8)
		}
		if err := db.Set(t.Context(), key, value, redis.KeepTTL).Err(); err != nil {
			t.Fatal(err)
		}
	}
}

// unchanged counts the values that are as they were; of each kind some must not be.
func unchanged(t *testing.T, db *redis.Client, before map[string]string) (n int) {
	t.Helper()
	written := map[string]bool{}
	for key, value := range valuesOf(t, db) {
		if was, there := before[key]; there && was == value {
			n++
		} else {
			written[kindOf(key)] = true
		}
	}
	for key := range before {
		if !written[kindOf(key)] {
			t.Errorf("no value of the kind %s was overwritten", kindOf(key))
		}
	}
	return n
}

// kindOf returns what a key is of, "parcours:course" for one.
func kindOf(key string) string { return key[:strings.LastIndex(key, ":v")] }

// valuesOf returns all that stands in a Redis; "" for what isn't text.
func valuesOf(t *testing.T, db *redis.Client) map[string]string {
	t.Helper()
	values := map[string]string{}
	for _, key := range db.Keys(t.Context(), "*").Val() {
		values[key] = db.Get(t.Context(), key).Val()
	}
	if len(values) == 0 {
		t.Fatal("nothing was shared")
	}
	return values
}
