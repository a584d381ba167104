package cache

import (
	"context"
	"errors"
	"fmt"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/redis/go-redis/v9"
)

// What a look-up finds, and what becomes of a write.
const (
	foundHit     = "hit"
	foundMiss    = "miss"
	foundForeign = "foreign"
	foundFailed  = "failed"
	foundSkipped = "skipped"

	writeDone    = "done"
	writeFailed  = "failed"
	writeRefused = "refused"
	writeDropped = "dropped"
)

// meter holds the metrics.
type meter struct{ lookups, writes *prometheus.CounterVec }

func newMeter() *meter {
	return &meter{
		lookups: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_redis_lookups_total", Help: "Look-ups in Redis by what they found.",
		}, []string{"found"}),
		writes: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_redis_writes_total", Help: "Values for Redis by what became of them.",
		}, []string{"outcome"}),
	}
}

func (m *meter) register(r prometheus.Registerer, degraded func() bool) error {
	if r == nil {
		return nil
	}
	up := prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "parcours_redis_up", Help: "1 while Redis is used, 0 while it is left alone.",
	}, func() float64 {
		if degraded() {
			return 0
		}
		return 1
	})
	for _, c := range []prometheus.Collector{m.lookups, m.writes, up} {
		if err := r.Register(c); err != nil {
			return fmt.Errorf("cache: metrics: %w", err)
		}
	}
	return nil
}

// missed counts a look-up that gave no value.
func (m *meter) missed(err error) {
	found := foundFailed
	switch {
	case errors.Is(err, redis.Nil):
		found = foundMiss
	case replyCode(err) == codeWrongType:
		found = foundForeign
	case errors.Is(err, errAway), errors.Is(err, context.Canceled):
		found = foundSkipped
	}
	m.lookups.WithLabelValues(found).Inc()
}
