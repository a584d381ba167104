package api_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"parcours.example/service/engine"
)

// streamed asks for a scenario line by line.
func streamed(t *testing.T, body any) *http.Request {
	t.Helper()
	r := post(t, "/v1/scenarios", body)
	r.Header.Set("Accept", "application/x-ndjson")
	r.Header.Set("Accept-Encoding", "gzip")
	return r
}

// streamLine is a line of a stream.
type streamLine struct {
	Progress, End *struct {
		RunsDone int `json:"runs_done"`
		Runs     int
	}
	Result  json.RawMessage
	Problem *struct{ Type string }
}

// TestStreamIsTheAnswer demands progress from none to all of the runs, the very bytes of
// the answer that isn't streamed, and an end.
func TestStreamIsTheAnswer(t *testing.T) {
	h := newHarness(t, engine.Config{})
	whole := h.send(t, post(t, "/v1/scenarios", eight()))
	w := h.send(t, streamed(t, eight()))
	if w.Header().Get("Content-Type") != "application/x-ndjson" || w.Header().Get("Content-Encoding") != "" || !w.Flushed {
		t.Errorf("header %v, flushed %v", w.Header(), w.Flushed)
	}
	last, results, ended := -1, 0, false
	for text := range bytes.Lines(w.Body.Bytes()) {
		var line streamLine
		if err := json.Unmarshal(text, &line); err != nil || ended {
			t.Fatalf("%v, after the end: %v: %.300s", err, ended, text)
		}
		switch {
		case line.Progress != nil:
			if line.Progress.RunsDone <= last || line.Progress.Runs != 20 || results > 0 {
				t.Errorf("%.300s after %d runs", text, last)
			}
			last = line.Progress.RunsDone
		case line.Result != nil:
			results++
			if !bytes.Equal(line.Result, bytes.TrimSpace(whole.Body.Bytes())) {
				t.Error("the result isn't the answer")
			}
		case line.End != nil:
			ended = line.End.RunsDone == 20 && line.End.Runs == 20
		default:
			t.Errorf("the line says nothing: %.300s", text)
		}
	}
	if last != 20 || results != 1 || !ended {
		t.Errorf("%d runs done, %d results, ended %v", last, results, ended)
	}
}

// TestStreamRefused demands that what is refused beforehand is a problem with its status.
func TestStreamRefused(t *testing.T) {
	h := newHarness(t, engine.Config{})
	w := h.send(t, streamed(t, with(eight(), object{"rules": object{"runs": 0}})))
	checkProblem(t, w, "invalid-request")
	w = h.send(t, streamed(t, with(eight(), object{"effort": object{"kind": "power", "power_w": 1}})))
	checkProblem(t, w, "cannot-climb")
}

// long is a race that takes seconds.
func long() object {
	return object{
		"course": object{"profile": object{"distance_m": []float64{0, 40_000}}, "options": object{"smoothing": "none"}},
		"drawn":  []any{object{"name": "Bunch", "count": 40}}, "rules": object{"runs": 600},
	}
}

// TestLeavingAStream demands over a real connection that a caller who leaves ends the
// work, and one who stays longer than the server lets others write isn't cut off.
func TestLeavingAStream(t *testing.T) {
	for _, accept := range []string{"application/x-ndjson", "application/json"} {
		h := newHarness(t, engine.Config{Workers: 2})
		server := httptest.NewServer(h.handler)
		ctx, leave := context.WithCancel(t.Context())
		raw, err := json.Marshal(long())
		if err != nil {
			t.Fatal(err)
		}
		r, err := http.NewRequestWithContext(ctx, http.MethodPost, server.URL+"/v1/scenarios", bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Accept", accept)
		gone := make(chan struct{})
		go func() {
			defer close(gone)
			if reply, err := server.Client().Do(r); err == nil {
				lines := bufio.NewScanner(reply.Body)
				for n := 0; n < 3 && lines.Scan(); n++ {
				}
				leave()
				reply.Body.Close() //nolint:errcheck // left
			}
		}()
		until(t, h, "\nparcours_inflight{lane=\"heavy\"} 2\n")
		if accept == "application/json" {
			leave()
		}
		<-gone
		left := time.Now()
		until(t, h, "\nparcours_inflight{lane=\"heavy\"} 0\n")
		t.Logf("%s: the work ended %v after the caller left", accept, time.Since(left))
		server.Close()
	}
}

// until waits until the metrics say several things at the same time.
func until(t testing.TB, h *harness, figures ...string) {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	enough := time.After(patience)
	for {
		select {
		case <-tick.C:
			said := h.serve(request(http.MethodGet, "/metrics", "", nil)).Body.String()
			if !slices.ContainsFunc(figures, func(f string) bool { return !strings.Contains(said, f) }) {
				return
			}
		case <-enough:
			t.Fatalf("the metrics never said %q", figures)
		}
	}
}

// TestStreamOutlastsTheServer demands that a race which takes longer than the server
// gives others to be answered is told to its end, streamed or not.
func TestStreamOutlastsTheServer(t *testing.T) {
	h := newHarness(t, engine.Config{})
	server := httptest.NewUnstartedServer(h.handler)
	server.Config.WriteTimeout = 20 * time.Millisecond
	server.Start()
	defer server.Close()
	runs := 20
	if testing.Short() {
		runs = 2
	}
	raw, err := json.Marshal(with(long(), object{"rules": object{"runs": runs}}))
	if err != nil {
		t.Fatal(err)
	}
	for _, accept := range []string{"application/x-ndjson", "application/json"} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, server.URL+"/v1/scenarios", bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Accept", accept)
		reply, err := server.Client().Do(r)
		if err != nil {
			t.Fatal(err)
		}
		var body bytes.Buffer
		if _, err := body.ReadFrom(reply.Body); err != nil {
			t.Errorf("%s: %v after %d bytes", accept, err, body.Len())
		}
		reply.Body.Close() //nolint:errcheck // read
		if end := bytes.TrimSpace(body.Bytes()); !bytes.HasSuffix(end, []byte("}")) || !bytes.Contains(end, []byte("recommendation")) {
			t.Errorf("%s: ends with %.200s", accept, end[max(0, len(end)-200):])
		}
	}
}
