package tally

import (
	"iter"
	"math"
)

// never is the time of an entrant who doesn't cross.
const never = math.MaxInt64

// splitMs is how long after one another two cross who are in two groups: more than this
// (UCI protocol of time gaps: a split is more than 1 s).
const splitMs = 1000

// order is the order in which entrants cross a line.
type order struct {
	ms []int64 // when each crosses
	by []int   // entrants by time
}

func newOrder(n int) order {
	o := order{make([]int64, n), make([]int, n)}
	for i := range o.by {
		o.by[i] = i
	}
	return o
}

// sort orders the entrants by their crossings in seconds. It begins with the order that
// is there, which is often nearly that wanted: insertion is quickest then.
func (o *order) sort(crossings []float64) {
	for i, s := range crossings {
		o.ms[i] = never
		if !math.IsNaN(s) {
			o.ms[i] = thousandths(s)
		}
	}
	for k := 1; k < len(o.by); k++ {
		i := o.by[k]
		at := k
		for ; at > 0 && o.ms[o.by[at-1]] > o.ms[i]; at-- {
			o.by[at] = o.by[at-1]
		}
		o.by[at] = i
	}
}

// first returns the time of the first, never where nobody crosses.
func (o *order) first() int64 { return o.ms[o.by[0]] }

// ties yields the ranges of o.by whose entrants cross at the same time, in order, without
// those who never do.
func (o *order) ties() iter.Seq2[int, int] {
	return func(yield func(int, int) bool) {
		for first := 0; first < len(o.by) && o.ms[o.by[first]] != never; {
			end := first + 1
			for end < len(o.by) && o.ms[o.by[end]] == o.ms[o.by[first]] {
				end++
			}
			if !yield(first, end) {
				return
			}
			first = end
		}
	}
}

// together yields the ranges of o.by who cross as a group, in order.
func (o *order) together() iter.Seq2[int, int] {
	return func(yield func(int, int) bool) {
		for first := 0; first < len(o.by) && o.ms[o.by[first]] != never; {
			end := first + 1
			for end < len(o.by) && o.ms[o.by[end]] != never && o.ms[o.by[end]]-o.ms[o.by[end-1]] <= splitMs {
				end++
			}
			if !yield(first, end) {
				return
			}
			first = end
		}
	}
}

// groups returns how many are in the first group, and how many groups there are.
func (o *order) groups() (front, groups int) {
	for first, end := range o.together() {
		if first == 0 {
			front = end
		}
		groups++
	}
	return front, groups
}

// Groups returns the groups in which entrants cross a line at times in s, NaN for never:
// their indices in the order of crossing, by whole milliseconds, with no more than 1 s from
// one to the next. Who never crosses is in none.
func Groups(crossings []float64) [][]int {
	o := newOrder(len(crossings))
	o.sort(crossings)
	var groups [][]int
	for first, end := range o.together() {
		groups = append(groups, o.by[first:end])
	}
	return groups
}

// doubledPlaces sets twice the place of each entrant, the mean of those that are shared;
// who never crosses shares the places behind the last.
func (o *order) doubledPlaces(into []int64) {
	crossed := 0
	for first, end := range o.ties() {
		for _, i := range o.by[first:end] {
			into[i] = int64(first + 1 + end)
		}
		crossed = end
	}
	for _, i := range o.by[crossed:] {
		into[i] = int64(crossed + 1 + len(o.by))
	}
}
