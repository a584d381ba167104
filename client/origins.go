package client

import (
	"container/list"
	"context"
	"errors"
	"sync"
)

// mostOriginBytes bounds what a client keeps to send again.
const mostOriginBytes = 64 << 20

// origins are the requests that made courses, by the courses' ids, so that a course that has
// left the service's memory can be made again. Those used least recently go first. It is safe
// for concurrent use.
type origins struct {
	mu    sync.Mutex
	by    map[string]*list.Element
	order *list.List // of origin, the most recent first
	bytes int
}

// origin is how a course was made.
type origin struct {
	id   string
	call call
	// from are the courses that it was assembled of.
	from []string
}

func newOrigins() *origins { return &origins{by: map[string]*list.Element{}, order: list.New()} }

// keep keeps how a course was made, where its body is at hand.
func (o *origins) keep(made origin) {
	if made.call.body.content == nil || len(made.call.body.content) > mostOriginBytes/2 {
		return
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	o.drop(o.by[made.id])
	o.by[made.id] = o.order.PushFront(made)
	o.bytes += len(made.call.body.content)
	for o.bytes > mostOriginBytes {
		o.drop(o.order.Back())
	}
}

func (o *origins) drop(e *list.Element) {
	if e == nil {
		return
	}
	gone, _ := o.order.Remove(e).(origin)
	o.bytes -= len(gone.call.body.content)
	delete(o.by, gone.id)
}

// of returns how a course was made.
func (o *origins) of(id string) (origin, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	e, ok := o.by[id]
	if !ok {
		return origin{}, false
	}
	o.order.MoveToFront(e)
	made, ok := e.Value.(origin)
	return made, ok
}

// withCourses makes a call about courses. Where one of them has left the service's memory and
// this client knows how it was made, it is made again, once.
func (c *Client) withCourses(ctx context.Context, ids []string, work func() error) error {
	err := work()
	if !errors.Is(err, CourseNotCached) {
		return err
	}
	again := false
	for _, id := range ids {
		made, known := c.courses.of(id)
		if !known {
			continue
		}
		if failed := c.withCourses(ctx, made.from, func() error { _, err := c.do(ctx, made.call); return err }); failed != nil {
			return failed
		}
		again = true
	}
	if !again {
		return err
	}
	return work()
}
