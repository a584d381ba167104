// Package engine holds the service's use cases: a course analysed, riders
// predicted, a brief written. It knows the cache and the limits, nothing of HTTP.
//
// A use case goes the same way each time: digest, cache, admission, computation,
// cache. Results are values under a digest of all that they depend on, so the
// order and the concurrency of calls never show in them.
package engine

import (
	"errors"
	"runtime"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/service/cache"
)

// Config says how much of the machine an engine may use. The zero value is a good
// configuration.
type Config struct {
	// CacheBytes bounds the memory of cached courses; 0 for 256 MiB.
	CacheBytes int64
	// AnswerBytes bounds the memory of kept answers; 0 for 64 MiB.
	AnswerBytes int64
	// HeldBytes bounds the memory for what all callers together have sent and for what
	// of it was decompressed; 0 for DefaultHeldBytes.
	HeldBytes int64
	// Workers bounds the computations that run at the same time; 0 for one on each
	// core.
	Workers int
	// QueueWait is how long a computation waits for a worker before the call fails
	// with a *BusyError; 0 for 2 s.
	QueueWait time.Duration
	// Limits bound a single request; each limit left at 0 is that of DefaultLimits.
	Limits Limits
	// Shared is what other replicas have computed, and get to know what this one does; nil
	// for a replica by itself. Whoever opened it closes it, after the engine.
	Shared *cache.Shared
	// Registerer takes the engine's metrics; nil for none.
	Registerer prometheus.Registerer
}

const (
	defaultCacheBytes  = 256 << 20
	defaultAnswerBytes = 64 << 20
	defaultQueueWait   = 2 * time.Second
)

// Engine answers the use cases. It is safe for concurrent use; make it with New
// and end it with Close.
type Engine struct {
	limits  Limits
	courses *courseCache
	shared  *cache.Shared
	admit   *admission
	meter   *meter
	flights flights[*Course]
	// answers are what was replied, replies those that are being made.
	answers *answerCache
	replies flights[*Answer]
	herd    herd
	// seasons counts those under way.
	seasons atomic.Int64
	// held is the memory that claims hold, in bytes, heldMost the most of it.
	held     atomic.Int64
	heldMost int64
}

// New returns an engine. It fails where the configuration is out of range, with
// all faults joined, or the metrics are already registered.
func New(cfg Config) (*Engine, error) {
	cfg, err := cfg.complete()
	if err != nil {
		return nil, err
	}
	m := newMeter()
	courses, err := newCourseCache(cfg.CacheBytes, m.evictions)
	if err != nil {
		return nil, err
	}
	answers, err := newAnswerCache(cfg.AnswerBytes)
	if err != nil {
		courses.close()
		return nil, err
	}
	e := &Engine{
		heldMost: cfg.HeldBytes,
		limits:   cfg.Limits,
		courses:  courses,
		answers:  answers,
		shared:   cfg.Shared,
		admit:    newAdmission(cfg.Workers, cfg.QueueWait, m),
		meter:    m,
	}
	if err := errors.Join(m.register(cfg.Registerer, courses.bytes, answers.bytes), e.showHeld(cfg.Registerer)); err != nil {
		courses.close()
		answers.close()
		return nil, err
	}
	return e, nil
}

// complete fills in the defaults and checks the ranges.
func (cfg Config) complete() (Config, error) {
	if cfg.CacheBytes == 0 {
		cfg.CacheBytes = defaultCacheBytes
	}
	if cfg.AnswerBytes == 0 {
		cfg.AnswerBytes = defaultAnswerBytes
	}
	if cfg.HeldBytes == 0 {
		cfg.HeldBytes = DefaultHeldBytes
	}
	if cfg.Workers == 0 {
		cfg.Workers = runtime.GOMAXPROCS(0)
	}
	if cfg.QueueWait == 0 {
		cfg.QueueWait = defaultQueueWait
	}
	cfg.Limits = cfg.Limits.complete()
	var faults []error
	if cfg.CacheBytes < 0 {
		faults = append(faults, errors.New("engine: the cache's size is negative"))
	}
	if cfg.AnswerBytes < 0 {
		faults = append(faults, errors.New("engine: the memory for answers is negative"))
	}
	if cfg.HeldBytes < 0 {
		faults = append(faults, errors.New("engine: the memory for what callers send is negative"))
	}
	if cfg.Workers < 0 {
		faults = append(faults, errors.New("engine: the number of workers is negative"))
	}
	if cfg.QueueWait < 0 {
		faults = append(faults, errors.New("engine: the wait for a worker is negative"))
	}
	return cfg, errors.Join(faults...)
}

// Degraded reports whether the engine goes on without what other replicas share, because it
// can't be reached.
func (e *Engine) Degraded() bool { return e.shared != nil && e.shared.Degraded() }

// Close waits for the computations that are still running and frees the cache. No
// method may be called after it.
func (e *Engine) Close() {
	e.replies.running.Wait()
	e.flights.running.Wait()
	e.answers.close()
	e.courses.close()
}
