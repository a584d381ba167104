package engine

import (
	"errors"
	"io"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// largeClaim is the bytes from which a claim is large. Large claims together leave a quarter
// of the budget to the others, so that those who send large bodies, or pretend to, hold up
// each other and nobody who sends an ordinary file.
const largeClaim = 4 << 20

// Claim is what one request holds of the memory for what callers send.
type Claim struct {
	all   *atomic.Int64
	most  int64
	held  int64
	meter *meter
}

// Claim starts an empty claim. It must be released once what was read is no longer
// used, and is for one goroutine.
func (e *Engine) Claim() *Claim { return &Claim{all: &e.held, most: e.heldMost, meter: e.meter} }

// showHeld adds what claims hold, and the most of it, to the metrics.
func (e *Engine) showHeld(r prometheus.Registerer) error {
	if r == nil {
		return nil
	}
	held := prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "parcours_held_bytes", Help: "Memory of what callers have sent and is being answered, in bytes.",
	}, func() float64 { return float64(e.held.Load()) })
	most := prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "parcours_held_limit_bytes", Help: "Most memory of what callers have sent, in bytes; beyond it bodies are refused.",
	}, func() float64 { return float64(e.heldMost) })
	return errors.Join(r.Register(held), r.Register(most))
}

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
	most := c.most
	if c.held+n > largeClaim {
		most -= most / 4
	}
	if c.all.Add(n) > most {
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
		r.claim.meter.busy.WithLabelValues(busyMemory).Inc()
		return 0, &BusyError{RetryAfter: time.Second}
	}
	return n, err
}
