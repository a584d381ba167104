package engine

import (
	"context"
	"errors"
	"testing"
	"time"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
)

func TestBusy(t *testing.T) {
	e := newEngine(t, Config{Workers: 1, QueueWait: 10 * time.Millisecond})
	cached, err := e.Course(t.Context(), fromProfile(100, 0))
	if err != nil {
		t.Fatal(err)
	}
	_, leave, err := e.admit.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = e.Course(t.Context(), fromProfile(100, 1))
	var busy *BusyError
	if !errors.As(err, &busy) || busy.RetryAfter != time.Second {
		t.Errorf("%v, want busy for a second", err)
	}
	if n := counted(t, e.meter.busy.WithLabelValues(busyWorkers)); n != 1 {
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
	_, leave, err := a.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	defer leave()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := a.enter(ctx, 0); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's own error", err)
	}
}

func TestOneLargeComputationAtATime(t *testing.T) {
	a := newAdmission(4, 10*time.Millisecond, newMeter())
	_, leave, err := a.enterLarge(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := a.enterLarge(t.Context(), 0); !isBusy(err) {
		t.Errorf("a second large one: %v, want busy", err)
	}
	_, leaveSmall, err := a.enter(t.Context(), 0)
	if err != nil {
		t.Fatalf("a small one beside it: %v", err)
	}
	leaveSmall()
	leave()
	_, leave, err = a.enterLarge(t.Context(), 0)
	if err != nil {
		t.Fatalf("a large one after it: %v", err)
	}
	leave()
}

func TestLargeGivesWayWhereNoWorkerIsFree(t *testing.T) {
	a := newAdmission(1, 10*time.Millisecond, newMeter())
	_, leave, err := a.enter(t.Context(), 2*lightSteps)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := a.enterLarge(t.Context(), 0); !isBusy(err) {
		t.Errorf("%v, want busy", err)
	}
	leave()
	_, leave, err = a.enterLarge(t.Context(), 0)
	if err != nil {
		t.Fatalf("its place wasn't given back: %v", err)
	}
	leave()
}

func TestHiredWorkersAreThoseThatAreFree(t *testing.T) {
	a := newAdmission(3, time.Minute, newMeter())
	working, leave, err := a.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	hired := helpFor(working).hire(5)
	if hired != 2 {
		t.Errorf("hired %d of 2 free workers", hired)
	}
	for range hired {
		helpFor(working).dismiss()
	}
	leave()
	if n := a.light.free(); n != 3 {
		t.Errorf("%d workers are free in the end", n)
	}
}

// Heavy work has all cores while there is nothing light, and leaves one to what comes.
func TestHeavyWorkLeavesACore(t *testing.T) {
	a := newAdmission(4, time.Minute, newMeter())
	heavy, leave, err := a.enter(t.Context(), 2*lightSteps)
	if err != nil {
		t.Fatal(err)
	}
	if hired := helpFor(heavy).hire(10); hired != 3 || !helpFor(heavy).stays() {
		t.Fatalf("hired %d of 3 idle cores; they stay: %v", hired, helpFor(heavy).stays())
	}
	_, leaveLight, err := a.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	if helpFor(heavy).stays() {
		t.Error("stays on the core of light work")
	}
	helpFor(heavy).dismiss()
	if !helpFor(heavy).stays() || helpFor(heavy).hire(10) != 0 {
		t.Error("doesn't keep the others, or hires while light work is under way")
	}
	leaveLight()
	if helpFor(heavy).hire(10) != 1 {
		t.Error("doesn't come back")
	}
	leave()
}

func TestInflightCountsWorkers(t *testing.T) {
	m := newMeter()
	a := newAdmission(5, time.Minute, m)
	working, leave, err := a.enterLarge(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	helpFor(working).hire(2)
	if n := read(t, m.inflight.WithLabelValues("heavy")).GetGauge().GetValue(); n != 3 {
		t.Errorf("%v workers taken, want 3", n)
	}
	helpFor(working).dismiss()
	helpFor(working).dismiss()
	leave()
	if n := read(t, m.inflight.WithLabelValues("heavy")).GetGauge().GetValue(); n != 0 {
		t.Errorf("%v workers taken in the end", n)
	}
}

// However much heavy work there is, light work has workers of its own, and the other way
// round.
func TestLanesDontKeepEachOtherWaiting(t *testing.T) {
	for _, steps := range [][2]float64{{lightSteps, lightSteps + 1}, {lightSteps + 1, lightSteps}} {
		a := newAdmission(1, 10*time.Millisecond, newMeter())
		_, leave, err := a.enter(t.Context(), steps[0])
		if err != nil {
			t.Fatal(err)
		}
		defer leave()
		if _, _, err := a.enter(t.Context(), steps[0]); !isBusy(err) {
			t.Errorf("a second worker in a lane of one: %v", err)
		}
		if _, leaveOther, err := a.enter(t.Context(), steps[1]); err != nil {
			t.Errorf("the other lane waits: %v", err)
		} else {
			leaveOther()
		}
	}
}

// A race over many runs, a large matrix and many plans are heavy; what people ask one by one
// is light.
func TestWhatIsHeavy(t *testing.T) {
	c := &Course{Course: &course.Course{S: make([]float64, 10_001)}}
	for i := range c.S {
		c.S[i] = 10 * float64(i)
	}
	rides := func(riders, setups int, kind ride.EffortKind) float64 {
		m := matrix{course: c, to: c.LengthM(), riders: make([]ride.Rider, riders), setups: make([]ride.Setup, setups)}
		for range riders {
			m.efforts = append(m.efforts, ride.Effort{Kind: kind})
		}
		return m.steps(m.rides())
	}
	for _, tc := range []struct {
		what  string
		steps float64
		heavy bool
	}{
		{"two riders on two set-ups over 100 km", rides(2, 2, ride.ByPower), false},
		{"a plan over 100 km", rides(1, 1, Best), false},
		{"a league on a set-up", rides(200, 1, ride.ByPower), true},
		{"three plans", rides(3, 1, Best), true},
	} {
		if (tc.steps > lightSteps) != tc.heavy {
			t.Errorf("%s: %.0f steps", tc.what, tc.steps)
		}
	}
}

func isBusy(err error) bool {
	var busy *BusyError
	return errors.As(err, &busy)
}
