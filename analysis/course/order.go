package course

import (
	"math"

	"parcours.example/analysis/geodesy"
)

const (
	// A leap is a step of leapM and of leapMedians medians; so many are looked at.
	leapM       = 200.0
	leapMedians = 20.0
	mostLeaps   = 50
	// fitMedians is how many medians of the step two ends of a block may be apart.
	fitMedians = 5.0
	// placeM is the room in which a line of placeDetour times its length gets nowhere.
	placeM      = 40.0
	placeDetour = 3.0
)

// tellOrder warns of a block of points that would fit in elsewhere: the line leaps to
// it from a place where another leap starts from, and it ends where that one leads.
func (l *line) tellOrder(q *Quality) {
	leap := max(leapM, leapMedians*q.MedianStepM)
	var leaps []int // the points after a leap
	for i := 1; i < len(l.pos) && len(leaps) < mostLeaps; i++ {
		if l.s[i]-l.s[i-1] >= leap {
			leaps = append(leaps, i)
		}
	}
	near := func(i, j int) bool {
		return i >= 0 && j < len(l.pos) && geodesy.Chord(l.pos[i], l.pos[j]) <= fitMedians*q.MedianStepM
	}
	for a := range leaps {
		for b := 0; b+1 < len(leaps); b++ { // the block from leap b to leap b+1
			if a != b && near(leaps[a]-1, leaps[b]) && near(leaps[b+1]-1, leaps[a]) {
				q.warn("points-out-of-order", l.s[leaps[b]-1], "the line leaps %.0f m away to points that belong elsewhere: the points seem to be in the wrong order",
					l.s[leaps[b]]-l.s[leaps[b]-1])
				return
			}
		}
	}
}

// tellPlace warns of a line that stays in one place.
func (l *line) tellPlace(q *Quality) {
	far := 0.0
	for _, p := range l.pos {
		if far = max(far, geodesy.Chord(l.pos[0], p)); far > placeM {
			return
		}
	}
	if q.PointsRead >= minSmoothed && q.DistanceAsReadM > placeDetour*far {
		q.warn("one-place", math.NaN(), "all %d points lie within %.0f m of the first: this was recorded while standing, or the course is missing", q.PointsRead, far)
	}
}
