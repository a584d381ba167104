package trials

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/openloop"
)

// T10: health and small requests are answered as if nothing were while the heavy lane is kept
// full of large bodies and of races.
func TestT10CheapWorkSurvivesDearWork(t *testing.T) {
	c := newCaller(t, launched(t))
	span := 1500 * time.Millisecond
	if inFull() {
		span = 20 * time.Second
	}
	idle := c.watch(t, span, 1)
	answered, stop := c.saturate(t)
	c.p.Await("heavy work to be under way", func() bool { return c.p.Metric("parcours_inflight", "lane", "heavy") > 0 })
	busy := c.watch(t, span, 2)
	c.p.Await("a heavy request to be answered", func() bool { return answered.Load() > 0 })
	stop()
	heavy := answered.Load()
	small, smallIdle := busy.Quantile("small 200", 0.99), idle.Quantile("small 200", 0.99)
	figures.Report(t, "T10", "small requests p50 %v, p99 %v idle; p50 %v, p99 %v (%.1f times) beside %d heavy ones; health p99 %v idle, %v beside",
		round(idle.Quantile("small 200", 0.5)), round(smallIdle), round(busy.Quantile("small 200", 0.5)), round(small), small.Seconds()/smallIdle.Seconds(), heavy,
		round(idle.Quantile("health 200", 0.99)), round(busy.Quantile("health 200", 0.99)))
}

// watch sends a few small requests and looks after health for some time; none may fail.
func (c *caller) watch(t *testing.T, span time.Duration, seed uint64) openloop.Result {
	t.Helper()
	result := openloop.Run(t.Context(), openloop.Load{PerSecond: 40, For: span, Seed: seed, Send: func(ctx context.Context, i int) string {
		if i%2 == 0 {
			status, _ := c.get(ctx, []string{"/livez", "/readyz", "/metrics"}[i/2%3])
			return "health " + status
		}
		status, _, _ := c.post(ctx, "/v1/predictions", "application/json", fmt.Appendf(nil,
			`{"course":{"course_id":"%s"},"riders":[{"mass_kg":%d.%03d}],"effort":{"kind":"power","power_w":250}}`, c.ids[0], 60+seed, i))
		return "small " + status
	}})
	for class, n := range result.Counts() {
		if class != "small 200" && class != "health 200" {
			t.Errorf("%d ended with %s", n, class)
		}
	}
	return result
}

// saturate keeps the heavy lane full until stop is called, and counts how many requests are
// answered.
func (c *caller) saturate(t *testing.T) (answered *atomic.Int64, stop func()) {
	t.Helper()
	answered = new(atomic.Int64)
	ctx, cancel := context.WithCancel(t.Context())
	large := largeTrack(40_000)
	var all sync.WaitGroup
	for k := range 4 {
		all.Go(func() {
			for i := 0; ctx.Err() == nil; i++ {
				var status string
				if k%2 == 0 {
					status, _, _ = c.post(ctx, fmt.Sprintf("/v1/courses?name=%d-%d", k, i), "application/gpx+xml", large)
				} else {
					status, _, _ = c.post(ctx, "/v1/scenarios", "application/json", fmt.Appendf(nil,
						`{"course":{"course_id":"%s"},"drawn":[{"name":"Bunch","count":40}],"rules":{"runs":40,"seed":%d}}`, c.ids[3], 1000*k+i))
				}
				if status == "200" {
					answered.Add(1)
				} else {
					time.Sleep(20 * time.Millisecond) // refused, as most are
				}
			}
		})
	}
	return answered, func() { cancel(); all.Wait() }
}

// largeTrack is a track of so many points on hilly ground, about 60 bytes each.
func largeTrack(points int) []byte {
	var b strings.Builder
	b.WriteString(`<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><trk><trkseg>`)
	for i := range points {
		fmt.Fprintf(&b, `<trkpt lat="%.6f" lon="%.6f"><ele>%.1f</ele></trkpt>`, 47+float64(i)*9e-5, 3.1+float64(i%400)*1e-5, 200+float64(i%1000)/5)
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return []byte(b.String())
}
