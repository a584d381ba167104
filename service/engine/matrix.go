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
	run := func(goesOn func() (bool, error)) error {
		_, err := guard(func() (struct{}, error) {
			for {
				if on, err := goesOn(); !on || err != nil {
					return struct{}{}, err
				}
				i := next.Add(1) - 1
				if i >= int64(n) {
					return struct{}{}, nil
				}
				if err := do(inner, int(i)); err != nil {
					return struct{}{}, err
				}
			}
		})
		return err
	}
	workers := helpFor(ctx)
	help := func() error {
		defer workers.dismiss()
		return run(func() (bool, error) { return workers.stays(), nil })
	}
	group.Go(func() error {
		return run(func() (bool, error) {
			if err := giveWay(ctx); err != nil {
				return false, err
			}
			for range workers.hire(n - 1 - int(next.Load())) {
				group.Go(help)
			}
			return true, nil
		})
	})
	return group.Wait()
}
