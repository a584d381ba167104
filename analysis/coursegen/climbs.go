package coursegen

// The definition of a climb.
const (
	freeGradient = 0.02 // score = gain − freeGradient·length
	leastScoreM  = 8.0
	leastMean    = 0.03
)

// Climbs returns the climbs of a line by the stated definition, straight from it:
// of all stretches the one with the greatest score gain − 0.02·length is taken, then
// the same is done with what lies before and with what lies after it. (W. L. Ruzzo
// and M. Tompa, A linear time algorithm for finding all maximal scoring
// subsequences, 1999, give this definition, and a faster way that is not used here.)
// Those with a score of 8 m or more and a mean gradient of 3 % or more are climbs.
// They come in course order.
func Climbs(l Line) []Stretch {
	score := make([]float64, len(l.S))
	for i := range score {
		score[i] = l.Z[i] - float64(freeGradient*l.S[i])
	}
	return climbsWithin(l, score, 0, len(score)-1, nil)
}

// climbsWithin appends the climbs between two nodes.
func climbsWithin(l Line, score []float64, first, last int, climbs []Stretch) []Stretch {
	from, to := best(score, first, last)
	if score[to]-score[from] < leastScoreM {
		return climbs // and no part scores more
	}
	climbs = climbsWithin(l, score, first, from, climbs)
	s := Stretch{StartM: l.S[from], EndM: l.S[to], GainM: l.Z[to] - l.Z[from]}
	if s.GainM >= leastMean*(s.EndM-s.StartM) {
		climbs = append(climbs, s)
	}
	return climbsWithin(l, score, to, last, climbs)
}

// best returns the two nodes, in order, between which the score grows most.
func best(score []float64, first, last int) (from, to int) {
	from, to = first, first
	lowest := first
	for i := first; i <= last; i++ {
		if score[i] < score[lowest] {
			lowest = i
		}
		if score[i]-score[lowest] > score[to]-score[from] {
			from, to = lowest, i
		}
	}
	return from, to
}
