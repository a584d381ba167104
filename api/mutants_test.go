package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/seeded"
	"parcours.example/service/engine"
)

// patience is how long an answer may take before it is said never to come.
const patience = 2 * time.Minute

// quickLimits keep races, plans and comparisons so short that many can be asked for.
var quickLimits = engine.Limits{RiderSteps: 20_000, PlanSamples: 2000, ComparisonRides: 400, Launches: 30, Predictions: 400}

// TestT01DamagedInput sends damaged files and requests to every call: files cut off at every
// byte, and whatever mutations make of files, JSON, header fields and queries. Whatever comes,
// nothing panics, nothing answers 5xx or outside the contract, and errors are problems. A
// fifth at least of those that aren't just cut off must still be answered, or the damage would
// test nothing behind the readers.
// A full run goes on to the end, or as long as -timeout lets it.
func TestT01DamagedInput(t *testing.T) {
	n, stride := 2000, 401
	switch {
	case os.Getenv("PARCOURS_FULL") == "1":
		n, stride = 1_000_000, 1
	case testing.Short():
		n, stride = 300, 2003
	}
	trial := newMutantTrial(t)
	first := seeded.First(t)
	for m := range truncations(t, stride) {
		if !trial.send(t, m) {
			break
		}
	}
	trial.cut, trial.statuses = trial.sent, map[int]int{}
	seeds := mutantSeeds(t, trial.harness)
	for i := 0; trial.sent < n; i++ {
		r := rand.New(rand.NewPCG(first, uint64(i))) //nolint:gosec // not negative
		if !trial.send(t, damaged(r, seedFor(r, seeds))) {
			break
		}
	}
	trial.report(t)
}

// seedFor picks a seed, seldom one that sends nothing.
func seedFor(r *rand.Rand, seeds []mutant) mutant {
	for {
		if m := seeds[r.IntN(len(seeds))]; len(m.body) > 0 || r.IntN(4) == 0 {
			return m
		}
	}
}

// mutantTrial is what became of mutants so far.
type mutantTrial struct {
	harness  *harness
	deadline time.Time
	// sent counts all, cut those of them that are nothing but cut off.
	sent, cut int
	statuses  map[int]int
	// answered is the number of those answered, by the call that the seed asked for.
	answered map[string]int
	// slowest took the longest, in processor time, refused of those that were; over counts
	// those above 250 ms.
	slowest, refused time.Duration
	slowSeed         string
	over             int
}

func newMutantTrial(t *testing.T) *mutantTrial {
	deadline, limited := t.Deadline()
	if !limited {
		deadline = time.Now().Add(1000 * time.Hour)
	}
	return &mutantTrial{
		harness:  newHarness(t, engine.Config{CacheBytes: 16 << 20, QueueWait: time.Minute, Limits: quickLimits}),
		deadline: deadline.Add(-patience), statuses: map[int]int{}, answered: map[string]int{},
	}
}

// send sends a mutant and checks the answer; false where the trial is to end.
func (s *mutantTrial) send(t *testing.T, m mutant) bool {
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	q := m.request().WithContext(ctx)
	before := processorTime(t)
	w := s.harness.serve(q)
	took := processorTime(t) - before
	if ctx.Err() != nil {
		t.Errorf("no answer within %v", patience)
	}
	s.sent++
	s.statuses[w.Code]++
	if w.Code < 400 {
		s.answered[m.call]++
	}
	if took > 250*time.Millisecond {
		s.over++
	}
	if w.Code >= 400 {
		s.refused = max(s.refused, took)
	}
	if took > s.slowest {
		s.slowest, s.slowSeed = took, m.seed+m.damage
	}
	s.harness.checkMutant(t, m.request(), w)
	if t.Failed() {
		t.Logf("mutant %d of %s%s: %s %q ? %q %q: status %d: %.500s\nbody %.3000q", s.sent, m.seed, m.damage, m.method, m.path, m.query, m.header, w.Code, w.Body, m.body)
		return false
	}
	return time.Now().Before(s.deadline)
}

// report tells the figure and holds what is said of all together.
func (s *mutantTrial) report(t *testing.T) {
	answered := s.statuses[http.StatusOK]
	t.Logf("%d cut off; statuses of the others %v; answered %v", s.cut, s.statuses, s.answered)
	figures.Report(t, "T1", "%d inputs: 0 panics, 0 5xx, 0 errors that are no problems, 0 answers outside the contract; %d %% of those not just cut off answered 200; slowest %d ms of processor time (%s), %d above 250 ms; slowest that was refused %d ms",
		s.sent, 100*answered/max(1, s.sent-s.cut), s.slowest.Milliseconds(), s.slowSeed, s.over, s.refused.Milliseconds())
	if answered*5 < s.sent-s.cut {
		t.Errorf("%d of %d mutants were answered, want a fifth at least", answered, s.sent-s.cut)
	}
}

// checkMutant holds the answer to a mutant against the contract.
func (h *harness) checkMutant(t *testing.T, q *http.Request, w *httptest.ResponseRecorder) {
	t.Helper()
	if bytes.Contains(h.log.Bytes(), []byte(`"panic"`)) {
		t.Errorf("something panicked: %s", h.log)
	}
	h.log.Reset()
	if q.Method == http.MethodHead { // answered like GET
		q.Method = http.MethodGet
	}
	h.check(t, q, w)
	switch {
	case w.Code >= 500:
		t.Errorf("status %d", w.Code)
	case w.Code >= 400:
		checkAnyProblem(t, w)
	}
}

// checkAnyProblem demands a whole problem of a bounded length.
func checkAnyProblem(t *testing.T, w *httptest.ResponseRecorder) {
	t.Helper()
	var p struct {
		Type, Title, Detail string
		Status              int
		RequestID           string `json:"request_id"`
	}
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
		t.Errorf("the problem isn't JSON: %v", err)
	}
	if !strings.HasPrefix(p.Type, "/problems/") || p.Title == "" || p.Detail == "" || p.Status != w.Code || p.RequestID != w.Header().Get("Request-Id") {
		t.Errorf("no whole problem: %+v", p)
	}
	const most = 32 << 10 // 32 faults, each with a place and a sentence
	if w.Body.Len() > most {
		t.Errorf("a problem of %d bytes", w.Body.Len())
	}
}

// truncations yields small files and a request, cut off at every strideth byte.
func truncations(t *testing.T, stride int) func(yield func(mutant) bool) {
	whole := map[string][]byte{
		"/v1/courses":     head(readFile(t, "testdata/examples/orchard-loop.gpx"), 20),
		"/v1/predictions": []byte(everything["predict"]),
	}
	for _, extension := range []string{"fit", "geojson", "kml", "csv", "gpx.gz"} {
		whole["/v1/courses?name="+extension] = readFile(t, "testdata/examples/orchard-loop."+extension)
	}
	return func(yield func(mutant) bool) {
		for _, target := range slices.Sorted(maps.Keys(whole)) {
			path, query, _ := strings.Cut(target, "?")
			m := mutant{call: "analyseCourse", seed: target, method: http.MethodPost, path: path, query: query, header: http.Header{}}
			if path != "/v1/courses" {
				m.call = "predict"
				m.header.Set("Content-Type", "application/json")
			}
			for end := 0; end < len(whole[target]); end += stride {
				m.damage, m.body = fmt.Sprintf(", cut off at byte %d", end), whole[target][:end]
				if !yield(m) {
					return
				}
			}
		}
	}
}

// mutantSeeds are the contract's examples that are answered, small files of every format, and
// requests with every field.
func mutantSeeds(t *testing.T, h *harness) []mutant {
	all := calls(t)
	courseID := analyse(t, h, readFile(t, "testdata/examples/orchard-loop.gpx"))
	var seeds []mutant
	for _, id := range slices.Sorted(maps.Keys(all)) {
		c := all[id]
		for _, x := range c.exchanges {
			if x.Status >= 400 || x.Busy {
				continue
			}
			r := x.request(t, c, courseID)
			var err error
			m := mutant{call: id, seed: id + " " + x.Name, method: r.Method, path: r.URL.Path, query: r.URL.RawQuery, header: r.Header, parameters: c.parameters}
			m.body, err = io.ReadAll(r.Body)
			if err != nil {
				t.Fatal(err)
			}
			seeds = append(seeds, m)
		}
		if body, is := everything[id]; is {
			seeds = append(seeds, mutant{call: id, seed: id + " everything", method: c.method, path: c.path, header: http.Header{"Content-Type": {"application/json"}}, body: []byte(body), parameters: c.parameters})
		}
	}
	files := mutationSeeds(t)
	for i, query := range []string{"", "laps=2", "smoothing=none", "reverse=true&include=profile,geometry"} {
		for j, file := range files {
			m := mutant{call: "analyseCourse", seed: fmt.Sprintf("file %d", j), method: http.MethodPost, path: "/v1/courses", query: query, header: http.Header{}, body: file, parameters: all["analyseCourse"].parameters}
			if i == 0 && j%3 == 0 {
				m.call, m.path, m.query, m.parameters = "brief", "/v1/briefs", "max_chars=400", all["brief"].parameters
			}
			seeds = append(seeds, m)
		}
	}
	return seeds
}
