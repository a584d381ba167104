package trials

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"runtime"
	"testing"
	"time"

	"parcours.example/internal/faultline"
	"parcours.example/internal/figures"
	"parcours.example/internal/redistest"
	"parcours.example/internal/seeded"
)

// soakLength is how long the soak lasts: in its full form as PARCOURS_SOAK says.
func soakLength(t *testing.T) time.Duration {
	t.Helper()
	text := os.Getenv("PARCOURS_SOAK")
	switch {
	case !inFull():
		return 2 * time.Second
	case text == "":
		return time.Minute
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatalf("PARCOURS_SOAK: %v", err)
	}
	return d
}

// T18: for as long as it may be, with faults of Redis at random, every request is answered as
// it should be, and the service grows neither slower nor larger.
func TestT18Soak(t *testing.T) {
	lasts, rate, most, courses := soakLength(t), 40.0, 300*time.Millisecond, 20
	if inFull() {
		most, courses = 10*time.Second, 60
	}
	seed := seeded.First(t)
	f := &faulty{t: t, server: redistest.Start(t)}
	f.db, f.line = f.server.Client(), faultline.Start(t, f.server.Addr(), seed)
	b := benchOf(t, courses, forgetful(t, "redis://"+f.line.Addr(), "PARCOURS_ADMIN_LISTEN=127.0.0.1:0"))
	if inFull() {
		f.server.Kill() // what it can do without Redis is what it must do while that is away
		rate = 0.7 * b.capacity(4, 5*time.Second)
		f.server.Restart()
	}
	t.Cleanup(func() {
		if t.Failed() {
			log := b.replicas[0].Log()
			t.Logf("the replica's last words:\n%s", log[max(0, len(log)-10_000):])
		}
	})
	b.busy = inFull()
	before := b.footprint()
	b.start(rate)
	b.caching()
	random := rand.New(rand.NewPCG(seed, 18))
	faults := redisFaults()
	samples := []sample{b.sample()}
	for b.now() < lasts {
		b.pause(upTo(random, most))
		fault, d := faults[random.IntN(len(faults))], upTo(random, most)
		t.Logf("%v: %s for %v", b.now().Round(time.Second), fault.name, d.Round(time.Millisecond))
		b.endure(f, fault, d)
		samples = append(samples, b.sample())
	}
	result := b.end()
	allowed := before
	allowed.descriptors += redisPool
	after := b.awaitFootprint(allowed)
	warm := result.Took / 5
	third := (result.Took - warm) / 3
	early, late := result.Between(warm, warm+third).Quantile(answeredBy(0), 0.99), result.Between(result.Took-third, result.Took).Quantile(answeredBy(0), 0.99)
	growth := "too short for its growth"
	if lasts >= time.Minute {
		growth = fmt.Sprintf("%+.2f MiB an hour from %v on", slopePerHour(samples, warm)/(1<<20), warm.Round(time.Second))
	}
	last, at := samples[len(samples)-1], highest(samples)
	figures.Report(t, "T18", "%v at %.0f/s through %d faults, seed %d: %d requests, 0 failed, 0 wrong, %d told that it was too busy; %.1f MiB of heap after a collection, %s; goroutines %d before, %d after, at most %d; descriptors %d before, %d after, at most %d; p99 %v, %v at the end (%+.0f %%)",
		result.Took.Round(time.Second), rate, len(samples)-1, seed, len(result.Outcomes), result.Counts()[tooBusy], last.heap/(1<<20), growth,
		before.goroutines, after.goroutines, at.goroutines, before.descriptors, after.descriptors, at.descriptors,
		round(early), round(late), 100*(late.Seconds()/early.Seconds()-1))
}

// upTo is some time below a most.
func upTo(random *rand.Rand, most time.Duration) time.Duration {
	return time.Duration(random.Int64N(int64(most)))
}

// redisPool is how many connections to Redis a replica may keep: ten for each thread, as its
// library has it.
var redisPool = 10 * (runtime.NumCPU() + 2)

// sample is what a replica holds at some time from the start of the load.
type sample struct {
	at time.Duration
	// heap is what of it is in use after a collection, in bytes.
	heap float64
	footprint
}

// sample tells of the first replica, which has an admin listener.
func (b *bench) sample() sample {
	b.t.Helper()
	p := b.replicas[0]
	reply, err := http.Get("http://" + p.AdminAddress + "/debug/pprof/heap?gc=1") //nolint:noctx // a test's
	if err != nil {
		b.t.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, reply.Body) // a profile, for the sake of the collection before it
	_ = reply.Body.Close()
	return sample{b.now(), p.Metric("go_memstats_heap_alloc_bytes"), b.footprint()}
}

// highest is the most of everything in samples.
func highest(samples []sample) (at footprint) {
	for _, s := range samples {
		at = footprint{max(at.descriptors, s.descriptors), max(at.goroutines, s.goroutines), max(at.resident, s.resident)}
	}
	return at
}

// slopePerHour is by how much the heap grows, from some time on, along the line of least
// squares; 0 where there are no two samples.
func slopePerHour(samples []sample, from time.Duration) float64 {
	var n, x, y, xx, xy float64
	for _, s := range samples {
		if s.at >= from {
			h := s.at.Hours()
			n, x, y, xx, xy = n+1, x+h, y+s.heap, xx+h*h, xy+h*s.heap
		}
	}
	if n < 2 {
		return 0
	}
	return (n*xy - x*y) / (n*xx - x*x)
}

func TestSlopePerHour(t *testing.T) {
	rising := []sample{{at: 0, heap: 900}, {at: time.Hour, heap: 100}, {at: 2 * time.Hour, heap: 105}, {at: 3 * time.Hour, heap: 110}}
	if got := slopePerHour(rising, time.Minute); math.Abs(got-5) > 1e-9 {
		t.Errorf("%v an hour", got)
	}
	if got := slopePerHour(rising, 3*time.Hour); got != 0 {
		t.Errorf("%v an hour by one sample", got)
	}
}
