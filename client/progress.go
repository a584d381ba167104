package client

import (
	"context"
	"io"
	"sync"
)

// progressKey is where a context keeps whom its calls tell how much of a request is sent.
type progressKey struct{}

// WithProgress returns a context whose calls tell how much of their request's body has been sent:
// bytes as they travel, compressed where they are, and how many there are, −1 where that isn't
// known beforehand. A request that is sent again begins again. Of one call, told is called in
// turn, from goroutines that aren't the caller's, and holds up the sending while it works; when
// all is sent, the answer is still to come.
func WithProgress(ctx context.Context, told func(sent, of int64)) context.Context {
	return context.WithValue(ctx, progressKey{}, told)
}

// meter tells how much of a call's body has been sent, of the attempt that is the latest.
type meter struct {
	told func(sent, of int64)
	of   int64

	mu     sync.Mutex
	latest *metered
}

// meterIn returns the meter of a call's body; nil where nobody is to be told.
func meterIn(ctx context.Context, body *payload) *meter {
	told, _ := ctx.Value(progressKey{}).(func(sent, of int64))
	if told == nil || body == nil {
		return nil
	}
	return &meter{told: told, of: body.length()}
}

// over returns a body whose reading is told of from now on, and that of no earlier one.
func (m *meter) over(body io.ReadCloser) io.ReadCloser {
	if m == nil {
		return body
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.latest = &metered{ReadCloser: body, meter: m}
	return m.latest
}

// metered is a body that tells how much of it has been read.
type metered struct {
	io.ReadCloser
	meter *meter
	sent  int64
}

// Read implements io.Reader.
func (b *metered) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	b.meter.mu.Lock()
	defer b.meter.mu.Unlock()
	b.sent += int64(n)
	if n > 0 && b == b.meter.latest {
		b.meter.told(b.sent, b.meter.of)
	}
	return n, err
}
