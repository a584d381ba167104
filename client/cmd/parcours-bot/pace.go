package main

import (
	"context"
	"sync"
	"time"
)

// pace spaces out what the bot says, as servers and people want it. It is safe for concurrent
// use.
type pace struct {
	// every is the time from one message to the next, burst how many may come at once.
	every time.Duration
	burst int
	mu    sync.Mutex
	// free is when the bot may speak without having waited; it may be ahead of that by a burst.
	free time.Time
}

// The bot says a message a second on average, and at most a few at once.
const (
	paceEvery = time.Second
	paceBurst = 4
)

func newPace() *pace { return &pace{every: paceEvery, burst: paceBurst} }

// wait waits until one more message may be said.
func (p *pace) wait(ctx context.Context) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(p.reserve(time.Now())):
		return nil
	}
}

// reserve takes the next turn and returns how long it is away.
func (p *pace) reserve(now time.Time) time.Duration {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.free.Before(now) {
		p.free = now
	}
	p.free = p.free.Add(p.every)
	return max(0, p.free.Sub(now)-time.Duration(p.burst)*p.every)
}
