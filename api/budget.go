package api

import (
	"errors"
	"io"
	"sync/atomic"
)

// maxHeldBytes bounds the bodies, as sent and as decoded, of all requests together
// that are being read or worked on. The contract's x-limits say it.
const maxHeldBytes = 256 << 20

// errBudgetSpent says that other requests hold too many bytes for this one.
var errBudgetSpent = errors.New("too many bytes are held")

// budget bounds the memory that bodies take.
type budget struct {
	limit int64
	held  atomic.Int64
}

// claim is what one request holds of the budget.
type claim struct {
	budget *budget
	held   int64
}

// grow takes n more bytes; false where they aren't there.
func (c *claim) grow(n int64) bool {
	if c.budget.held.Add(n) > c.budget.limit {
		c.budget.held.Add(-n)
		return false
	}
	c.held += n
	return true
}

// release gives everything back.
func (c *claim) release() {
	c.budget.held.Add(-c.held)
	c.held = 0
}

// reader claims the bytes that are read through it.
func (c *claim) reader(from io.Reader) io.Reader { return &claimingReader{from, c} }

type claimingReader struct {
	from  io.Reader
	claim *claim
}

// Read implements io.Reader.
func (r *claimingReader) Read(p []byte) (int, error) {
	n, err := r.from.Read(p)
	if !r.claim.grow(int64(n)) {
		return 0, errBudgetSpent
	}
	return n, err
}
