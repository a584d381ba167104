package engine

import (
	"context"
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/service/span"
)

// stage is a step of the computation whose time is measured.
type stage string

const (
	stageRead      stage = "read"
	stageCourse    stage = "course"
	stageTerrain   stage = "terrain"
	stageRide      stage = "ride"
	stagePlan      stage = "plan"
	stageBrief     stage = "brief"
	stageFit       stage = "fit"
	stageAids      stage = "aids"
	stageRace      stage = "race"
	stageLaunch    stage = "launch"
	stageCompare   stage = "compare"
	stagePicture   stage = "picture"
	stageShared    stage = "shared"
	stageCalibrate stage = "calibrate"
)

// measured are all stages.
var measured = []stage{
	stageRead, stageCourse, stageTerrain, stageRide, stagePlan, stageBrief, stageFit, stageAids, stageRace, stageLaunch, stageCompare, stagePicture, stageShared, stageCalibrate,
}

// What there was too little of, where work is refused.
const (
	busyWorkers = "workers"
	busyLarge   = "large"
	busyMemory  = "memory"
	busySeasons = "seasons"
)

// meter holds the engine's metrics. They count whether or not they are registered.
type meter struct {
	seconds                 *prometheus.HistogramVec
	hits, misses, evictions prometheus.Counter
	// workers, inflight, waiting and waits are by lane.
	workers, inflight, waiting *prometheus.GaugeVec
	waits                      *prometheus.HistogramVec
	// busy is by what there was too little of.
	busy *prometheus.CounterVec
	// plans counts plans, fellBack those of them that are no better than a constant
	// power.
	plans, fellBack prometheus.Counter
	// answers are by where they came from.
	answers *prometheus.CounterVec
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
		workers: prometheus.NewGaugeVec(prometheus.GaugeOpts{
			Name: "parcours_workers", Help: "Workers that computations can take, by lane.",
		}, []string{"lane"}),
		inflight: prometheus.NewGaugeVec(prometheus.GaugeOpts{
			Name: "parcours_inflight", Help: "Workers that are taken by computations, by lane.",
		}, []string{"lane"}),
		waiting: prometheus.NewGaugeVec(prometheus.GaugeOpts{
			Name: "parcours_waiting", Help: "Computations that wait for a worker, by lane.",
		}, []string{"lane"}),
		waits: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "parcours_queue_wait_seconds",
			Help:    "How long computations waited for a worker, by lane, whether or not they got one.",
			Buckets: []float64{.001, .005, .01, .025, .05, .1, .25, .5, 1, 2, 5},
		}, []string{"lane"}),
		busy: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_busy_total",
			Help: "Work refused by what there was too little of: workers within the wait, turns of files that take much memory, memory for what callers send.",
		}, []string{"reason"}),
		plans:    counter("parcours_plans_total", "Plans that were made."),
		fellBack: counter("parcours_plans_fell_back_total", "Plans for which nothing better than a constant power was found."),
	}
	m.answers = prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "parcours_answers_total", Help: "Answers by where they came from: kept by this process, read from Redis, or made.",
	}, []string{"from"})
	for _, from := range []string{tierProcess, tierRedis, tierMade} {
		m.answers.WithLabelValues(from)
	}
	for _, name := range []string{laneLight, laneHeavy, laneLarge} { // shown from the start
		m.inflight.WithLabelValues(name)
		m.waiting.WithLabelValues(name)
		m.waits.WithLabelValues(name)
	}
	for _, s := range measured {
		m.seconds.WithLabelValues(string(s))
	}
	for _, reason := range []string{busyWorkers, busyLarge, busyMemory, busySeasons} {
		m.busy.WithLabelValues(reason)
	}
	return m
}

// register adds the metrics to r, where it isn't nil. cached and kept return the bytes of
// courses and of answers.
func (m *meter) register(r prometheus.Registerer, cached, kept func() uint64) error {
	if r == nil {
		return nil
	}
	gauge := func(name, help string, value func() uint64) prometheus.Collector {
		return prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, func() float64 { return float64(value()) })
	}
	for _, c := range []prometheus.Collector{
		m.seconds, m.hits, m.misses, m.evictions, m.workers, m.inflight, m.waiting, m.waits, m.busy, m.plans, m.fellBack, m.answers,
		gauge("parcours_cache_bytes", "Estimated memory of the cached courses in bytes.", cached),
		gauge("parcours_answers_bytes", "Memory of the kept answers in bytes.", kept),
	} {
		if err := r.Register(c); err != nil {
			return fmt.Errorf("engine: metrics: %w", err)
		}
	}
	return nil
}

// Where answers come from.
const tierProcess, tierRedis, tierMade = "process", "redis", "made"

// answered counts an answer, and notes in the trace of the request where it came from.
func (m *meter) answered(ctx context.Context, from string) {
	m.answers.WithLabelValues(from).Inc()
	span.Within(ctx).Note("answer", from)
}

// lookup counts a look into the cache, and notes it in the trace of the request.
func (m *meter) lookup(ctx context.Context, found bool) {
	if found {
		m.hits.Inc()
		span.Within(ctx).Note("cached", "hit")
	} else {
		m.misses.Inc()
		span.Within(ctx).Note("cached", "miss")
	}
}

// time starts the clock of a stage, which is a step of the request's trace as well; the returned
// function stops it.
func (m *meter) time(ctx context.Context, s stage) (stop func()) {
	start := time.Now()
	_, step := span.Start(ctx, string(s))
	return func() {
		step.End()
		m.seconds.WithLabelValues(string(s)).Observe(time.Since(start).Seconds())
	}
}
