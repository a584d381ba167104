package engine

import (
	"context"
	"sync/atomic"

	"golang.org/x/sync/errgroup"
)

// each calls do for every index below n. The caller holds one worker, and ctx is the one it got with it; as many of
// the free ones of its lane as are useful help. The first error ends the rest; do's results
// must go to places of their own, so that the order of the calls doesn't show. A
// panic of do is a *PanicError.
func (e *Engine) each(ctx context.Context, n int, do func(ctx context.Context, i int) error) error {
	helpers, leave := e.admit.more(ctx, min(n, e.admit.size)-1)
	defer leave()
	var next atomic.Int64
	group, ctx := errgroup.WithContext(ctx)
	for range 1 + helpers {
		group.Go(func() error {
			_, err := guard(func() (struct{}, error) {
				for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
					if err := do(ctx, int(i)); err != nil {
						return struct{}{}, err
					}
				}
				return struct{}{}, nil
			})
			return err
		})
	}
	return group.Wait()
}
