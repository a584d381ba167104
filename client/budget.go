package client

import "sync"

// What attempts cost. When nothing works, a client sends ten requests again and no more; each
// that works earns a tenth of one back. So a service that is down gets at most a tenth more
// requests than there are calls, once there have been a hundred.
const (
	budgetMost     = 10.0
	budgetPerRetry = 1.0
	budgetEarned   = 0.1
)

// budget is what a client may still send again. It is safe for concurrent use.
type budget struct {
	mu   sync.Mutex
	left float64
}

func newBudget() *budget { return &budget{left: budgetMost} }

// spend takes one attempt; false where none is left.
func (b *budget) spend() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.left < budgetPerRetry {
		return false
	}
	b.left -= budgetPerRetry
	return true
}

// earn takes note of a request that worked.
func (b *budget) earn() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.left = min(b.left+budgetEarned, budgetMost)
}
