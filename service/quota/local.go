package quota

import (
	"sync"
	"time"
)

// mostCallers bounds the memory of local, at about 100 bytes each.
const mostCallers = 100_000

// local counts in this process.
type local struct {
	mu   sync.Mutex
	open map[place]opened
	now  func() time.Time
}

// place is a window of a caller; opened, what was used of it and when it ends.
type place struct{ caller, window string }

type opened struct {
	units int64
	ends  time.Time
}

func newLocal(now func() time.Time) *local { return &local{open: map[place]opened{}, now: now} }

// take counts a call against all windows, or against none where one would be exceeded.
func (l *local) take(caller string, windows []window, cost int64) Verdict {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	used := make([]tally, len(windows))
	for i, w := range windows {
		used[i] = tally{left: w.length}
		if o := l.open[place{caller, w.name}]; now.Before(o.ends) {
			used[i] = tally{o.units, o.ends.Sub(now)}
		}
	}
	v := verdict(windows, used, cost)
	if v.Refused < 0 {
		l.makeRoom(now)
		for i, w := range windows {
			l.open[place{caller, w.name}] = opened{used[i].units + cost, now.Add(used[i].left)}
		}
	}
	return v
}

// makeRoom forgets the windows that have ended where there are many, and where that isn't
// enough all of them: too lenient for a moment is better than without bound.
func (l *local) makeRoom(now time.Time) {
	if len(l.open) < mostCallers {
		return
	}
	for p, o := range l.open {
		if !now.Before(o.ends) {
			delete(l.open, p)
		}
	}
	if len(l.open) >= mostCallers {
		clear(l.open)
	}
}
