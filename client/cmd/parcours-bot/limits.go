package main

import (
	"math"
	"sync"
	"time"
)

// verdict is what becomes of a question.
type verdict int

// The verdicts.
const (
	answered verdict = iota
	// toldToWait is the first one too many, which is told so; silent are those after it.
	toldToWait
	silent
)

// limiter holds askers to so many questions a minute, each by a bucket of as many. It is safe
// for concurrent use.
type limiter struct {
	perMinute float64
	mu        sync.Mutex
	buckets   map[string]*bucket
}

type bucket struct {
	tokens float64
	at     time.Time
	told   bool
}

// mostBuckets is how many askers are remembered before those who have asked nothing for long
// are forgotten.
const mostBuckets = 10_000

func newLimiter(perMinute float64) *limiter {
	return &limiter{perMinute: perMinute, buckets: map[string]*bucket{}}
}

// take asks whether one more question is answered.
func (l *limiter) take(who string, now time.Time) verdict {
	l.mu.Lock()
	defer l.mu.Unlock()
	full := math.Max(1, l.perMinute)
	b := l.buckets[who]
	if b == nil {
		l.forget(full, now)
		b = &bucket{tokens: full, at: now}
		l.buckets[who] = b
	}
	b.fill(l.perMinute, full, now)
	switch {
	case b.tokens >= 1:
		b.tokens--
		b.told = false
		return answered
	case !b.told:
		b.told = true
		return toldToWait
	}
	return silent
}

func (b *bucket) fill(perMinute, full float64, now time.Time) {
	if passed := now.Sub(b.at); passed > 0 {
		b.tokens = math.Min(full, b.tokens+passed.Minutes()*perMinute)
		b.at = now
	}
}

// forget drops whose buckets are full when there are too many.
func (l *limiter) forget(full float64, now time.Time) {
	if len(l.buckets) < mostBuckets {
		return
	}
	for who, b := range l.buckets {
		if b.fill(l.perMinute, full, now); b.tokens >= full {
			delete(l.buckets, who)
		}
	}
	if len(l.buckets) >= mostBuckets { // all of them at once: nobody is remembered
		clear(l.buckets)
	}
}
