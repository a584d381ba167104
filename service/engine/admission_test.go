package engine

import (
	"context"
	"errors"
	"testing"
	"time"
)

func TestBusy(t *testing.T) {
	e := newEngine(t, Config{Workers: 1, QueueWait: 10 * time.Millisecond})
	cached, err := e.Course(t.Context(), fromProfile(100, 0))
	if err != nil {
		t.Fatal(err)
	}
	leave, err := e.admit.enter(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	_, err = e.Course(t.Context(), fromProfile(100, 1))
	var busy *BusyError
	if !errors.As(err, &busy) || busy.RetryAfter != time.Second {
		t.Errorf("%v, want busy for a second", err)
	}
	if n := counted(t, e.meter.busy); n != 1 {
		t.Errorf("counted %d refusals", n)
	}
	if c, err := e.Course(t.Context(), CourseSource{ID: cached.ID}); err != nil || c != cached {
		t.Errorf("a cached course while busy: %v", err)
	}
	leave()
	if _, err := e.Course(t.Context(), fromProfile(100, 1)); err != nil {
		t.Errorf("once a worker is free: %v", err)
	}
}

func TestCancelledWhileWaiting(t *testing.T) {
	a := newAdmission(1, time.Minute, newMeter())
	leave, err := a.enter(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer leave()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := a.enter(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's own error", err)
	}
}

func TestOneLargeComputationAtATime(t *testing.T) {
	a := newAdmission(4, 10*time.Millisecond, newMeter())
	leave, err := a.enterLarge(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.enterLarge(t.Context()); !isBusy(err) {
		t.Errorf("a second large one: %v, want busy", err)
	}
	leaveSmall, err := a.enter(t.Context())
	if err != nil {
		t.Fatalf("a small one beside it: %v", err)
	}
	leaveSmall()
	leave()
	leave, err = a.enterLarge(t.Context())
	if err != nil {
		t.Fatalf("a large one after it: %v", err)
	}
	leave()
}

func TestLargeGivesWayWhereNoWorkerIsFree(t *testing.T) {
	a := newAdmission(1, 10*time.Millisecond, newMeter())
	leave, err := a.enter(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.enterLarge(t.Context()); !isBusy(err) {
		t.Errorf("%v, want busy", err)
	}
	leave()
	leave, err = a.enterLarge(t.Context())
	if err != nil {
		t.Fatalf("its place wasn't given back: %v", err)
	}
	leave()
}

func TestMoreTakesWhatIsFree(t *testing.T) {
	a := newAdmission(3, time.Minute, newMeter())
	leave, err := a.enter(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	taken, leaveMore := a.more(5)
	if taken != 2 {
		t.Errorf("took %d of 2 free workers", taken)
	}
	leaveMore()
	leave()
	if !a.workers.TryAcquire(3) {
		t.Error("not all workers were given back")
	}
}

func TestInflightCountsWorkers(t *testing.T) {
	m := newMeter()
	a := newAdmission(4, time.Minute, m)
	leave, err := a.enterLarge(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	_, leaveMore := a.more(2)
	if n := read(t, m.inflight).GetGauge().GetValue(); n != 3 {
		t.Errorf("%v workers taken, want 3", n)
	}
	leaveMore()
	leave()
	if n := read(t, m.inflight).GetGauge().GetValue(); n != 0 {
		t.Errorf("%v workers taken in the end", n)
	}
}

func isBusy(err error) bool {
	var busy *BusyError
	return errors.As(err, &busy)
}
