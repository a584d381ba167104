package engine

import (
	"context"
	"errors"
	"testing"
	"time"
)

// TestNobodyWaits demands that what nobody waits for takes no worker, and is done for
// the next caller all the same.
func TestNobodyWaits(t *testing.T) {
	e := newEngine(t, Config{Workers: 1, QueueWait: time.Minute})
	_, leave, err := e.admit.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	src := fromFile(gpx("Oster loop", 100))
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error, 2)
	for range 2 {
		go func() { _, err := e.Course(ctx, src); gone <- err }()
	}
	eventually(t, "both callers past the cache", func() bool { return counted(t, e.meter.misses) == 2 })
	cancel()
	for range 2 {
		if err := <-gone; !errors.Is(err, context.Canceled) {
			t.Errorf("a caller who left got %v", err)
		}
	}
	e.flights.running.Wait()
	leave()
	if n := e.runs(t, stageRead); n != 0 {
		t.Errorf("read %d times for nobody", n)
	}
	if _, err := e.Course(t.Context(), src); err != nil {
		t.Errorf("the next caller got %v", err)
	}
	if n := len(e.flights.waiting); n != 0 {
		t.Errorf("%d computations have waiters", n)
	}
}

// TestAbandonedBetweenSteps demands that a computation ends after the step in which the
// last caller left, and that one who comes meanwhile gets a result.
func TestAbandonedBetweenSteps(t *testing.T) {
	e := newEngine(t, Config{})
	inside, goOn := make(chan bool), make(chan bool)
	work := func(ctx context.Context) (*Course, error) {
		inside <- true
		<-goOn
		return &Course{}, ctx.Err()
	}
	ctx, cancel := context.WithCancel(t.Context())
	first, second := make(chan error, 1), make(chan error, 1)
	go func() { _, err := e.flights.shared(ctx, "key", work); first <- err }()
	<-inside
	cancel()
	if err := <-first; !errors.Is(err, context.Canceled) {
		t.Errorf("the caller who left got %v", err)
	}
	go func() { _, err := e.flights.shared(t.Context(), "key", work); second <- err }()
	eventually(t, "the second caller", func() bool {
		e.flights.mu.Lock()
		defer e.flights.mu.Unlock()
		return len(e.flights.waiting) == 1
	})
	goOn <- true // the abandoned one ends
	<-inside     // and another begins
	goOn <- true
	if err := <-second; err != nil {
		t.Errorf("the second caller got %v", err)
	}
}
