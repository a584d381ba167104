package jobs

import (
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// meter holds the metrics.
type meter struct {
	ended   *prometheus.CounterVec
	seconds prometheus.Histogram
}

// census is what is under way, in all processes where they share a queue, and how long the job
// has waited that waits longest.
type census struct {
	waiting, running int
	oldest           time.Duration
	// away is whether nobody knows, for the queue doesn't answer.
	away bool
}

func newMeter() *meter {
	m := &meter{
		ended: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_jobs_ended_total", Help: "Jobs that are over, by what became of them.",
		}, []string{"outcome"}),
		seconds: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "parcours_jobs_duration_seconds", Help: "Time from when a job was sent to when it was over.",
			Buckets: []float64{.1, .25, .5, 1, 2.5, 5, 10, 30, 60, 180, 600, 1800},
		}),
	}
	for _, outcome := range []State{Done, Failed, Cancelled} { // shown from the start
		m.ended.WithLabelValues(string(outcome))
	}
	return m
}

func (m *meter) end(state State, after time.Duration) {
	m.ended.WithLabelValues(string(state)).Inc()
	m.seconds.Observe(after.Seconds())
}

func (m *meter) register(r prometheus.Registerer, count func() census) error {
	if r == nil {
		return nil
	}
	gauge := func(name, help string, of func(census) float64) prometheus.Collector {
		return prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, func() float64 { return of(count()) })
	}
	for _, c := range []prometheus.Collector{
		m.ended, m.seconds,
		gauge("parcours_jobs_waiting", "Jobs that wait.", func(c census) float64 { return float64(c.waiting) }),
		gauge("parcours_jobs_up", "1 while the queue of jobs answers.", func(c census) float64 {
			if c.away {
				return 0
			}
			return 1
		}),
		gauge("parcours_jobs_running", "Jobs that are worked on.", func(c census) float64 { return float64(c.running) }),
		gauge("parcours_jobs_oldest_seconds", "How long the job has waited that waits longest; 0 where none does.", func(c census) float64 { return c.oldest.Seconds() }),
	} {
		if err := r.Register(c); err != nil {
			return fmt.Errorf("jobs: metrics: %w", err)
		}
	}
	return nil
}
