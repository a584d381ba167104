package trials

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/redis/go-redis/v9"

	"parcours.example/internal/faultline"
	"parcours.example/internal/figures"
	"parcours.example/internal/openloop"
	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
	"parcours.example/internal/seeded"
)

// inFull reports whether trials take their full form.
func inFull() bool { return os.Getenv("PARCOURS_FULL") == "1" }

// call is a request of a load, and what a replica without Redis answers.
type call struct {
	path, contentType string
	body              []byte
	want              []byte
	tag               string
}

// send asks a replica; "" where the reply is the very one that is wanted.
func (c *call) send(ctx context.Context, client *http.Client, p *replica.Process) (fault string) {
	status, tag, body, err := c.ask(ctx, client, p)
	switch {
	case err != nil:
		return err.Error()
	case status != http.StatusOK:
		return fmt.Sprint("status ", status)
	case !bytes.Equal(body, c.want) || tag != c.tag:
		return "the wrong bytes from " + c.path
	}
	return ""
}

func (c *call) ask(ctx context.Context, client *http.Client, p *replica.Process) (status int, tag string, body []byte, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, p.URL(c.path), bytes.NewReader(c.body))
	if err != nil {
		return 0, "", nil, err
	}
	r.Header.Set("Content-Type", c.contentType)
	reply, err := client.Do(r)
	if err != nil {
		return 0, "", nil, err
	}
	defer reply.Body.Close() //nolint:errcheck // read
	body, err = io.ReadAll(reply.Body)
	return reply.StatusCode, reply.Header.Get("ETag"), body, err
}

// callsAboutCourses are requests that each come with their course, of so many courses, with
// the replies that a replica gives by itself. They can all be answered without Redis.
func callsAboutCourses(t *testing.T, client *http.Client, courses int) []*call {
	t.Helper()
	var calls []*call
	for i := range courses {
		var table, distances, elevations strings.Builder
		for k := range 250 {
			d, z := 20*float64(k), 100+25*math.Sin(float64(k)/15+float64(i))
			fmt.Fprintf(&table, "%.0f,%.2f\n", d, z)
			fmt.Fprintf(&distances, ",%.0f", d)
			fmt.Fprintf(&elevations, ",%.2f", z)
		}
		profile := fmt.Sprintf(`{"profile":{"distance_m":[%s],"elevation_m":[%s]}}`, distances.String()[1:], elevations.String()[1:])
		calls = append(calls,
			&call{path: fmt.Sprintf("/v1/courses?name=Evening%%20%d", i), contentType: "text/csv", body: []byte("distance_m,elevation_m\n" + table.String())},
			&call{path: "/v1/predictions", contentType: "application/json", body: []byte(`{"course":` + profile + `,"riders":[{"mass_kg":70}],"effort":{"kind":"power","power_w":220}}`)},
			&call{path: "/v1/riders/fit", contentType: "application/json", body: fmt.Appendf(nil, `{"efforts":[{"duration_s":180,"power_w":%d},{"duration_s":420,"power_w":300},{"duration_s":900,"power_w":270}]}`, 350+i)},
		)
	}
	alone := launched(t)
	for _, c := range calls {
		status, tag, body, err := c.ask(t.Context(), client, alone)
		if err != nil || status != http.StatusOK {
			t.Fatalf("%s: %v: status %d: %.300s", c.path, err, status, body)
		}
		c.want, c.tag = body, tag
	}
	alone.Kill()
	return calls
}

// bench is replicas under a load while something goes wrong with their Redis.
type bench struct {
	t        *testing.T
	replicas []*replica.Process
	client   *http.Client
	calls    []*call
	started  time.Time
	stop     context.CancelFunc
	result   chan openloop.Result
	// busy allows replies that a replica is too busy: where the machine does other things too,
	// a load for long may be more than it can do for a while.
	busy bool
}

// tooBusy is the class of requests that a replica turned away.
const tooBusy = "status 503"

// forgetful starts a replica that keeps so little by itself that it must ask its Redis.
func forgetful(t *testing.T, urls string, more ...string) *replica.Process {
	t.Helper()
	return launched(t, append(more, "PARCOURS_REDIS_URL="+urls, "PARCOURS_CACHE_BYTES=1048576", "PARCOURS_ANSWER_BYTES=65536")...)
}

// newBench asks replicas for many courses.
func newBench(t *testing.T, replicas ...*replica.Process) *bench {
	t.Helper()
	return benchOf(t, 60, replicas...)
}

// benchOf asks replicas for so many courses.
func benchOf(t *testing.T, courses int, replicas ...*replica.Process) *bench {
	t.Helper()
	client := &http.Client{Transport: &http.Transport{
		MaxIdleConnsPerHost: 64,
		IdleConnTimeout:     500 * time.Millisecond, // some were opened and never used: let go before the service cuts them off as slow
	}}
	t.Cleanup(client.CloseIdleConnections)
	return &bench{t: t, replicas: replicas, client: client, calls: callsAboutCourses(t, client, courses), result: make(chan openloop.Result, 1)}
}

// send makes request i and returns its class: which replica answered as it should, or what
// is wrong.
func (b *bench) send(ctx context.Context, i int) string {
	at := i % len(b.replicas)
	if fault := b.calls[i/len(b.replicas)*7%len(b.calls)].send(ctx, b.client, b.replicas[at]); fault != "" {
		return fault
	}
	return answeredBy(at)
}

// answeredBy is the class of what a replica answered as it should.
func answeredBy(replica int) string { return fmt.Sprint("answered by ", replica) }

// capacity is how many requests a second are answered to callers who each wait for their
// answer before they ask again.
func (b *bench) capacity(callers int, d time.Duration) float64 {
	b.t.Helper()
	var asked atomic.Int64
	ctx, stop := context.WithTimeout(b.t.Context(), d)
	defer stop()
	var all sync.WaitGroup
	for range callers {
		all.Go(func() {
			for ctx.Err() == nil {
				b.send(b.t.Context(), int(asked.Add(1)))
			}
		})
	}
	all.Wait()
	return float64(asked.Load()) / d.Seconds()
}

// start loads the replicas in turn until end.
func (b *bench) start(perSecond float64) {
	ctx, stop := context.WithCancel(b.t.Context())
	b.stop, b.started = stop, time.Now()
	whole := context.WithoutCancel(ctx) // a request under way is not given up at the end
	seed := seeded.First(b.t)
	go func() {
		b.result <- openloop.Run(ctx, openloop.Load{PerSecond: perSecond, For: time.Hour, Seed: seed, Send: func(_ context.Context, i int) string {
			return b.send(whole, i)
		}})
	}()
}

// end stops the load and demands that every reply was the one that was wanted.
func (b *bench) end() openloop.Result {
	b.t.Helper()
	b.stop()
	result := <-b.result
	for class, n := range result.Counts() {
		if !strings.HasPrefix(class, answeredBy(0)[:len("answered by")]) && (class != tooBusy || !b.busy) {
			b.t.Errorf("%d of %d requests: %s", n, len(result.Outcomes), class)
		}
	}
	for _, p := range b.replicas {
		if log := p.Log(); strings.Contains(log, `"level":"ERROR"`) {
			b.t.Errorf("a replica logged an error:\n%.3000s", log)
		}
	}
	if b.t.Failed() {
		b.t.FailNow() // figures would tell of something else
	}
	return result
}

// now is the time since the load started.
func (b *bench) now() time.Duration { return time.Since(b.started) }

// pause lets the load go on for a time.
func (b *bench) pause(d time.Duration) {
	select {
	case <-time.After(d):
	case <-b.t.Context().Done():
	}
}

// found counts look-ups in Redis of all replicas by what they found.
func (b *bench) found(what string) (n float64) {
	for _, p := range b.replicas {
		n += p.Metric("parcours_redis_lookups_total", "found", what)
	}
	return n
}

// caching waits until every replica uses its Redis, reading what is there or writing what
// isn't, and returns how long that took.
func (b *bench) caching() time.Duration {
	b.t.Helper()
	start := time.Now()
	for _, p := range b.replicas {
		used := func() float64 {
			return p.Metric("parcours_redis_lookups_total", "found", "hit") + p.Metric("parcours_redis_writes_total", "outcome", "done")
		}
		before := used()
		p.Await("Redis to be used", func() bool { return p.Metric("parcours_redis_up") == 1 && used() > before })
	}
	return time.Since(start)
}

// redisFault is something that happens to a Redis.
type redisFault struct {
	name string
	// short says that a short run has it.
	short      bool
	begin, end func(f *faulty)
	// spoil is done to every value, again and again while the fault lasts; nil for nothing.
	spoil func(p redis.Pipeliner, key string)
}

// redisFaults are those of the trial.
func redisFaults() []redisFault {
	nothing := func(*faulty) {}
	onLine := func(name string, short bool, fault faultline.Fault) redisFault {
		return redisFault{name: name, short: short, begin: func(f *faulty) { f.line.Set(fault) }, end: func(f *faulty) { f.line.Set(faultline.Fault{}) }}
	}
	told := func(args ...any) func(*faulty) {
		return func(f *faulty) {
			if err := f.db.Do(context.Background(), args...).Err(); err != nil {
				f.t.Error(err)
			}
		}
	}
	ctx := context.Background()
	return []redisFault{
		{name: "killed", short: true, begin: func(f *faulty) { f.server.Kill() }, end: func(f *faulty) { f.server.Restart() }},
		{name: "stopped", short: true, begin: func(f *faulty) { f.server.Pause() }, end: func(f *faulty) { f.server.Resume() }},
		onLine("black-holed", false, faultline.Fault{Stall: true}),
		onLine("slow", false, faultline.Fault{Delay: 200 * time.Millisecond, Jitter: 100 * time.Millisecond}),
		onLine("resetting", true, faultline.Fault{Cut: true}),
		onLine("sliced", false, faultline.Fault{Slice: 1}),
		{name: "full", begin: told("config", "set", "maxmemory", "1"), end: told("config", "set", "maxmemory", "0")},
		{name: "read-only", begin: told("replicaof", "127.0.0.1", "1"), end: told("replicaof", "no", "one")},
		{name: "wrong type", begin: nothing, end: nothing, spoil: func(p redis.Pipeliner, key string) { p.Del(ctx, key); p.LPush(ctx, key, "a") }},
		{name: "corrupt", short: true, begin: nothing, end: nothing, spoil: func(p redis.Pipeliner, key string) { p.SetRange(ctx, key, 20, "spoilt") }},
		{name: "restarted", begin: func(f *faulty) { f.server.Kill(); f.server.Restart() }, end: nothing},
	}
}

// faulty is a Redis that things happen to, and a line to it.
type faulty struct {
	t      *testing.T
	server *redistest.Server
	db     *redis.Client
	line   *faultline.Line
}

// spoilUntil does something to every value, again and again until stop.
func (f *faulty) spoilUntil(stop <-chan struct{}, how func(p redis.Pipeliner, key string)) {
	const every = 30 * time.Millisecond
	ctx := context.Background()
	for {
		keys := f.db.Keys(ctx, "parcours:*").Val()
		_, _ = f.db.Pipelined(ctx, func(p redis.Pipeliner) error {
			for _, key := range keys {
				how(p, key)
			}
			return nil
		})
		select {
		case <-stop:
			return
		case <-time.After(every):
		}
	}
}

// told is what a fault came to.
type told struct {
	// began and ended are from the start of the load, recovered the time from the end to the
	// use of Redis by all.
	began, ended, recovered time.Duration
}

// endure lets a fault last for a time and waits until it is over.
func (b *bench) endure(f *faulty, fault redisFault, d time.Duration) told {
	b.t.Helper()
	foreign := b.found("foreign")
	w := told{began: b.now()}
	fault.begin(f)
	stop, spoilt := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(spoilt)
		if fault.spoil != nil {
			f.spoilUntil(stop, fault.spoil)
		}
	}()
	b.pause(d)
	if fault.spoil != nil {
		b.replicas[0].Await("what was spoilt to be found", func() bool { return b.found("foreign") > foreign })
	}
	close(stop)
	<-spoilt
	fault.end(f)
	w.ended = b.now()
	w.recovered = b.caching()
	return w
}

// T11: whatever happens to Redis, every request is answered with the right bytes, and hardly
// later; and it is used again soon after it is back.
func TestT11RedisAtItsWorst(t *testing.T) {
	f := &faulty{t: t, server: redistest.Start(t)}
	f.db, f.line = f.server.Client(), faultline.Start(t, f.server.Addr(), seeded.First(t))
	b := newBench(t,
		forgetful(t, f.server.URL()),
		forgetful(t, "redis://"+f.line.Addr()),
	)
	const onLine = 1 // of the replicas: what befalls the line befalls this one
	rate, lasting, between := 60.0, 300*time.Millisecond, 200*time.Millisecond
	if inFull() {
		lasting, between = time.Minute, 10*time.Second
		f.server.Kill() // what they can do without it is what they must do while it is away
		rate = 0.7 * b.capacity(4, 5*time.Second)
		f.server.Restart()
	}
	b.start(rate)
	b.caching()
	var faults []redisFault
	var all []told
	var healthy [][2]time.Duration
	for _, fault := range redisFaults() {
		if !fault.short && !inFull() {
			continue
		}
		from := b.now()
		b.pause(between)
		healthy = append(healthy, [2]time.Duration{from, b.now()})
		faults, all = append(faults, fault), append(all, b.endure(f, fault, lasting))
	}
	result := b.end()
	usual := during(result, answeredBy(onLine), healthy)
	var first, later, recovered time.Duration
	for i, w := range all {
		early := added(result.Between(w.began, min(w.began+time.Second, w.ended)), answeredBy(onLine), usual)
		late := added(result.Between(w.began+time.Second, w.ended), answeredBy(onLine), usual)
		t.Logf("%s: p99 %+v in the first second, %+v after it, used again after %v", faults[i].name, early, late, w.recovered)
		first, later, recovered = max(first, early), max(later, late), max(recovered, w.recovered)
	}
	figures.Report(t, "T11", "%d requests at %.0f a second through %d faults of %v: 0 failed, 0 wrong; p99 %v without a fault, at most %+v in a fault's first second and %+v after it; used again within %v",
		len(result.Outcomes), rate, len(all), lasting, usual.Round(100*time.Microsecond), first.Round(100*time.Microsecond), later.Round(100*time.Microsecond), recovered.Round(10*time.Millisecond))
}

// during returns the 99th percentile of a class over several stretches of time.
func during(r openloop.Result, class string, stretches [][2]time.Duration) time.Duration {
	var all openloop.Result
	for _, s := range stretches {
		all.Outcomes = append(all.Outcomes, r.Between(s[0], s[1]).Outcomes...)
	}
	return all.Quantile(class, 0.99)
}

// added is by how much the 99th percentile of a class is above the usual one; 0 where there
// are none.
func added(r openloop.Result, class string, usual time.Duration) time.Duration {
	if r.Counts()[class] == 0 {
		return 0
	}
	return r.Quantile(class, 0.99) - usual
}

// T11: a Cluster that loses a master costs what lay on it. What lies on the others is used
// all the time, nobody waits for the dead one, and it is used again once it is back.
func TestT11ClusterLosesAMaster(t *testing.T) {
	if !inFull() {
		t.Skip("a Cluster takes seconds to start; service/cache tests the same in short")
	}
	servers := redistest.StartCluster(t)
	var urls []string
	for _, s := range servers {
		urls = append(urls, s.URL())
	}
	b := newBench(t, forgetful(t, strings.Join(urls, ",")), forgetful(t, strings.Join(urls, ",")))
	const rate, lasting = 60, 10 * time.Second
	b.start(rate)
	b.pause(lasting)
	before := b.now()
	servers[2].Kill()
	b.pause(time.Second)
	hits, failed := b.found("hit"), b.found("failed")
	b.pause(lasting)
	hits, failed = b.found("hit")-hits, b.found("failed")-failed
	after := b.now()
	servers[2].Restart()
	recovered := b.caching()
	result := b.end()
	if hits < rate*lasting.Seconds()/10 {
		t.Errorf("with one master of three gone %v look-ups of about %v found something", hits, rate*lasting.Seconds())
	}
	usual := during(result, "", [][2]time.Duration{{lasting / 2, before}})
	figures.Report(t, "T11", "%d requests over a Cluster that loses one master of three: 0 failed, 0 wrong; %v look-ups found something and %v waited in vain in the %v without it; p99 %v before, %+v in the first second, %+v after it; used again within %v",
		len(result.Outcomes), hits, failed, lasting, usual.Round(100*time.Microsecond),
		added(result.Between(before, before+time.Second), answeredBy(0), usual).Round(100*time.Microsecond),
		added(result.Between(before+time.Second, after), answeredBy(0), usual).Round(100*time.Microsecond), recovered.Round(10*time.Millisecond))
}

// T11: Sentinels lead to another master when one is gone.
func TestT11SentinelFailsOver(t *testing.T) {
	if !inFull() {
		t.Skip("a fail-over takes seconds; service/cache tests the same in short")
	}
	master, _, sentinel := redistest.StartSentinel(t)
	b := newBench(t, forgetful(t, sentinel.URL()+"?master=main"))
	b.start(30)
	b.pause(5 * time.Second)
	gone := b.now()
	master.Kill()
	recovered := b.caching()
	b.pause(time.Second)
	result := b.end()
	usual := during(result, "", [][2]time.Duration{{2 * time.Second, gone}})
	figures.Report(t, "T11", "%d requests over Sentinels whose master dies: 0 failed, 0 wrong; p99 %v before, %+v in the first second, %+v after it; the new master, which they take 1 s to look for, used within %v",
		len(result.Outcomes), usual.Round(100*time.Microsecond), added(result.Between(gone, gone+time.Second), answeredBy(0), usual).Round(100*time.Microsecond),
		added(result.Between(gone+time.Second, result.Took), answeredBy(0), usual).Round(100*time.Microsecond), recovered.Round(10*time.Millisecond))
}
