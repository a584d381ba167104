package engine

import (
	"context"
	"errors"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// queued starts n callers who hold a place for some time once they get it, and reports how
// each fared.
func queued(ctx context.Context, l *workerLane, n int, hold time.Duration, begun bool) <-chan error {
	fared := make(chan error, n)
	for range n {
		go func() {
			p, err := l.take(ctx, hold, begun)
			if err == nil {
				time.Sleep(hold)
				p.leave()
			}
			fared <- err
		}()
		synctest.Wait()
	}
	return fared
}

func refusals(t *testing.T, fared <-chan error, n int) (refused int) {
	t.Helper()
	for range n {
		if err := <-fared; isBusy(err) {
			refused++
		} else if err != nil {
			t.Error(err)
		}
	}
	return refused
}

// A crowd is let in as far as half of the longest wait goes; the others are refused at once,
// and told to come back when it is over.
func TestACrowdIsLetIn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane("light", 2, 2*time.Second, busyWorkers, newMeter())
		const crowd, hold = 200, 20 * time.Millisecond
		start := time.Now()
		fared := queued(t.Context(), l, crowd, hold, false)
		_, err := l.take(t.Context(), hold, false)
		var busy *BusyError
		if !errors.As(err, &busy) || busy.RetryAfter != 2*time.Second || time.Since(start) > 0 {
			t.Errorf("%v after %v, want busy at once, for the time that the queue lasts", err, time.Since(start))
		}
		// A second's worth for each worker; one more each as a place is held.
		if n := crowd - refusals(t, fared, crowd); n < 98 || n > 104 {
			t.Errorf("%d were let in, want a second's worth of two workers", n)
		}
	})
}

// A queue that stands is kept short, but not so short that a worker has nothing to do.
func TestAQueueThatStandsIsKeptShort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const hold = 20 * time.Millisecond
		l := newLane("light", 1, 2*time.Second, busyWorkers, newMeter())
		var mu sync.Mutex
		var longest time.Duration
		served := 0
		start := time.Now()
		for time.Since(start) < 10*time.Second { // two come where one is served
			go func() {
				came := time.Now()
				p, err := l.take(t.Context(), hold, false)
				if err != nil {
					return
				}
				waited := time.Since(came)
				time.Sleep(hold)
				p.leave()
				mu.Lock()
				defer mu.Unlock()
				served++
				if came.Sub(start) > 5*time.Second {
					longest = max(longest, waited)
				}
			}()
			time.Sleep(hold / 2)
		}
		synctest.Wait()
		mu.Lock()
		if longest > 120*time.Millisecond {
			t.Errorf("waited %v while the queue stood", longest)
		}
		if served < 498 {
			t.Errorf("served %d in the time for 500", served)
		}
		mu.Unlock()
		time.Sleep(time.Minute)
	})
}

// Whoever has begun is let in whatever the queue, and goes first.
func TestThoseWhoHaveBegunGoFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane("light", 1, 2*time.Second, busyWorkers, newMeter())
		const hold = 100 * time.Millisecond
		fresh := queued(t.Context(), l, 5, hold, false)
		start := time.Now()
		begun := queued(t.Context(), l, 20, hold, true)
		if n := refusals(t, begun, 20); n > 0 {
			t.Errorf("%d of those who had begun were refused", n)
		}
		if took := time.Since(start); took > 2200*time.Millisecond {
			t.Errorf("they were done after %v, want 20 and one before them", took)
		}
		refusals(t, fresh, 5)
	})
}

// Who can't wait as long as the queue is foreseen to last is refused at once.
func TestADeadlineThatIsTooNear(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane("heavy", 1, 2*time.Second, busyWorkers, newMeter())
		p, err := l.take(t.Context(), time.Second, false)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 900*time.Millisecond)
		defer cancel()
		start := time.Now()
		if _, err := l.take(ctx, time.Second, false); !isBusy(err) || time.Since(start) > 0 {
			t.Errorf("%v after %v", err, time.Since(start))
		}
		p.expect(500 * time.Millisecond)
		waits := queued(ctx, l, 1, time.Millisecond, false)
		p.leave()
		if err := <-waits; err != nil {
			t.Errorf("%v where the work is foreseen to end in time", err)
		}
	})
}

// Whoever leaves the queue makes room, and no place is lost.
func TestLeavingTheQueue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane("light", 1, time.Second, busyWorkers, newMeter())
		p, err := l.take(t.Context(), time.Hour, true)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		gone := queued(ctx, l, 3, 0, true)
		cancel()
		for range 3 {
			if err := <-gone; !errors.Is(err, context.Canceled) {
				t.Error(err)
			}
		}
		if l.waiting() > 0 {
			t.Errorf("%d still wait", l.waiting())
		}
		p.leave()
		if n := l.free(); n != 1 {
			t.Errorf("%d places are free", n)
		}
	})
}

// What a request does after it has begun is foreseen with those who come new.
func TestWorkThatHasBegunIsForeseen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane("light", 1, 2*time.Second, busyWorkers, newMeter())
		for range 200 { // each request takes one place, then two more as one who has begun
			for _, begun := range []bool{false, true, true} {
				p, err := l.take(t.Context(), 0, begun)
				if err != nil {
					t.Fatal(err)
				}
				time.Sleep(10 * time.Millisecond)
				p.leave()
			}
		}
		if mean := l.mean(); mean < 27*time.Millisecond || mean > 33*time.Millisecond {
			t.Errorf("%v of work foreseen for each, want 30 ms", mean)
		}
	})
}

// A small request's body says nothing about how long it takes: what others took does.
func TestSmallBodiesAreForeseenAsTheyTook(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := &Engine{admit: newAdmission(1, 2*time.Second, newMeter())}
		for range 200 {
			ctx, err := e.Begin(t.Context(), 250)
			if err != nil {
				t.Fatal(err)
			}
			time.Sleep(50 * time.Millisecond)
			Finish(ctx)
		}
		for range 100 {
			go func() {
				if ctx, err := e.Begin(t.Context(), 250); err == nil {
					time.Sleep(50 * time.Millisecond)
					Finish(ctx)
				}
			}()
		}
		synctest.Wait()
		e.admit.light.mu.Lock()
		if n := e.admit.light.waiting(); n < 15 || n > 25 {
			t.Errorf("%d wait, want a second's worth of 20", n)
		}
		e.admit.light.mu.Unlock()
		time.Sleep(time.Minute)
	})
}

// A computation goes on with the worker of whoever started it: nobody who comes new gets in
// between.
func TestAComputationKeepsTheWorkerOfItsRequest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := &Engine{admit: newAdmission(1, 2*time.Second, newMeter())}
		var f flights[int]
		var mu sync.Mutex
		var order []string
		note := func(what string) {
			mu.Lock()
			defer mu.Unlock()
			order = append(order, what)
		}
		ask := func(name, key string) {
			ctx, err := e.Begin(t.Context(), 0)
			if err != nil {
				t.Error(err)
				return
			}
			defer Finish(ctx)
			note(name + " begins")
			_, err = f.shared(ctx, key, func(ctx context.Context) (int, error) {
				_, leave, err := e.admit.enter(ctx, 1000)
				if err != nil {
					return 0, err
				}
				defer leave()
				note(name + " computes")
				time.Sleep(time.Second / 2)
				return 0, nil
			})
			if err != nil || laneOf(ctx) != e.admit.light {
				t.Errorf("%s: %v, on a worker: %v", name, err, laneOf(ctx) != nil)
			}
			note(name + " ends")
		}
		for _, each := range [][2]string{{"a", "1"}, {"b", "2"}, {"c", "3"}} {
			go ask(each[0], each[1])
			synctest.Wait()
		}
		time.Sleep(time.Minute)
		mu.Lock()
		defer mu.Unlock()
		if !e.admit.light.idle() {
			t.Error("a worker was lost")
		}
		if len(order) < 2 || order[1] != "a computes" {
			t.Errorf("%q", order)
		}
	})
}
