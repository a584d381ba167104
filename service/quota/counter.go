package quota

import (
	"context"
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/service/cache"
)

// Config says where calls are counted.
type Config struct {
	// Shared is the Redis that replicas count in together; nil to count in this process alone.
	Shared *cache.Shared
	// Registerer takes the metrics; nil for none.
	Registerer prometheus.Registerer
}

// Counter counts calls against quotas. It is safe for concurrent use.
type Counter struct {
	shared *shared // nil where there is none
	local  *local
	calls  *prometheus.CounterVec
}

// Where a call was counted, and with what outcome.
const (
	byRedis, byReplica = "redis", "replica"
	outcomeTaken       = "taken"
	outcomeRefused     = "refused"
)

// New returns a counter. It fails where its metrics are registered already.
func New(cfg Config) (*Counter, error) {
	c := &Counter{local: newLocal(time.Now), calls: prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "parcours_quota_calls_total", Help: "Calls held against a quota, by where they were counted and the outcome.",
	}, []string{"by", "outcome"})}
	if cfg.Shared != nil {
		c.shared = newShared(cfg.Shared)
	}
	if cfg.Registerer != nil {
		if err := cfg.Registerer.Register(c.calls); err != nil {
			return nil, fmt.Errorf("quota: metrics: %w", err)
		}
	}
	return c, nil
}

// Take counts a call that costs so many units, from 1 to MostCost, against a caller's quotas.
// A call that would exceed one of them is refused and costs nothing. Take waits at most some
// tens of milliseconds, and never fails: without Redis it counts in this process.
func (c *Counter) Take(ctx context.Context, caller string, limits Limits, cost int64) Verdict {
	windows := limits.windows()
	if len(windows) == 0 {
		return Verdict{Refused: -1}
	}
	v, by := c.take(ctx, caller, windows, cost)
	c.count(by, v)
	return v
}

func (c *Counter) count(by string, v Verdict) {
	outcome := outcomeTaken
	if v.Refused >= 0 {
		outcome = outcomeRefused
	}
	c.calls.WithLabelValues(by, outcome).Inc()
}

// TakeHere is Take in this process alone, for callers whose names should leave it for nowhere,
// such as their addresses.
func (c *Counter) TakeHere(caller string, limits Limits, cost int64) Verdict {
	v := c.local.take(caller, limits.windows(), cost)
	c.count(byReplica, v)
	return v
}

func (c *Counter) take(ctx context.Context, caller string, windows []window, cost int64) (v Verdict, by string) {
	if c.shared != nil {
		if v, err := c.shared.take(ctx, caller, windows, cost); err == nil {
			return v, byRedis
		}
	}
	return c.local.take(caller, windows, cost), byReplica
}
