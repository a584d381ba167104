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

// limiter holds askers to so many questions a minute, each by a bucket. It is safe for
// concurrent use.
type limiter struct {
	perMinute float64
	// burst is how many may come at once: the size of a bucket.
	burst   float64
	mu      sync.Mutex
	buckets map[string]*bucket
}

type bucket struct {
	tokens float64
	at     time.Time
	told   bool
}

// mostBuckets is how many askers are remembered before those who have asked nothing for long
// are forgotten.
const mostBuckets = 10_000

func newLimiter(perMinute, burst float64) *limiter {
	return &limiter{perMinute: perMinute, burst: math.Max(1, burst), buckets: map[string]*bucket{}}
}

// take asks whether one more question is answered.
func (l *limiter) take(who string, now time.Time) verdict {
	l.mu.Lock()
	defer l.mu.Unlock()
	b := l.buckets[who]
	if b == nil {
		l.forget(now)
		b = &bucket{tokens: l.burst, at: now}
		l.buckets[who] = b
	}
	l.fill(b, now)
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

func (l *limiter) fill(b *bucket, now time.Time) {
	if passed := now.Sub(b.at); passed > 0 {
		b.tokens = math.Min(l.burst, b.tokens+passed.Minutes()*l.perMinute)
		b.at = now
	}
}

// forget drops whose buckets are full when there are too many.
func (l *limiter) forget(now time.Time) {
	if len(l.buckets) < mostBuckets {
		return
	}
	for who, b := range l.buckets {
		if l.fill(b, now); b.tokens >= l.burst {
			delete(l.buckets, who)
		}
	}
	if len(l.buckets) >= mostBuckets { // all of them at once: nobody is remembered
		clear(l.buckets)
	}
}
