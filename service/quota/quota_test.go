package quota

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"pgregory.net/rapid"

	"parcours.example/internal/redistest"
	"parcours.example/service/cache"
)

// patience bounds waits for Redis; nothing should take nearly as long.
const patience = 20 * time.Second

// open returns a counter over a Redis.
func open(t *testing.T, urls ...string) *Counter {
	t.Helper()
	r, err := cache.Open(cache.Config{URLs: urls, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close(context.Background()) })
	c, err := New(Config{Shared: r, Registerer: prometheus.NewRegistry()})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// undisturbed runs what expects exact counts, for callers of other names until no call came too
// late for the machine's sake: such a one may have been counted all the same.
func undisturbed(t *testing.T, run func(caller string) error) {
	t.Helper()
	var err error
	for i, end := 0, time.Now().Add(patience); time.Now().Before(end); i++ {
		if err = run(fmt.Sprint("caller-", i)); err == nil {
			return
		}
	}
	t.Fatalf("redis never counts in time: %v", err)
}

// taken is take of the shared part, asked again where the machine is too busy for the wait.
func taken(t *testing.T, c *Counter, caller string, l Limits, cost int64) Verdict {
	t.Helper()
	var err error
	for end := time.Now().Add(patience); time.Now().Before(end); {
		var v Verdict
		if v, err = c.shared.take(t.Context(), caller, l.windows(), cost); err == nil {
			return v
		}
	}
	t.Fatalf("redis never counts: %v", err)
	return Verdict{}
}

// A counter holds what it says, however calls, costs and time come: no window ever holds more
// than its quota, a refused call costs nothing, and a window ends when it was said to.
func TestWindowsHoldTheirQuota(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := time.Unix(1_700_000_000, 0)
		c := newLocal(func() time.Time { return now })
		quota := rapid.Int64Range(MostCost, 60)
		limits := Limits{PerMinute: quota.Draw(t, "minute"), PerDay: quota.Draw(t, "day")}
		windows := limits.windows()
		type model struct {
			used int64
			ends time.Time
		}
		models := make([]model, len(windows))
		for range rapid.IntRange(1, 60).Draw(t, "calls") {
			now = now.Add(rapid.SampledFrom([]time.Duration{0, time.Millisecond, 7 * time.Second, time.Minute, 5 * time.Hour}).Draw(t, "later"))
			cost := rapid.Int64Range(1, MostCost).Draw(t, "cost")
			fits := true
			for i, w := range windows {
				if !now.Before(models[i].ends) {
					models[i] = model{ends: now.Add(w.length)}
				}
				fits = fits && models[i].used+cost <= w.quota
			}
			v := c.take("a", windows, cost)
			if (v.Refused < 0) != fits {
				t.Fatalf("%+v; fits: %v", v, fits)
			}
			for i, w := range windows {
				if fits {
					models[i].used += cost
				} else if models[i].used == 0 {
					models[i].ends = time.Time{} // a refused call opens no window
				}
				left := v.Windows[i]
				if left.Remaining != w.quota-models[i].used || left.Quota != w.quota || left.Length != w.length ||
					models[i].used > 0 && left.Reset != models[i].ends.Sub(now) {
					t.Fatalf("%+v of %+v at %v", left, models[i], now)
				}
			}
		}
	})
}

func TestCallersDontShare(t *testing.T) {
	c := newLocal(time.Now)
	limits := Limits{PerDay: MostCost}.windows()
	for caller, refused := range map[string]int{"a": -1, "b": -1} {
		if v := c.take(caller, limits, MostCost); v.Refused != refused {
			t.Errorf("%s: %+v", caller, v)
		}
	}
	if v := c.take("a", limits, 1); v.Refused != 0 {
		t.Errorf("%+v", v)
	}
}

func TestNoLimitsNoWindows(t *testing.T) {
	c, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	if v := c.Take(t.Context(), "a", Limits{}, 1); v.Refused >= 0 || len(v.Windows) > 0 {
		t.Errorf("%+v", v)
	}
}

func TestMemoryIsBounded(t *testing.T) {
	now := time.Unix(0, 0)
	c := newLocal(func() time.Time { return now })
	windows := Limits{PerMinute: MostCost}.windows()
	for i := range mostCallers + mostCallers/2 {
		c.take(fmt.Sprint(i), windows, 1)
		if i == mostCallers/2 {
			now = now.Add(time.Hour)
		}
	}
	if n := len(c.open); n > mostCallers {
		t.Errorf("%d callers are kept", n)
	}
	if v := c.take(fmt.Sprint(mostCallers), windows, MostCost); v.Refused != 0 {
		t.Errorf("a caller of this minute is forgotten: %+v", v)
	}
}

// Replicas that count in one Redis hold the quota together, and say the same as one alone.
func TestReplicasCountTogether(t *testing.T) {
	server := redistest.Start(t)
	one, other := open(t, server.URL()), open(t, server.URL())
	limits := Limits{PerMinute: 45, PerDay: 1000}
	undisturbed(t, func(caller string) error {
		alone := newLocal(time.Now)
		for i := range 12 {
			got, err := []*Counter{one, other}[i%2].shared.take(t.Context(), caller, limits.windows(), 5)
			if err != nil {
				return err
			}
			checkAlike(t, got, alone.take(caller, limits.windows(), 5))
		}
		return nil
	})
}

// checkAlike demands that two verdicts differ in no more than a little time.
func checkAlike(t *testing.T, got, want Verdict) {
	t.Helper()
	if got.Refused != want.Refused || len(got.Windows) != len(want.Windows) {
		t.Fatalf("%+v, want %+v", got, want)
	}
	for w := range got.Windows {
		g, h := got.Windows[w], want.Windows[w]
		if g.Name != h.Name || g.Length != h.Length || g.Remaining != h.Remaining || g.Quota != h.Quota ||
			g.Reset > g.Length || (g.Reset-h.Reset).Abs() > patience {
			t.Errorf("%+v, want %+v", g, h)
		}
	}
}

// However many ask at once on however many replicas, no more than the quota is taken.
func TestTogetherAtOnce(t *testing.T) {
	server := redistest.Start(t)
	replicas := []*Counter{open(t, server.URL()), open(t, server.URL()), open(t, server.URL())}
	var mu sync.Mutex
	var asking sync.WaitGroup
	counted := 0
	for i := range 24 {
		asking.Go(func() {
			for range 5 {
				if v := taken(t, replicas[i%3], "a", Limits{PerMinute: 70}, 1); v.Refused < 0 {
					mu.Lock()
					counted++
					mu.Unlock()
				}
			}
		})
	}
	asking.Wait()
	// A call whose answer came too late was asked again, so it may have been counted twice.
	used := server.Client().Get(t.Context(), key("a", Minute)).Val()
	if used != "70" || counted > 70 {
		t.Errorf("%d calls were taken, redis counts %s", counted, used)
	}
}

// Windows end by Redis' own clock, what is no number is overwritten, and no key shows a caller.
func TestKeysOfRedis(t *testing.T) {
	server := redistest.Start(t)
	c, db := open(t, server.URL()), server.Client()
	limits := Limits{PerMinute: 20, PerDay: 30}
	taken(t, c, "Zebedee", limits, 1)
	keys := db.Keys(t.Context(), "*").Val()
	if len(keys) != 2 {
		t.Errorf("keys %q", keys)
	}
	for _, k := range keys {
		if strings.Contains(strings.ToLower(k), "zebedee") || !strings.HasPrefix(k, "parcours:quota:{") {
			t.Errorf("key %q", k)
		}
		if ttl := db.PTTL(t.Context(), k).Val(); ttl <= 0 || ttl > 24*time.Hour {
			t.Errorf("%s is kept for %v", k, ttl)
		}
	}
	db.Del(t.Context(), key("Zebedee", Minute)) // as at its end
	if v := taken(t, c, "Zebedee", limits, 10); v.Windows[0].Remaining > 10 || v.Windows[1].Remaining > 19 || v.Windows[0].Remaining < 0 {
		t.Errorf("%+v", v)
	}
	for _, poison := range []func(k string){
		func(k string) { db.Set(t.Context(), k, "many", time.Hour) },
		func(k string) { db.Set(t.Context(), k, "5", 0) },
		func(k string) { db.Del(t.Context(), k); db.LPush(t.Context(), k, "5") },
	} {
		poison(key("b", Minute))
		if v := taken(t, c, "b", Limits{PerMinute: 20}, 1); v.Refused >= 0 {
			t.Errorf("%+v", v)
		}
		if ttl := db.PTTL(t.Context(), key("b", Minute)).Val(); ttl <= 0 || ttl > time.Minute {
			t.Errorf("kept for %v", ttl)
		}
		db.Del(t.Context(), key("b", Minute))
	}
}

// Without Redis calls are counted here, at once once the breaker has opened, and none fails.
func TestRedisAway(t *testing.T) {
	server := redistest.Start(t)
	c := open(t, server.URL())
	limits := Limits{PerMinute: 30}
	server.Kill()
	for i := range 40 {
		if v := c.Take(t.Context(), "a", limits, 1); (v.Refused < 0) != (i < 30) || v.Windows[0].Remaining != max(29-int64(i), 0) {
			t.Errorf("call %d: %+v", i, v)
		}
	}
	if n := testutil.ToFloat64(c.calls.WithLabelValues(byReplica, outcomeTaken)); n != 30 {
		t.Errorf("%v calls were taken here", n)
	}
	server.Restart()
	for end := time.Now().Add(patience); testutil.ToFloat64(c.calls.WithLabelValues(byRedis, outcomeTaken)) == 0; {
		if time.Now().After(end) {
			t.Fatal("redis is never used again")
		}
		c.Take(t.Context(), "b", Limits{PerMinute: MostUnits}, 1)
	}
}

func TestCluster(t *testing.T) {
	if testing.Short() {
		t.Skip("a cluster takes seconds to form")
	}
	var urls []string
	for _, s := range redistest.StartCluster(t) {
		urls = append(urls, s.URL())
	}
	c := open(t, urls...)
	for i := range 20 { // on all nodes
		undisturbed(t, func(caller string) error {
			caller = fmt.Sprint(i, caller)
			limits := Limits{PerMinute: 10, PerDay: 20}.windows()
			if _, err := c.shared.take(t.Context(), caller, limits, 10); err != nil {
				return err
			}
			v, err := c.shared.take(t.Context(), caller, limits, 1)
			if err == nil && v.Refused != 0 {
				t.Errorf("%+v", v)
			}
			return err
		})
	}
}
