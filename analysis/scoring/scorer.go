package scoring

import (
	"cmp"
	"math"
	"slices"
)

// Scorer scores runs of a race. It is made with NewScorer and used by one goroutine at a
// time.
type Scorer struct {
	scores []score
	best   int
	// team is the team of each entrant, negative for none.
	team []int
	// results are those of the score at hand, counted how many of each team have counted
	// in it.
	results []result
	counted []int
}

// result is the time in s by which an entrant is placed in a score.
type result struct {
	timeS   float64
	entrant int
}

// NewScorer returns the scorer of a contest in a race with a number of lines, the last of
// which is the finish. Each entrant has the number of a team, 0 the first, negative for none
// (see Teams). Errors are *Error.
func NewScorer(c Contest, teams []int, lines int) (*Scorer, error) {
	last := noTeam
	for _, team := range teams {
		last = max(last, team)
	}
	s := &Scorer{
		best: c.Best, team: teams,
		scores:  make([]score, 0, len(c.Scores)),
		results: make([]result, 0, len(teams)),
		counted: make([]int, last+1),
	}
	for i, asked := range c.Scores {
		resolved, err := newScore(asked, lines)
		if err != nil {
			err.Score = i
			return nil, err
		}
		s.scores = append(s.scores, resolved)
	}
	return s, nil
}

// Points writes the points that each entrant and each team wins in a run. The time in s at
// which entrant i of n crossed line l is crossingS[l·n + i], NaN for never. Every entrant
// and every team has its place in ofEntrants and ofTeams. It allocates nothing.
func (s *Scorer) Points(crossingS, ofEntrants, ofTeams []float64) {
	clear(ofEntrants)
	clear(ofTeams)
	for i := range s.scores {
		s.place(&s.scores[i], crossingS)
		s.award(&s.scores[i], ofEntrants, ofTeams)
	}
}

// place puts the entrants who may win points in a score in its order.
func (s *Scorer) place(of *score, crossingS []float64) {
	s.results = s.results[:0]
	n := len(s.team)
	for i, t := range crossingS[of.line*n : (of.line+1)*n] {
		if of.from != noLine {
			t -= crossingS[of.from*n+i]
		}
		if !math.IsNaN(t) {
			s.enter(result{t, i}, len(of.points))
		}
	}
}

// enter puts a result among the others unless it is behind all places that have points and
// not level with the last of them.
func (s *Scorer) enter(r result, places int) {
	if len(s.results) >= places && (places == 0 || r.timeS-s.results[places-1].timeS >= apartS) {
		return
	}
	at, _ := slices.BinarySearchFunc(s.results, r.timeS, func(e result, t float64) int { return cmp.Compare(e.timeS, t) })
	s.results = slices.Insert(s.results, at, r)
}

// apartS is the least difference in s that tells two places apart, less the rounding of
// times that are a thousandth apart.
const apartS = 0.001 - 1e-9

// award gives the points of a score to those who are placed.
func (s *Scorer) award(of *score, ofEntrants, ofTeams []float64) {
	clear(s.counted)
	for first := 0; first < min(len(s.results), len(of.points)); {
		next := first + 1
		for next < len(s.results) && s.results[next].timeS-s.results[first].timeS < apartS {
			next++
		}
		points := of.mean(first, next)
		for _, r := range s.results[first:next] {
			ofEntrants[r.entrant] += points
			if team := s.team[r.entrant]; team >= 0 && (s.best == 0 || s.counted[team] < s.best) {
				s.counted[team]++
				ofTeams[team] += points
			}
		}
		first = next
	}
}
