package engine

import (
	"context"
	"errors"
	"io"
	"strconv"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// numbered gives n rounds whose answers are their numbers, each made by work.
func numbered(n int, read *atomic.Int64, work func(ctx context.Context, i int) error) func(context.Context) (RoundTask, error) {
	return func(context.Context) (RoundTask, error) {
		i := int(read.Add(1)) - 1
		if i >= n {
			return RoundTask{}, io.EOF
		}
		id := strconv.Itoa(i)
		return RoundTask{RoundID: id, Question: Question{ID: id}, Work: func(ctx context.Context) (*Answer, error) {
			if err := work(ctx, i); err != nil {
				return nil, err
			}
			return &Answer{ID: id, Body: []byte(id)}, nil
		}}, nil
	}
}

func noProgress(int) {}

// Rounds are told in their order, however long each takes, and those that fail among them.
func TestRoundsAreToldInOrder(t *testing.T) {
	e := newEngine(t, Config{Workers: 4})
	fault, told := errors.New("a fault"), 0
	var read, released atomic.Int64
	next := numbered(50, &read, func(_ context.Context, i int) error {
		switch i % 7 {
		case 3:
			return fault
		case 5:
			panic("a fault of ours")
		}
		return nil
	})
	err := e.RunSeason(t.Context(), Season{
		Next: func(ctx context.Context) (RoundTask, error) {
			task, err := next(ctx)
			task.Release = func() { released.Add(1) }
			return task, err
		},
		Tell: func(r RoundTold) error {
			var caught *PanicError
			want := strconv.Itoa(told)
			if told%7 == 3 && !errors.Is(r.Err, fault) || told%7 == 5 && !errors.As(r.Err, &caught) || r.Err == nil && string(r.Answer.Body) != want || r.RoundID != want {
				t.Errorf("round %d: %+v", told, r)
			}
			told++
			return nil
		},
		Progress: noProgress,
	})
	if err != nil || told != 50 || released.Load() != 50 {
		t.Errorf("%v, %d told, %d released", err, told, released.Load())
	}
	if !e.admit.heavy.idle() {
		t.Error("a worker is kept")
	}
}

// No more rounds are read than are told, but for those that the workers need.
func TestRoundsAreReadAsTheyAreTold(t *testing.T) {
	e := newEngine(t, Config{Workers: 2})
	var read atomic.Int64
	told := int64(0)
	err := e.RunSeason(t.Context(), Season{
		Next: numbered(100, &read, func(context.Context, int) error { return nil }),
		Tell: func(RoundTold) error {
			told++
			time.Sleep(time.Millisecond) // for the reader to go too far
			if ahead := read.Load() - told; ahead > 3 {
				t.Errorf("%d read ahead", ahead)
			}
			return nil
		},
		Progress: noProgress,
	})
	if err != nil || told != 100 {
		t.Errorf("%v, %d told", err, told)
	}
}

// A season ends with its context, with what Next fails with once the rounds before are told, with
// what Tell fails with at once, and with a panic of Next.
func TestSeasonsEnd(t *testing.T) {
	e := newEngine(t, Config{Workers: 2})
	fault := errors.New("a fault")
	run := func(ctx context.Context, breaks int, broken func() error, tell func(told int) error) (told int, err error) {
		var read atomic.Int64
		next := numbered(20, &read, func(context.Context, int) error { return nil })
		err = e.RunSeason(ctx, Season{
			Next: func(ctx context.Context) (RoundTask, error) {
				if int(read.Load()) == breaks {
					return RoundTask{}, broken()
				}
				return next(ctx)
			},
			Tell:     func(RoundTold) error { told++; return tell(told) },
			Progress: noProgress,
		})
		return told, err
	}
	goesOn := func(int) error { return nil }
	if told, err := run(t.Context(), 7, func() error { return fault }, goesOn); told != 7 || !errors.Is(err, fault) {
		t.Errorf("a body that breaks off: %d told, %v", told, err)
	}
	var caught *PanicError
	if told, err := run(t.Context(), 7, func() error { panic("a fault of ours") }, goesOn); told != 7 || !errors.As(err, &caught) {
		t.Errorf("a panic: %d told, %v", told, err)
	}
	if told, err := run(t.Context(), -1, nil, func(told int) error { return map[int]error{4: fault}[told] }); told != 4 || !errors.Is(err, fault) {
		t.Errorf("a caller who takes nothing: %d told, %v", told, err)
	}
	ctx, leave := context.WithCancel(t.Context())
	if told, err := run(ctx, -1, nil, func(told int) error {
		if told == 5 {
			leave()
		}
		return nil
	}); told > 6 || !errors.Is(err, context.Canceled) {
		t.Errorf("a caller who leaves: %d told, %v", told, err)
	}
	if !e.admit.heavy.idle() {
		t.Error("a worker is kept")
	}
}

// A season and other heavy work take turns: each newcomer waits for a round at most, and the
// season for a newcomer at most.
func TestSeasonsTakeTurnsWithOthers(t *testing.T) { synctest.Test(t, seasonsTakeTurnsWithOthers) }

func seasonsTakeTurnsWithOthers(t *testing.T) {
	const each = 100 * time.Millisecond
	a := newAdmission(1, 2*time.Second, newMeter())
	var order []string
	work := func(name string, enter func() (context.Context, func(), error)) {
		_, leave, err := enter()
		if err != nil {
			t.Error(err)
			return
		}
		order = append(order, name)
		time.Sleep(each)
		leave()
	}
	done := make(chan bool)
	go func() {
		defer close(done)
		for range 4 {
			work("round", func() (context.Context, func(), error) { return a.enterAgain(context.Background()) })
		}
	}()
	time.Sleep(each / 2)
	newcomers := make(chan bool)
	go func() {
		defer close(newcomers)
		for range 2 {
			go work("other", func() (context.Context, func(), error) { return a.enter(context.Background(), 2*lightSteps) })
			time.Sleep(time.Millisecond)
		}
	}()
	<-newcomers
	<-done
	synctest.Wait()
	time.Sleep(time.Second)
	want := []string{"round", "other", "round", "other", "round", "round"}
	if len(order) != len(want) {
		t.Fatalf("%v", order)
	}
	for i := range want {
		if order[i] != want[i] {
			t.Fatalf("%v, want %v", order, want)
		}
	}
}
