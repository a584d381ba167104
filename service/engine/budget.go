package engine

import (
	"io"
	"sync/atomic"
	"time"
)

// DefaultHeldBytes is the budget of Config.HeldBytes.
const DefaultHeldBytes = 256 << 20

// Claim is what one request holds of the memory for what callers send.
type Claim struct {
	all  *atomic.Int64
	most int64
	held int64
}

// Claim starts an empty claim. It must be released once what was read is no longer
// used, and is for one goroutine.
func (e *Engine) Claim() *Claim { return &Claim{all: &e.held, most: e.heldMost} }

// Reader claims the bytes that are read through it. Where other claims leave too few,
// reading fails with a *BusyError.
func (c *Claim) Reader(from io.Reader) io.Reader { return &claimingReader{from, c} }

// Release gives everything back.
func (c *Claim) Release() {
	c.all.Add(-c.held)
	c.held = 0
}

// grow takes n more bytes; false where they aren't there.
func (c *Claim) grow(n int64) bool {
	if c.all.Add(n) > c.most {
		c.all.Add(-n)
		return false
	}
	c.held += n
	return true
}

type claimingReader struct {
	from  io.Reader
	claim *Claim
}

// Read implements io.Reader.
func (r *claimingReader) Read(p []byte) (int, error) {
	n, err := r.from.Read(p)
	if !r.claim.grow(int64(n)) {
		return 0, &BusyError{RetryAfter: time.Second}
	}
	return n, err
}
