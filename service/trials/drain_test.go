package trials

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/openloop"
	"parcours.example/internal/replica"
	"parcours.example/internal/seeded"
)

// drained is what became of a replica that was told to stop under load.
type drained struct {
	requests, closing int
	took              time.Duration
}

// drainDelay is long enough for the watcher below to find out on a busy machine.
const drainDelay = 3 * time.Second

// T17: a replica that is told to stop says first that it isn't ready, answers what it is asked
// until nobody asks any more, lets each connection go with an answer, and ends in time.
func TestT17DrainUnderLoad(t *testing.T) {
	times := 3
	if inFull() {
		times = 50
	}
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	client := &http.Client{}
	defer client.CloseIdleConnections()
	calls := callsAboutCourses(t, client, 5)
	var mu sync.Mutex
	var sum drained
	var all sync.WaitGroup
	several := make(chan bool, 4) // at a time
	for k := range times {
		several <- true
		p := launched(t, "PARCOURS_STOP_DELAY="+drainDelay.String(), "PARCOURS_STOP_GRACE=20s")
		all.Go(func() {
			defer func() { <-several }()
			d := drain(t, p, calls, seeded.First(t)+uint64(k))
			mu.Lock()
			defer mu.Unlock()
			sum.requests, sum.closing, sum.took = sum.requests+d.requests, sum.closing+d.closing, max(sum.took, d.took)
		})
	}
	all.Wait()
	figures.Report(t, "T17", "told to stop under load %d times: 0 of %d requests failed, %d of them the last of their connection, not ready first, ended %v after the signal at most, of which %v is the delay; a second signal ends it at once",
		times, sum.requests, sum.closing, sum.took.Round(time.Millisecond), drainDelay)
}

// drain loads a replica until some time after it says that it isn't ready, as a balancer does
// that looks now and then, and tells it to stop.
func drain(t *testing.T, p *replica.Process, calls []*call, seed uint64) drained {
	wire := &goodbyes{RoundTripper: &http.Transport{MaxIdleConnsPerHost: 64}}
	client := &http.Client{Transport: wire}
	defer client.CloseIdleConnections()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var signalled time.Time
	time.AfterFunc(300*time.Millisecond, func() {
		signalled = time.Now()
		p.Signal(syscall.SIGTERM)
		p.AwaitStatus("/readyz", http.StatusServiceUnavailable)
		time.AfterFunc(drainDelay/3, stop) // the balancer takes its time
	})
	result := openloop.Run(ctx, openloop.Load{PerSecond: 50, For: time.Hour, Seed: seed, Send: func(_ context.Context, i int) string {
		if fault := calls[i%len(calls)].send(t.Context(), client, p); fault != "" {
			return fault
		}
		return "200"
	}})
	for class, n := range result.Counts() {
		if class != "200" {
			t.Errorf("%d of %d: %s", n, len(result.Outcomes), class)
		}
	}
	last, err := client.Get(p.URL("/livez")) // within the delay: still answered, for the last time on this connection
	if err != nil || !last.Close {
		t.Errorf("while it is stopping: %v, %+v", err, last)
	} else {
		_, _ = io.Copy(io.Discard, last.Body)
		_ = last.Body.Close()
	}
	if code := p.ExitCode(); code != 0 {
		t.Errorf("exit code %d:\n%.3000s", code, p.Log())
	}
	return drained{len(result.Outcomes), int(wire.seen.Load()), time.Since(signalled)}
}

// goodbyes counts replies that are the last of their connection.
type goodbyes struct {
	http.RoundTripper
	seen atomic.Int64
}

func (g *goodbyes) RoundTrip(r *http.Request) (*http.Response, error) {
	reply, err := g.RoundTripper.RoundTrip(r)
	if err == nil && reply.Close {
		g.seen.Add(1)
	}
	return reply, err
}

// T17: what doesn't end in the grace is ended, and a second signal ends all at once.
func TestT17GraceEnds(t *testing.T) {
	for name, again := range map[string]os.Signal{"the grace": nil, "a second signal": syscall.SIGTERM} {
		t.Run(name, func(t *testing.T) {
			grace := "200ms"
			if again != nil {
				grace = "1h"
			}
			p := launched(t, "PARCOURS_STOP_GRACE="+grace)
			body, send := io.Pipe() // never ends
			defer send.Close()
			r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.URL("/v1/courses"), body)
			if err != nil {
				t.Fatal(err)
			}
			go func() {
				if reply, err := http.DefaultClient.Do(r); err == nil {
					_ = reply.Body.Close()
				}
			}()
			p.Await("the request to be read", func() bool { return p.Metric("parcours_http_inflight") >= 2 })
			p.Signal(syscall.SIGTERM)
			if again != nil {
				p.Await("it to be stopping", func() bool { return bytes.Contains([]byte(p.Log()), []byte(`"stopping"`)) })
				p.Signal(again)
			}
			if code := p.ExitCode(); code != 1 {
				t.Errorf("exit code %d:\n%.3000s", code, p.Log())
			}
		})
	}
}
