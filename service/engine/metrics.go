package engine

import (
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// stage is a step of the computation whose time is measured.
type stage string

const (
	stageRead    stage = "read"
	stageCourse  stage = "course"
	stageTerrain stage = "terrain"
	stageRide    stage = "ride"
	stagePlan    stage = "plan"
	stageBrief   stage = "brief"
	stageFit     stage = "fit"
	stageAids    stage = "aids"
	stageRace    stage = "race"
	stageLaunch  stage = "launch"
	stageCompare stage = "compare"
	stagePicture stage = "picture"
	stageShared  stage = "shared"
)

// meter holds the engine's metrics. They count whether or not they are registered.
type meter struct {
	seconds                 *prometheus.HistogramVec
	hits, misses, evictions prometheus.Counter
	// inflight and waiting are by lane.
	inflight, waiting *prometheus.GaugeVec
	busy              prometheus.Counter
	// plans counts plans, fellBack those of them that are no better than a constant
	// power.
	plans, fellBack prometheus.Counter
}

func newMeter() *meter {
	counter := func(name, help string) prometheus.Counter {
		return prometheus.NewCounter(prometheus.CounterOpts{Name: name, Help: help})
	}
	m := &meter{
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "parcours_engine_seconds",
			Help:    "Time of the computation by stage.",
			Buckets: prometheus.ExponentialBuckets(0.0005, 4, 8), // 0.5 ms … 8 s
		}, []string{"stage"}),
		hits:      counter("parcours_cache_hits_total", "Courses answered from the cache."),
		misses:    counter("parcours_cache_misses_total", "Courses that were not in the cache."),
		evictions: counter("parcours_cache_evictions_total", "Courses dropped from the cache for others."),
		inflight: prometheus.NewGaugeVec(prometheus.GaugeOpts{
			Name: "parcours_inflight", Help: "Workers that are taken by computations, by lane.",
		}, []string{"lane"}),
		waiting: prometheus.NewGaugeVec(prometheus.GaugeOpts{
			Name: "parcours_waiting", Help: "Computations that wait for a worker, by lane.",
		}, []string{"lane"}),
		busy:     counter("parcours_busy_total", "Computations refused because no worker became free in time."),
		plans:    counter("parcours_plans_total", "Plans that were made."),
		fellBack: counter("parcours_plans_fell_back_total", "Plans for which nothing better than a constant power was found."),
	}
	for _, name := range []string{laneLight, laneHeavy} { // shown from the start
		m.inflight.WithLabelValues(name)
		m.waiting.WithLabelValues(name)
	}
	return m
}

// register adds the metrics to r, where it isn't nil. cached returns the bytes in
// the cache.
func (m *meter) register(r prometheus.Registerer, cached func() uint64) error {
	if r == nil {
		return nil
	}
	bytes := prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "parcours_cache_bytes", Help: "Estimated memory of the cached courses in bytes.",
	}, func() float64 { return float64(cached()) })
	for _, c := range []prometheus.Collector{m.seconds, m.hits, m.misses, m.evictions, m.inflight, m.waiting, m.busy, m.plans, m.fellBack, bytes} {
		if err := r.Register(c); err != nil {
			return fmt.Errorf("engine: metrics: %w", err)
		}
	}
	return nil
}

// lookup counts a look into the cache.
func (m *meter) lookup(found bool) {
	if found {
		m.hits.Inc()
	} else {
		m.misses.Inc()
	}
}

// time starts the clock of a stage; the returned function stops it.
func (m *meter) time(s stage) (stop func()) {
	start := time.Now()
	return func() { m.seconds.WithLabelValues(string(s)).Observe(time.Since(start).Seconds()) }
}
