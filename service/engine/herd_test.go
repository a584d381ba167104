package engine

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
)

// Those who come while the same is being answered wait until it is, or until they leave; who
// asks something else, or comes later, doesn't.
func TestAwaitSame(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := &Engine{}
		answered, err := e.AwaitSame(t.Context(), "a")
		if err != nil || answered == nil {
			t.Fatal("the first has to wait")
		}
		gone, leave := context.WithCancel(t.Context())
		followed, left := make(chan bool, 3), make(chan error, 1)
		for range 3 {
			go func() {
				lead, err := e.AwaitSame(t.Context(), "a")
				followed <- lead == nil && err == nil
			}()
		}
		go func() {
			_, err := e.AwaitSame(gone, "a")
			left <- err
		}()
		synctest.Wait()
		if len(followed) > 0 {
			t.Error("one didn't wait")
		}
		if other, _ := e.AwaitSame(t.Context(), "b"); other == nil {
			t.Error("waits for another")
		}
		leave()
		if err := <-left; !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		answered(false)
		for range 3 {
			if !<-followed {
				t.Error("one of those who waited is taken for the first")
			}
		}
		if again, _ := e.AwaitSame(t.Context(), "a"); again == nil {
			t.Error("waits for what was answered")
		}
	})
}

// Where the first leaves, one of those who wait takes their place, and the others wait on.
func TestAwaitSameAfterOneWhoLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := &Engine{}
		answered, err := e.AwaitSame(t.Context(), "a")
		if err != nil {
			t.Fatal(err)
		}
		led := make(chan func(bool), 5)
		for range 5 {
			go func() {
				answered, err := e.AwaitSame(t.Context(), "a")
				if err != nil {
					t.Error(err)
				}
				led <- answered
			}()
		}
		synctest.Wait()
		answered(true)
		synctest.Wait()
		if len(led) != 1 {
			t.Fatalf("%d go on after the first left", len(led))
		}
		next := <-led
		if next == nil {
			t.Fatal("nobody took the place of the one who left")
		}
		next(false)
		synctest.Wait()
		for range 4 {
			if <-led != nil {
				t.Error("one who waited for an answer is taken for the first")
			}
		}
	})
}
