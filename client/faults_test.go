package client_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"parcours.example/api/contract"
	"parcours.example/client"
	"parcours.example/client/clienttest"
	"parcours.example/internal/figures"
)

func fit(ctx context.Context, c *client.Client) error {
	_, err := c.FitRider(ctx, &contract.CapabilityRequest{Efforts: []contract.MaximalEffort{{DurationS: 180, PowerW: 330}, {DurationS: 720, PowerW: 270}}})
	return err
}

// fitted is an answer to fit.
func fitted(t *testing.T) clienttest.Reply {
	t.Helper()
	c := of(t, started(t).URL)
	answer, err := c.FitRider(t.Context(), &contract.CapabilityRequest{Efforts: []contract.MaximalEffort{{DurationS: 180, PowerW: 330}, {DurationS: 720, PowerW: 270}}})
	if err != nil {
		t.Fatal(err)
	}
	return clienttest.JSON(answer)
}

// T20: the client under faults.
func TestT20ClientUnderFaults(t *testing.T) {
	ok := fitted(t)
	busy, busyLong := clienttest.Problem("busy", 503, 0), clienttest.Problem("busy", 503, 3600)
	quota := clienttest.Problem("quota-exceeded", 429, 1)
	byDate := clienttest.Problem("quota-exceeded", 429, 0)
	byDate.Header["Retry-After"] = time.Now().Add(2 * time.Second).UTC().Format(http.TimeFormat)
	byDate.Foreign = true // the service says it in seconds; what stands before it may not
	nonsense := clienttest.Problem("busy", 503, 0)
	nonsense.Header["Retry-After"] = "soon; -1"
	nonsense.Foreign = true
	gateway := clienttest.Reply{Status: 502, Header: map[string]string{"Content-Type": "text/html"}, Body: []byte("<h1>secret words of a proxy</h1>"), Foreign: true}
	cut, page := ok, ok
	cut.CutAt, cut.Foreign = len(ok.Body)/2, true
	page.Header, page.Foreign = map[string]string{"Content-Type": "text/html"}, true
	most := 0
	for name, tc := range map[string]struct {
		script   []clienttest.Reply
		attempts int
		is       error
		status   int
	}{
		"works":                      {[]clienttest.Reply{ok}, 1, nil, 0},
		"busy once":                  {[]clienttest.Reply{busy, ok}, 2, nil, 0},
		"busy":                       {[]clienttest.Reply{busy}, 3, client.Busy, 503},
		"busy for an hour":           {[]clienttest.Reply{busyLong, ok}, 1, client.Busy, 503},
		"a quota, in seconds":        {[]clienttest.Reply{quota, ok}, 2, nil, 0},
		"a quota, by date":           {[]clienttest.Reply{byDate, ok}, 2, nil, 0},
		"a wait that is nonsense":    {[]clienttest.Reply{nonsense, ok}, 2, nil, 0},
		"a gateway":                  {[]clienttest.Reply{gateway}, 3, nil, 502},
		"reset before the header":    {[]clienttest.Reply{{Reset: true}, ok}, 2, nil, 0},
		"reset again and again":      {[]clienttest.Reply{{Reset: true}}, 3, nil, 0},
		"cut off in the body":        {[]clienttest.Reply{cut, ok}, 2, nil, 0},
		"cut off again and again":    {[]clienttest.Reply{cut}, 3, client.ErrReply, 0},
		"another media type":         {[]clienttest.Reply{page, ok}, 1, client.ErrReply, 0},
		"a fault of the service":     {[]clienttest.Reply{clienttest.Problem("internal", 500, 0), ok}, 1, client.Internal, 500},
		"a fault of the request":     {[]clienttest.Reply{clienttest.Problem("invalid-request", 400, 0), ok}, 1, client.InvalidRequest, 400},
		"a redirect to another host": {[]clienttest.Reply{{Status: 307, Header: map[string]string{"Location": "http://127.0.0.1:9/"}, Foreign: true}, ok}, 1, client.ErrReply, 0},
	} {
		t.Run(name, func(t *testing.T) {
			s := clienttest.New(t, tc.script...)
			err := fit(t.Context(), of(t, s.URL, client.WithKey("open-sesame")))
			works := tc.is == nil && tc.status == 0 && !strings.Contains(name, "again and again")
			var p *client.Problem
			switch {
			case works != (err == nil), tc.is != nil && !errors.Is(err, tc.is), tc.status != 0 && (!errors.As(err, &p) || p.Status != tc.status):
				t.Errorf("%v", err)
			case err != nil && strings.Contains(err.Error(), "secret"):
				t.Errorf("it repeats a stranger's words: %v", err)
			}
			n := len(s.Requests())
			most = max(most, n)
			if n != tc.attempts {
				t.Errorf("%d attempts, want %d", n, tc.attempts)
			}
		})
	}
	extra := loadOfADeadService(t, busy)
	late := lateness(t, busy)
	memory := memoryOfAnEndlessError(t)
	figures.Report(t, "T20", "at most %d attempts; %.1f %% more requests than calls when all fail (1,000 calls); a sleep ends at most %.1f ms after its context; an error body of 1 GiB: %d bytes sent, %.2f MiB above base; what breaks off is told each time",
		most, 100*extra, float64(late.Microseconds())/1000, memory.sent, float64(memory.bytes)/(1<<20))
}

// loadOfADeadService is the share of requests beyond calls when every call fails.
func loadOfADeadService(t *testing.T, busy clienttest.Reply) float64 {
	s := clienttest.New(t, busy)
	c := of(t, s.URL)
	const calls = 1000
	for range calls {
		if err := fit(t.Context(), c); !errors.Is(err, client.Busy) {
			t.Fatal(err)
		}
	}
	extra := float64(len(s.Requests())-calls) / calls
	if extra > 0.1 {
		t.Errorf("%.1f %% more requests than calls", 100*extra)
	}
	return extra
}

// lateness is how long after its context's end a call returns that waits for its next attempt.
func lateness(t *testing.T, busy clienttest.Reply) (late time.Duration) {
	wait := busy
	wait.Header = map[string]string{"Content-Type": "application/problem+json", "Retry-After": "15"}
	s := clienttest.New(t, wait)
	for i := range 20 {
		ctx, cancel := context.WithCancel(t.Context())
		var left time.Time
		time.AfterFunc(time.Duration(5+i)*10*time.Millisecond, func() { left = time.Now(); cancel() })
		err := fit(ctx, of(t, s.URL))
		late = max(late, time.Since(left))
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want the context's error", err)
		}
	}
	return late
}

// endless is what an error body of 1 GiB came to.
type endless struct {
	sent  int64
	bytes uint64
}

func memoryOfAnEndlessError(t *testing.T) endless {
	body := bytes.Repeat([]byte("x"), 32<<10)
	var worst endless
	for _, mediaType := range []string{"application/problem+json", "text/html"} {
		s := clienttest.New(t, clienttest.Reply{Status: 400, Header: map[string]string{"Content-Type": mediaType}, Body: body, Endless: 1 << 30, Foreign: true})
		c := of(t, s.URL)
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		err := fit(t.Context(), c)
		runtime.ReadMemStats(&after)
		var p *client.Problem
		if !errors.As(err, &p) || p.Status != 400 {
			t.Errorf("%v", err)
		}
		// All that was allocated, garbage and the server's share of it included.
		worst.bytes = max(worst.bytes, after.TotalAlloc-before.TotalAlloc)
		worst.sent = max(worst.sent, s.Sent())
	}
	if worst.bytes > 8<<20 || worst.sent > 64<<20 {
		t.Errorf("%d bytes allocated, %d sent", worst.bytes, worst.sent)
	}
	return worst
}

// A stream that breaks off anywhere says so, and gives no result after it.
func TestTruncatedStreams(t *testing.T) {
	s := started(t)
	c := of(t, s.URL)
	ask := &contract.ScenarioRequest{
		Course: client.CourseOfProfile([]float64{0, 500, 2000}, []float64{0, 5, 10}, nil),
		Riders: field(),
	}
	var b bytes.Buffer
	whole, err := c.RunScenario(t.Context(), ask)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(&b, `{"progress":{"runs":1,"runs_done":1}}`+"\n"+`{"result":%s}`+"\n"+`{"end":{"runs":1,"runs_done":1}}`+"\n", clienttest.JSON(whole).Body)
	lines := func(content []byte, header map[string]string) (results int, last error) {
		fake := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			for name, value := range header {
				w.Header().Set(name, value)
			}
			_, _ = w.Write(content)
		}))
		defer fake.Close()
		for line, err := range of(t, fake.URL).ScenarioLines(t.Context(), ask) {
			last = err
			if line != nil && line.Result != nil {
				results++
			}
		}
		return results, last
	}
	ndjson := map[string]string{"Content-Type": "application/x-ndjson"}
	if n, err := lines(b.Bytes(), ndjson); n != 1 || err != nil {
		t.Errorf("%d results, %v", n, err)
	}
	end := b.Len() - len(`{"end":{"runs":1,"runs_done":1}}`) - 1
	for _, cut := range []int{0, 1, 20, 37, 38, 60, end - 2, end - 1, end, end + 5, b.Len() - 3} {
		if _, err := lines(b.Bytes()[:cut], ndjson); !errors.Is(err, client.ErrReply) {
			t.Errorf("cut at %d of %d: %v", cut, b.Len(), err)
		}
	}
	if _, err := lines(b.Bytes(), map[string]string{"Content-Type": "text/plain"}); !errors.Is(err, client.ErrReply) {
		t.Errorf("another media type: %v", err)
	}
	for line, err := range c.ScenarioLines(t.Context(), ask) { // leaving the loop is no fault
		if err != nil {
			t.Error(err)
		}
		_ = line
		break
	}
}

// An upload that can't be read twice is sent once; one that can is sent again, whole, from where it
// stood. How much is sent is told each time, up to all of it.
func TestUploads(t *testing.T) {
	big := append([]byte("distance_m,elevation_m\n"), bytes.Repeat([]byte("# a long remark\n"), 9<<20/16)...)
	small := []byte("distance_m,elevation_m\n0,0\n900,9\n")
	for name, tc := range map[string]struct {
		file     io.Reader
		sent     []byte
		attempts int
		unknown  bool
	}{
		"bytes":           {bytes.NewReader(big), big, 3, false},
		"bytes, begun":    {begun(t, big, 100), big[100:], 3, false},
		"a stream":        {struct{ io.Reader }{bytes.NewReader(big)}, big, 1, true},
		"a pipe":          {piped(t, big), big, 1, true},
		"small, a pipe":   {piped(t, small), small, 3, false},
		"small, a table":  {bytes.NewReader(small), small, 3, false},
		"sent compressed": {bytes.NewReader(big[:1<<20]), nil, 3, false},
	} {
		s := clienttest.New(t, clienttest.Problem("busy", 503, 0))
		var told []int64
		most := int64(0)
		ctx := client.WithProgress(t.Context(), func(sent, all int64) { told, most = append(told, sent), all })
		if _, err := of(t, s.URL).AnalyseCourse(ctx, client.File{Content: tc.file}, nil); !errors.Is(err, client.Busy) {
			t.Errorf("%s: %v", name, err)
		}
		if n := len(s.Requests()); n != tc.attempts {
			t.Errorf("%s: sent %d times, want %d", name, n, tc.attempts)
		}
		size := 0
		for i, r := range s.Requests() {
			body, _ := io.ReadAll(r.Body)
			size = len(body)
			if tc.sent != nil && !bytes.Equal(body, tc.sent) {
				t.Errorf("%s: attempt %d sent %d bytes, want %d", name, i+1, len(body), len(tc.sent))
			}
		}
		whole := 0
		for _, sent := range told {
			if sent == int64(size) {
				whole++
			}
		}
		if whole != tc.attempts || most != int64(size) && !tc.unknown || tc.unknown && most != -1 {
			t.Errorf("%s: told %d times that all was sent, of %d; want %d of %d", name, whole, most, tc.attempts, size)
		}
	}
}

// begun is a reader of bytes of which some have been read.
func begun(t *testing.T, content []byte, read int64) io.Reader {
	t.Helper()
	r := bytes.NewReader(content)
	if _, err := r.Seek(read, io.SeekStart); err != nil {
		t.Fatal(err)
	}
	return r
}

// piped is a pipe's end as a file, which has the methods to be read anywhere and can't be.
func piped(t *testing.T, content []byte) io.Reader {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	go func() {
		_, _ = w.Write(content)
		w.Close()
	}()
	return r
}

// A key goes with each request to the service and nowhere else, and a name before ours.
func TestKeyAndName(t *testing.T) {
	s := clienttest.New(t, fitted(t))
	if err := fit(t.Context(), of(t, s.URL, client.WithKey("open-sesame"), client.WithUserAgent("league-bot/2"))); err != nil {
		t.Fatal(err)
	}
	r := s.Requests()[0]
	if r.Header.Get("Authorization") != "Bearer open-sesame" || !strings.HasPrefix(r.UserAgent(), "league-bot/2 parcours-client/") {
		t.Errorf("%v", r.Header)
	}
	if err := fit(client.Once(t.Context()), of(t, clienttest.New(t, clienttest.Problem("busy", 503, 0), fitted(t)).URL)); !errors.Is(err, client.Busy) {
		t.Errorf("%v: sent again within Once", err)
	}
}
