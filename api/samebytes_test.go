package api_test

import (
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"runtime"
	"slices"
	"testing"
	"time"

	measured "parcours.example/internal/figures"
	"parcours.example/internal/seeded"
	"parcours.example/service/engine"
)

// question is an exchange of the contract that has one answer for ever.
type question struct {
	name string
	call call
	exchange
}

// questions lists them, without those about the service itself, those that become jobs, whose ids
// are drawn, and the largest bodies.
func questions(t *testing.T) []question {
	t.Helper()
	var all []question
	every := calls(t)
	for _, id := range slices.Sorted(maps.Keys(every)) {
		for _, x := range every[id].exchanges {
			if id != "metrics" && !x.Busy && !x.Stopping && x.Status != http.StatusAccepted && x.Job == "" && x.BodyBytes < 1<<20 {
				all = append(all, question{id + "/" + x.Name, every[id], x})
			}
		}
	}
	return all
}

// asked sends a question to a service.
func (q question) asked(t *testing.T, h *harness) *httptest.ResponseRecorder {
	t.Helper()
	id := ""
	if q.Cached != "" {
		id = analyse(t, h, readFile(t, q.Cached))
	}
	r := q.request(t, q.call, id)
	r.Header.Set("Request-Id", "the-same")
	return h.serve(r)
}

// TestT19SameBytes asks everything that the contract shows of fresh services, each time in
// another order and on 1, 2 or 8 processors: every reply is the same, byte for byte, whatever
// was computed before it, beside it, and in which order maps were gone through; lines that tell
// how far a stream is come as they come. The default
// run takes a quarter of the questions, three times.
func TestT19SameBytes(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	all := questions(t)
	random := rand.New(rand.NewPCG(seeded.First(t), 19))
	type reply struct {
		status    int
		tag, kind string
		body      []byte
	}
	first := map[string]reply{}
	processors := []int{1, 2, 8}
	passes := seeded.Cases(100)
	if passes < 100 {
		passes = len(processors)
		random.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		all = all[:len(all)/4]
	}
	for pass := range passes {
		runtime.GOMAXPROCS(processors[pass%len(processors)])
		h := newHarness(t, engine.Config{QueueWait: time.Minute})
		for _, i := range random.Perm(len(all)) {
			w := all[i].asked(t, h)
			got := reply{w.Code, w.Header().Get("ETag"), w.Header().Get("Content-Type"), w.Body.Bytes()}
			want, known := first[all[i].name]
			if !known {
				first[all[i].name] = got
			} else if got.status != want.status || got.tag != want.tag || got.kind != want.kind || !sameButProgress(got.body, want.body) {
				t.Errorf("%s: pass %d: status %d, %d bytes, %q; first %d, %d bytes, %q", all[i].name, pass, got.status, len(got.body), got.tag, want.status, len(want.body), want.tag)
			}
		}
	}
	measured.Report(t, "T19", "%d questions asked %d times of fresh services, in shuffled order, on 1, 2 and 8 processors: the same bytes each time", len(all), passes)
}
