package engine

import (
	"context"
	"sync"
)

// herd lets those who send what is being answered already wait for that answer, instead of
// queueing for workers that they don't need.
type herd struct {
	mu sync.Mutex
	// leaders end when the first of a kind is answered.
	leaders map[string]chan struct{}
}

// AwaitSame waits while a request with the same digest is being answered. It returns nil for
// those who waited, whose answer Recall then has, unless it came to none. Whoever comes first
// doesn't wait, and must call the returned function once they are answered. It fails with the
// context's error.
func (e *Engine) AwaitSame(ctx context.Context, request string) (answered func(), err error) {
	h := &e.herd
	h.mu.Lock()
	leader, ok := h.leaders[request]
	if !ok {
		if h.leaders == nil {
			h.leaders = map[string]chan struct{}{}
		}
		leader = make(chan struct{})
		h.leaders[request] = leader
	}
	h.mu.Unlock()
	if !ok {
		return func() {
			h.mu.Lock()
			defer h.mu.Unlock()
			delete(h.leaders, request)
			close(leader)
		}, nil
	}
	select {
	case <-leader:
		return nil, nil //nolint:nilnil // there is nothing to call
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}
