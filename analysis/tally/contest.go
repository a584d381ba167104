package tally

import "parcours.example/analysis/scoring"

// contest counts the points of a contest.
type contest struct {
	scorer          *scoring.Scorer
	entrants, teams scores
}

// scores are the points of some who compete.
type scores struct {
	points []moments
	wins   []int64   // in units of whole
	now    []float64 // work space: a run's points
}

func newScores(n int) scores { return scores{make([]moments, n), make([]int64, n), make([]float64, n)} }

// newContest returns a contest of entrants with teams, −1 for none.
func newContest(c scoring.Contest, of []int, lines int) (contest, error) {
	scorer, err := scoring.NewScorer(c, of, lines)
	return contest{scorer, newScores(len(of)), newScores(teams(of))}, err
}

func (c *contest) add(crossingS []float64) {
	c.scorer.Points(crossingS, c.entrants.now, c.teams.now)
	c.entrants.add()
	c.teams.add()
}

// add counts the points of a run. Who has most wins it, if that is more than none; equal
// points to a thousandth share the win.
func (s *scores) add() {
	most, winners := int64(0), int64(0)
	for i, p := range s.now {
		q := thousandths(p)
		s.points[i].addThousandths(q)
		switch {
		case q > most:
			most, winners = q, 1
		case q == most && q > 0:
			winners++
		}
	}
	for i, p := range s.now {
		if winners > 0 && thousandths(p) == most {
			s.wins[i] += whole / winners
		}
	}
}

func (s *scores) merge(other *scores) {
	for i := range s.points {
		s.points[i].merge(other.points[i])
	}
	addAll(s.wins, other.wins)
}

// result returns what the points come to, and who wins most often; of equals, who has
// more points.
func (s *scores) result(runs int) ([]Points, Margin) {
	out := make([]Points, len(s.points))
	wins, behind := make([]Odds, len(out)), make([]Mean, len(out))
	for i := range out {
		out[i] = Points{s.points[i].mean(), oddsOf(s.wins[i], runs)}
		wins[i], behind[i] = out[i].Win, Mean{Mean: -out[i].Points.Mean}
	}
	return out, marginOf(wins, behind)
}

func (c *contest) result(runs int) (r Contest) {
	r.Entrants, r.Favourite = c.entrants.result(runs)
	r.Teams, r.FavouriteTeam = c.teams.result(runs)
	return r
}
