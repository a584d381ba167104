package trials

import (
	"context"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/openloop"
)

// stopDelay is how long the replicas of these trials say that they are stopping: longer than
// the balancer takes to notice.
const stopDelay = 2 * time.Second

// Three replicas behind the balancer of deploy/haproxy are restarted one after the other
// under load, and no request fails; then one is killed, and none fails that is sent again
// once. The balancer keeps /metrics to itself, and says as a problem that nobody is left.
func TestBalancer(t *testing.T) {
	b := startBalanced(t, 3)
	perSecond, most := 40.0, 1
	if os.Getenv("PARCOURS_FULL") == "1" {
		perSecond, most = 150, 3
	}
	var twice atomic.Int64
	load, stop := context.WithCancel(t.Context())
	done := make(chan openloop.Result, 1)
	go func() {
		done <- openloop.Run(load, openloop.Load{PerSecond: perSecond, For: time.Hour, Seed: 7, Send: func(_ context.Context, i int) string {
			return b.send(i, &twice)
		}})
	}()
	for i := range most {
		b.restart(i)
	}
	rolled := twice.Load()
	b.replicas[0].Kill()
	b.awaitServers(2)
	stop()
	result := <-done
	for class, n := range result.Counts() {
		if class != "200" {
			t.Errorf("%d requests ended with %s", n, class)
		}
	}
	if rolled > 0 {
		t.Errorf("%d requests had to be sent again while replicas were restarted", rolled)
	}
	figures.Report(t, "balancer", "%d requests at %.0f/s through %d restarts and a kill: %d failed, %d sent again, all after the kill; p99 %v",
		len(result.Outcomes), perSecond, most, len(result.Outcomes)-result.Counts()["200"], twice.Load(), result.Quantile("", 0.99).Round(time.Millisecond))
	b.checkClosed()
}
