package engine

import (
	"context"
	"errors"
	"testing"
)

func TestEachDoesAll(t *testing.T) {
	for _, workers := range []int{1, 2, 8} {
		e := newEngine(t, Config{Workers: workers})
		working, leave, err := e.admit.enter(t.Context(), 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []int{0, 1, 2, 7, 100} {
			done := make([]int, n)
			if err := e.each(working, n, func(_ context.Context, i int) error { done[i]++; return nil }); err != nil {
				t.Fatal(err)
			}
			for i, times := range done {
				if times != 1 {
					t.Errorf("%d workers: %d of %d done %d times", workers, i, n, times)
				}
			}
		}
		leave()
		if !e.admit.light.idle() {
			t.Errorf("%d workers: not all were given back", workers)
		}
	}
}

func TestEachEndsOnTheFirstError(t *testing.T) {
	e := newEngine(t, Config{Workers: 4})
	fault := errors.New("a fault")
	err := e.each(entered(t, e), 100, func(ctx context.Context, i int) error {
		if i == 0 {
			return fault
		}
		<-ctx.Done() // the others wait for it
		return ctx.Err()
	})
	if !errors.Is(err, fault) {
		t.Errorf("%v, want %v", err, fault)
	}
}

func TestEachCatchesAPanic(t *testing.T) {
	e := newEngine(t, Config{Workers: 4})
	err := e.each(entered(t, e), 10, func(_ context.Context, i int) error {
		if i == 3 {
			panic("a fault of ours")
		}
		return nil
	})
	var caught *PanicError
	if !errors.As(err, &caught) {
		t.Errorf("%v, want the panic", err)
	}
}

// entered is the context of a computation that has a worker until the test's end.
func entered(t *testing.T, e *Engine) context.Context {
	t.Helper()
	working, leave, err := e.admit.enter(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(leave)
	return working
}
