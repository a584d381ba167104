package cache

import (
	"context"
	"errors"
	"fmt"
	"time"

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
type meter struct {
	lookups, writes *prometheus.CounterVec
	// seconds is how long trips took, next to nothing where Redis is left alone.
	seconds *prometheus.HistogramVec
}

// What a trip to Redis is for.
const tripRead, tripWrite, tripScript = "read", "write", "script"

func newMeter() *meter {
	m := &meter{
		lookups: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_redis_lookups_total", Help: "Look-ups in Redis by what they found.",
		}, []string{"found"}),
		writes: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_redis_writes_total", Help: "Values for Redis by what became of them.",
		}, []string{"outcome"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "parcours_redis_duration_seconds", Help: "Time of trips to Redis by what they were for, whatever became of them; next to none where Redis is left alone.",
			Buckets: []float64{.0001, .00025, .0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5},
		}, []string{"operation"}),
	}
	for _, found := range []string{foundHit, foundMiss, foundForeign, foundFailed, foundSkipped} { // shown from the start
		m.lookups.WithLabelValues(found)
	}
	for _, outcome := range []string{writeDone, writeFailed, writeRefused, writeDropped} {
		m.writes.WithLabelValues(outcome)
	}
	for _, operation := range []string{tripRead, tripWrite, tripScript} {
		m.seconds.WithLabelValues(operation)
	}
	return m
}

// time starts the clock of a trip; the returned function stops it.
func (m *meter) time(operation string) (stop func()) {
	start := time.Now()
	return func() { m.seconds.WithLabelValues(operation).Observe(time.Since(start).Seconds()) }
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
	for _, c := range []prometheus.Collector{m.lookups, m.writes, m.seconds, up} {
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
