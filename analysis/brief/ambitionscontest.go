package brief

import (
	"fmt"

	"parcours.example/analysis/tally"
)

// contestLines tells the contests that are decided at a goal, and who is in front there.
func (w teller) contestLines(g goal) [][]said {
	if w.Race == nil {
		return nil
	}
	var lines [][]said
	for _, i := range g.contests {
		lines = append(lines, w.contest(i))
	}
	return lines
}

// contest says who is likely to win a contest for points.
func (w teller) contest(i int) []said {
	a := w.Race
	c, fact := a.Result.Contests[i], fmt.Sprintf("race.contest-%d", i+1)
	label := strong(capital(w.or(a.Contests[i].Name, "contest", "race.contest", i)))
	riders := scorers{fact + ".rider", c.Entrants, c.Favourite, w.raced}
	line := []said{{rankPoints, say("{}: {}.", label, w.scoring(riders))}}
	if len(c.Teams) > 0 && c.FavouriteTeam.Next >= 0 && c.Teams[c.FavouriteTeam.Best].Win.P > 0 {
		teams := scorers{fact + ".team", c.Teams, c.FavouriteTeam, func(k int) phrase { return w.or(a.Teams[k], "team", "race.team", k) }}
		line = append(line, said{rankTeamPoints, say("Of the teams {}.", w.scoring(teams))})
	}
	return line
}

// scorers are riders or teams with what they score in a contest.
type scorers struct {
	fact      string
	points    []tally.Points
	favourite tally.Margin
	name      func(i int) phrase
}

// scoring says who scores most and how sure that is.
func (w teller) scoring(s scorers) phrase {
	m := s.favourite
	if m.Best < 0 || s.points[m.Best].Win.P == 0 {
		return say("nobody scores in any of {} runs", w.runCount())
	}
	best := s.points[m.Best].Win
	switch {
	case m.Next < 0 || s.points[m.Next].Win.P == 0:
		return say("nobody but {} wins it, {}", s.name(m.Best), w.scored(s, m.Best))
	case m.Told && best.P >= certainShare:
		return say("{} is all but sure of it, {}", s.name(m.Best), w.scored(s, m.Best))
	case m.Told:
		return say("{} is the likeliest to win it, {}, before {}, {}", s.name(m.Best), w.scored(s, m.Best), s.name(m.Next), w.scored(s, m.Next))
	}
	return say("open between {}, {}, and {}, {}", s.name(m.Best), w.scored(s, m.Best), s.name(m.Next), w.scored(s, m.Next))
}

// scored writes the odds to win a contest and the mean of the points.
func (w teller) scored(s scorers, i int) phrase {
	fact := fmt.Sprintf("%s-%d", s.fact, i+1)
	return say("{} with {} points on average", w.odds(fact+".win", s.points[i].Win), w.mean(fact+".points", s.points[i].Points.Mean))
}
