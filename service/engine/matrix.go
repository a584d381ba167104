package engine

import (
	"context"
	"sync/atomic"

	"golang.org/x/sync/errgroup"
)

// each calls do for every index below n. The caller holds one worker, and ctx is the one it
// got with it; as many of the free ones of its lane as are useful help, and go where others
// wait for them. The first error ends the rest; do's results must go to places of their own,
// so that the order of the calls doesn't show. A panic of do is a *PanicError.
func (e *Engine) each(ctx context.Context, n int, do func(ctx context.Context, i int) error) error {
	var next atomic.Int64
	group, inner := errgroup.WithContext(ctx)
	run := func(goesOn func() bool) error {
		_, err := guard(func() (struct{}, error) {
			for goesOn() {
				i := next.Add(1) - 1
				if i >= int64(n) {
					break
				}
				if err := do(inner, int(i)); err != nil {
					return struct{}{}, err
				}
			}
			return struct{}{}, nil
		})
		return err
	}
	help := func() error {
		defer e.admit.dismiss(ctx)
		return run(func() bool { return e.admit.stays(ctx) })
	}
	group.Go(func() error {
		return run(func() bool {
			for range e.admit.hire(ctx, n-1-int(next.Load())) {
				group.Go(help)
			}
			return true
		})
	})
	return group.Wait()
}
