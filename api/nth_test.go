package api_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"go.uber.org/goleak"

	"parcours.example/internal/faultline"
	"parcours.example/internal/figures"
	"parcours.example/internal/redistest"
	"parcours.example/service/cache"
	"parcours.example/service/engine"
)

// flow is a request of which every step is made to fail, one after the other.
type flow struct {
	name    string
	request func(t *testing.T) *http.Request
}

// flows are the six of the trial.
func flows() []flow {
	gpx := func(t *testing.T) []byte { return readFile(t, "testdata/examples/orchard-loop.gpx") }
	predicted := func(t *testing.T, accept string) *http.Request {
		r := post(t, "/v1/predictions", object{
			"course": object{"file": object{"content": string(gpx(t))}}, "riders": []any{object{"mass_kg": 68, "critical_power_w": 250, "w_prime_j": 16_000}},
			"effort": object{"kind": "power", "power_w": 230},
		})
		r.Header.Set("Accept", accept)
		return r
	}
	return []flow{
		{"course", func(t *testing.T) *http.Request {
			r := request(http.MethodPost, "/v1/courses?laps=2&include=profile", "application/gpx+xml", zipped(t, gpx(t)))
			r.Header.Set("Content-Encoding", "gzip")
			return r
		}},
		{"prediction", func(t *testing.T) *http.Request { return predicted(t, "application/json") }},
		{"brief", func(t *testing.T) *http.Request {
			return request(http.MethodPost, "/v1/briefs?rider=mass%3D72,power%3D240", "application/gpx+xml", gpx(t))
		}},
		{"stream", func(t *testing.T) *http.Request {
			return streamed(t, object{
				"course": hilly(), "riders": []any{able("Nour", 60, 4.4, nil), able("Bram", 84, 3.9, nil)}, "rules": object{"runs": 9},
			})
		}},
		{"season", func(t *testing.T) *http.Request {
			contentType, body := formOf(t, twoRiders, hillOf(1), namedFile{"words", "just words"}, hillOf(2))
			return request(http.MethodPost, seasonsPath, contentType, body)
		}},
		{"picture", func(t *testing.T) *http.Request { return predicted(t, "image/svg+xml") }},
	}
}

func zipped(t *testing.T, content []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(content); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// trouble makes the nth of some calls fail during a request.
type trouble struct {
	name string
	// with returns the request and the writer as they fail at the nth call, and whether there
	// was an nth.
	with func(n int, r *http.Request, w *httptest.ResponseRecorder) (*http.Request, http.ResponseWriter, func() bool)
}

var errTrouble = errors.New("made to fail")

func troubles() []trouble {
	ends := func(cause error) func(int, *http.Request, *httptest.ResponseRecorder) (*http.Request, http.ResponseWriter, func() bool) {
		return func(n int, r *http.Request, w *httptest.ResponseRecorder) (*http.Request, http.ResponseWriter, func() bool) {
			ctx := newEndingContext(r.Context(), n, cause)
			return r.WithContext(ctx), w, ctx.calls.reached
		}
	}
	writes := func(once bool) func(int, *http.Request, *httptest.ResponseRecorder) (*http.Request, http.ResponseWriter, func() bool) {
		return func(n int, r *http.Request, w *httptest.ResponseRecorder) (*http.Request, http.ResponseWriter, func() bool) {
			failing := &failingWriter{ResponseRecorder: w, calls: countdown{nth: int64(n)}, once: once}
			return r, failing, failing.calls.reached
		}
	}
	return []trouble{
		{"read", func(n int, r *http.Request, w *httptest.ResponseRecorder) (*http.Request, http.ResponseWriter, func() bool) {
			const reads = 12 // of a body, about
			body := &failingBody{ReadCloser: r.Body, most: int(r.ContentLength)/reads + 1, calls: countdown{nth: int64(n)}}
			r.Body = body
			return r, w, body.calls.reached
		}},
		{"write", writes(true)},
		{"write from then on", writes(false)},
		{"caller", ends(context.Canceled)},
		{"time", ends(context.DeadlineExceeded)},
	}
}

// countdown counts calls up to the nth.
type countdown struct {
	nth  int64
	made atomic.Int64
}

// next counts a call and reports whether it is the nth, or one after it.
func (c *countdown) next() (is, after bool) {
	n := c.made.Add(1)
	return n == c.nth, n > c.nth
}

func (c *countdown) reached() bool { return c.made.Load() >= c.nth }

// failingBody fails at the nth read.
type failingBody struct {
	io.ReadCloser
	most  int
	calls countdown
}

func (b *failingBody) Read(p []byte) (int, error) {
	if is, after := b.calls.next(); is || after {
		return 0, errTrouble
	}
	return b.ReadCloser.Read(p[:min(len(p), b.most)])
}

// failingWriter fails at the nth call that can fail, and after it unless once.
type failingWriter struct {
	*httptest.ResponseRecorder
	once  bool
	calls countdown
}

func (w *failingWriter) fails() bool {
	is, after := w.calls.next()
	return is || after && !w.once
}

func (w *failingWriter) Write(p []byte) (int, error) {
	is, after := w.calls.next()
	switch {
	case is:
		n, _ := w.ResponseRecorder.Write(p[:len(p)/2])
		return n, errTrouble
	case after && !w.once:
		return 0, errTrouble
	}
	return w.ResponseRecorder.Write(p)
}

func (w *failingWriter) WriteString(s string) (int, error) { return w.Write([]byte(s)) }

// FlushError implements what http.ResponseController asks for.
func (w *failingWriter) FlushError() error {
	if w.fails() {
		return errTrouble
	}
	w.ResponseRecorder.Flush()
	return nil
}

// SetWriteDeadline implements what http.ResponseController asks for.
func (w *failingWriter) SetWriteDeadline(time.Time) error {
	if w.fails() {
		return errTrouble
	}
	return nil
}

// endingContext ends at the nth look at whether it has.
type endingContext struct {
	context.Context
	calls *countdown
	cause error
	done  chan struct{}
	once  *sync.Once
}

func newEndingContext(parent context.Context, n int, cause error) *endingContext {
	return &endingContext{Context: parent, calls: &countdown{nth: int64(n)}, cause: cause, done: make(chan struct{}), once: new(sync.Once)}
}

func (c *endingContext) look() {
	if is, _ := c.calls.next(); is {
		c.once.Do(func() { close(c.done) })
	}
}

// Done implements context.Context.
func (c *endingContext) Done() <-chan struct{} { c.look(); return c.done }

// Err implements context.Context.
func (c *endingContext) Err() error {
	c.look()
	select {
	case <-c.done:
		return c.cause
	default:
		return nil
	}
}

// T13: whichever read, write or look at the clock fails, nothing is answered as a success that
// isn't the whole of it, nothing is held any more, and the next caller is answered.
func TestT13FailTheNth(t *testing.T) {
	leavesNothing(t)
	steps := 0
	for _, f := range flows() {
		t.Run(f.name, func(t *testing.T) {
			want := newHarness(t, engine.Config{}).send(t, f.request(t))
			if want.Code != http.StatusOK {
				t.Fatalf("status %d: %.500s", want.Code, want.Body)
			}
			for _, tr := range troubles() {
				n := 1
				for ; failedAt(t, f, tr, n, want.Body.Bytes()); n++ {
				}
				t.Logf("%s: %d", tr.name, n-1)
				steps += n - 1
			}
		})
	}
	figures.Report(t, "T13", "%d reads, writes and looks at whether the caller or the time is gone, of 6 flows, failed one after the other: 0 partial successes, 0 replies 5xx, 0 leaks, all workers and memory given back", steps)
}

// failedAt sends a request whose nth call of a kind fails; false where there are fewer.
func failedAt(t *testing.T, f flow, tr trouble, n int, want []byte) (failed bool) {
	t.Helper()
	t.Run(fmt.Sprint(tr.name, " ", n), func(t *testing.T) {
		h := newHarness(t, engine.Config{Workers: 2})
		w := httptest.NewRecorder()
		r, failing, reached := tr.with(n, f.request(t), w)
		h.handler.ServeHTTP(failing, r)
		failed = reached()
		whole := sameButProgress(w.Body.Bytes(), want)
		switch {
		case w.Code >= http.StatusInternalServerError && w.Code != http.StatusServiceUnavailable:
			t.Errorf("status %d: %.500s", w.Code, w.Body)
		case !failed && !whole:
			t.Errorf("nothing failed, and the answer differs: status %d: %.300s", w.Code, w.Body)
		case tr.name == "read" && failed && f.name == "season" && w.Code == http.StatusOK: // what came was answered, and no end
		case tr.name == "read" && failed && w.Code < http.StatusBadRequest:
			t.Errorf("status %d for a body that broke off", w.Code)
		case !whole && endedLine.Match(w.Body.Bytes()):
			t.Errorf("an end after what isn't whole: %.2000s", w.Body)
		}
		if w.Code == http.StatusOK && w.Body.Len() > 0 && tr.name != "write" && tr.name != "write from then on" && f.name != "stream" && f.name != "season" && !whole {
			t.Errorf("a success that isn't whole: %.300s", w.Body)
		}
		until(t, h, "\nparcours_inflight{lane=\"heavy\"} 0\n", "\nparcours_inflight{lane=\"light\"} 0\n",
			"\nparcours_waiting{lane=\"heavy\"} 0\n", "\nparcours_waiting{lane=\"light\"} 0\n", "\nparcours_held_bytes 0\n")
		if again := h.serve(f.request(t)); again.Code != http.StatusOK || !sameButProgress(again.Body.Bytes(), want) {
			t.Errorf("the next caller got status %d: %.300s", again.Code, again.Body)
		}
		if strings.Contains(h.log.String(), `"level":"ERROR"`) {
			t.Errorf("log: %.2000s", h.log)
		}
	})
	return failed
}

// endedLine is the whole end of a stream.
var endedLine = regexp.MustCompile(`(?m)^\{"end":.*\}\n`)

// leavesNothing demands that a test's goroutines end with it.
func leavesNothing(t *testing.T) {
	t.Helper()
	before := goleak.IgnoreCurrent()
	t.Cleanup(func() { goleak.VerifyNone(t, before) })
}

// sameButProgress compares replies but for lines that tell how far a stream is, which come as
// they come.
func sameButProgress(a, b []byte) bool { return bytes.Equal(withoutProgress(a), withoutProgress(b)) }

func withoutProgress(body []byte) (rest []byte) {
	for line := range bytes.Lines(body) {
		if !bytes.HasPrefix(line, []byte(`{"progress":`)) {
			rest = append(rest, line...)
		}
	}
	return rest
}

// T13: whichever reply of Redis is lost, the answer is the same.
func TestT13FailTheNthReplyOfRedis(t *testing.T) {
	leavesNothing(t)
	server := redistest.Start(t)
	line := faultline.Start(t, server.Addr(), 1)
	db := server.Client()
	replies := 0
	for _, f := range flows() {
		want := newHarness(t, engine.Config{}).send(t, f.request(t)).Body.Bytes()
		for _, kept := range []bool{false, true} {
			ask := func(n int) (whole, failed bool) {
				db.FlushAll(t.Context())
				if kept {
					line.CutNth(0)
					if w := answeredOver(t, line, f); !sameButProgress(w.Body.Bytes(), want) {
						t.Fatalf("%s: status %d: %.300s", f.name, w.Code, w.Body)
					}
				}
				line.CutNth(n)
				w := answeredOver(t, line, f)
				return w.Code == http.StatusOK && sameButProgress(w.Body.Bytes(), want), line.HasCut()
			}
			for n := 1; ; n++ {
				whole, failed := ask(n)
				if !whole {
					t.Errorf("%s, kept %v: without reply %d the answer differs", f.name, kept, n)
				}
				if !failed {
					break
				}
				replies++
			}
		}
	}
	figures.Report(t, "T13", "%d replies of Redis to 6 flows lost: all answered the same", replies)
}

// answeredOver sends a request to a replica that reaches its Redis over a line, and waits
// until all is written.
func answeredOver(t *testing.T, line *faultline.Line, f flow) *httptest.ResponseRecorder {
	t.Helper()
	shared, err := cache.Open(cache.Config{URLs: []string{"redis://" + line.Addr()}, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	w := newHarness(t, engine.Config{Shared: shared}).serve(f.request(t))
	if err := shared.Close(t.Context()); err != nil {
		t.Error(err)
	}
	return w
}
