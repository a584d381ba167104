// Package quota says how much a caller may ask in a minute and in a day. Replicas count
// together in Redis; where that is away each counts on its own, so that nobody is refused for
// its sake.
package quota

import "time"

// MostCost is the most units that one call costs. A quota holds at least so many, else such a
// call could never be made.
const MostCost = 10

// MostUnits is the largest quota. A number of Redis' scripts is exact far beyond it.
const MostUnits = 1_000_000_000

// Limits are the quotas of a caller, in units of cost; 0 for none.
type Limits struct{ PerMinute, PerDay int64 }

// The names of the windows as callers see them.
const (
	Minute = "minute"
	Day    = "day"
)

// window is a stretch of time in which a quota holds. It starts with the first call after the
// one before it ended: so those of different callers end at different times.
type window struct {
	name   string
	length time.Duration
	quota  int64
}

// windows lists those that have a quota, the shortest first.
func (l Limits) windows() []window {
	var w []window
	if l.PerMinute > 0 {
		w = append(w, window{Minute, time.Minute, l.PerMinute})
	}
	if l.PerDay > 0 {
		w = append(w, window{Day, 24 * time.Hour, l.PerDay})
	}
	return w
}

// Verdict says whether a call is within its caller's quotas, and what is left of them.
type Verdict struct {
	// Windows are those that have a quota, the shortest first; none where nothing is limited.
	Windows []Window
	// Refused is the index of the window whose quota the call would exceed, the longest of
	// several; -1 where there is none.
	Refused int
}

// Window is what is left of a quota.
type Window struct {
	// Name is Minute or Day.
	Name string
	// Length is how long the window is, Reset how long until it ends and the quota is whole
	// again, from 0 to Length.
	Length, Reset time.Duration
	// Quota is the units that the window holds, Remaining those that are left.
	Quota, Remaining int64
}

// verdict is made of what was used of each window before a call that costs so much.
func verdict(windows []window, used []tally, cost int64) Verdict {
	v := Verdict{Refused: refusedBy(windows, used, cost)}
	for i, w := range windows {
		spent := used[i].units
		if v.Refused < 0 {
			spent += cost
		}
		v.Windows = append(v.Windows, Window{
			Name: w.name, Length: w.length, Reset: min(max(used[i].left, 0), w.length),
			Quota: w.quota, Remaining: max(w.quota-spent, 0),
		})
	}
	return v
}

// tally is what was used of a window before a call, and how long the window still goes on.
type tally struct {
	units int64
	left  time.Duration
}

// refusedBy is the index of the longest window that a call would exceed, -1 for none.
func refusedBy(windows []window, used []tally, cost int64) int {
	refused := -1
	for i, w := range windows {
		if used[i].units+cost > w.quota {
			refused = i
		}
	}
	return refused
}
