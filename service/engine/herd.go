package engine

import (
	"context"
	"sync"
)

// herd lets those who send what is being answered already wait for that answer, instead of
// queueing for workers that they don't need.
type herd struct {
	mu      sync.Mutex
	leaders map[string]*leader
}

// leader is the first who asks something.
type leader struct {
	// done is closed once the leader is answered or has left, which left tells.
	done chan struct{}
	left bool
}

// AwaitSame waits while a request with the same digest is being answered. It returns nil for
// those who waited, whose answer Recall then has, unless it came to none. Whoever comes first
// doesn't wait, nor does one of those who waited for somebody who left: they must call the
// returned function once they are answered, or have left, themselves. It fails with the
// context's error.
func (e *Engine) AwaitSame(ctx context.Context, request string) (answered func(left bool), err error) {
	for {
		first, l := e.herd.follow(request)
		if first {
			return func(left bool) { e.herd.end(request, l, left) }, nil
		}
		select {
		case <-l.done:
			if !l.left {
				return nil, nil //nolint:nilnil // there is nothing to call
			}
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// follow returns whom to wait for, or makes the caller the first.
func (h *herd) follow(request string) (first bool, l *leader) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if l, ok := h.leaders[request]; ok {
		return false, l
	}
	if h.leaders == nil {
		h.leaders = map[string]*leader{}
	}
	l = &leader{done: make(chan struct{})}
	h.leaders[request] = l
	return true, l
}

// end lets those go on who wait for a leader.
func (h *herd) end(request string, l *leader, left bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.leaders, request)
	l.left = left
	close(l.done)
}
