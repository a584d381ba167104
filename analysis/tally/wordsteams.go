package tally

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/wording"
)

// contest says who wins a contest for points.
func (w words) contest(i int) string {
	c, name := w.Contests[i], w.names.Contests[i]
	text := standing(name, c.Favourite, c.Entrants, w.names.Entrants)
	if c.FavouriteTeam.Next >= 0 {
		text = joined([]string{text, standing(name+" by teams", c.FavouriteTeam, c.Teams, w.names.Teams)})
	}
	return text
}

// standing says who wins a contest most often, and against whom.
func standing(contest string, m Margin, points []Points, names []string) string {
	scored := func(i int) string {
		return within(number(points[i].Points.Mean)+" points on average", points[i].Points.SE)
	}
	switch {
	case m.Best < 0 || points[m.Best].Win.P == 0:
		return fmt.Sprintf("%s: nobody scores.", contest)
	case m.Next < 0 || points[m.Next].Win.P == 0:
		return fmt.Sprintf("%s: %s wins %s with %s, nobody else any.", contest, names[m.Best], share(points[m.Best].Win.P), scored(m.Best))
	}
	text := fmt.Sprintf("%s wins %s with %s, %s %s with %s",
		names[m.Best], share(points[m.Best].Win.P), scored(m.Best), names[m.Next], wording.Chance(points[m.Next].Win.P), scored(m.Next))
	if m.Told {
		return fmt.Sprintf("%s: %s.", contest, text)
	}
	return fmt.Sprintf("%s is open: %s.", contest, text)
}

// counting says where it counts to be in front.
func (w words) counting() string {
	switch {
	case w.Key >= 0:
		l := w.Lines[w.Key]
		return fmt.Sprintf("To be in front counts most at %s: the first group there has %s of %d on average, and the winner in %s.",
			w.names.Lines[w.Key], number(l.Front.Mean), len(w.Entrants), sharing(l.WinnerInFront))
	case len(w.Lines) > 1:
		return "At no line before the finish is the winner in the first group clearly more often than others."
	}
	return ""
}

// riding says which contenders to protect, and until where.
func (w words) riding() string {
	if w.Key < 0 {
		return ""
	}
	line := w.names.Lines[w.Key]
	var safe, said []string
	for _, i := range w.contenders() {
		at := w.Lines[w.Key].Entrants[i]
		switch {
		case at.InFront.P < certain:
			said = append(said, w.protecting(i, at, line))
		case len(safe) == 0:
			safe = append(safe, fmt.Sprintf("%s is there in %s", w.name(i), share(at.InFront.P)))
		default:
			safe = append(safe, fmt.Sprintf("%s in %s", w.name(i), share(at.InFront.P)))
		}
	}
	if len(safe) > 0 {
		said = append(said, fmt.Sprintf("%s as it is: help is worth more after %s.", wording.List(safe...), line))
	}
	return joined(said)
}

// protecting says whether to help somebody to be in front at a line.
func (w words) protecting(i int, at AtLine, line string) string {
	name, ahead, behind := w.name(i), at.WinFromFront, at.WinFromBehind
	there := fmt.Sprintf("%s is there in %s", name, share(at.InFront.P))
	if ahead.N < leastRuns || behind.N < leastRuns {
		return fmt.Sprintf("%s, too few, or too few others, to tell what it is worth.", there)
	}
	there += fmt.Sprintf(", and wins %s of those and %s of the others", wording.Chance(ahead.P), wording.Chance(behind.P))
	if told(ahead.P-behind.P, math.Sqrt(float64(ahead.SE*ahead.SE)+float64(behind.SE*behind.SE))) {
		return fmt.Sprintf("%s: protect %s until %s.", there, name, line)
	}
	return there + ", which is no difference beyond chance."
}

// team says how the likeliest team does, and for whom it rides.
func (w words) team() string {
	m := w.FavouriteTeam
	if m.Next < 0 || w.TeamWins[m.Best].P == 0 {
		return ""
	}
	best := fmt.Sprintf("%s wins %s", w.names.Teams[m.Best], share(w.TeamWins[m.Best].P))
	next := fmt.Sprintf("%s %s", w.names.Teams[m.Next], wording.Chance(w.TeamWins[m.Next].P))
	text := fmt.Sprintf("Of the teams %s and %s, which is no difference beyond chance", best, next)
	if m.Told {
		text = fmt.Sprintf("Of the teams %s, more than any other (%s)", best, next)
	}
	return text + w.leader(m.Best) + "."
}

// leader says who of a team is likeliest to win, where it has two or more.
func (w words) leader(team int) string {
	var members []int
	for i, e := range w.Entrants {
		if e.Team == team {
			members = append(members, i)
		}
	}
	if len(members) < 2 {
		return ""
	}
	slices.SortStableFunc(members, func(i, j int) int { return cmp.Compare(w.Entrants[j].Win.P, w.Entrants[i].Win.P) })
	first, second := w.Entrants[members[0]].Win, w.Entrants[members[1]].Win
	odds := fmt.Sprintf("%s to %s", wording.Chance(first.P), wording.Chance(second.P))
	if likelier(first, second) {
		return fmt.Sprintf("; its leader is %s rather than %s (%s)", w.name(members[0]), w.name(members[1]), odds)
	}
	return fmt.Sprintf("; whether %s or %s should lead it can't be told (%s)", w.name(members[0]), w.name(members[1]), odds)
}
