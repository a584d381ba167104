package tally

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/wording"
)

// Names are what a recommendation calls things; each slice is in the order of the Plan.
type Names struct {
	Entrants, Teams, Contests []string
	// Lines and Climbs follow "at" and "on": "the foot of the Mill climb", "the Mill climb".
	Lines, Climbs []string
	// Split follows "on", and says where Split.Decisive is: "the stretch from 3.10 km to
	// 4.20 km".
	Split string
}

const (
	// mostContenders is how many entrants are followed through the race, mostContests how
	// many contests are told.
	mostContenders, mostContests = 3, 4
	// certain is the share of runs from which on something is as good as certain.
	certain = 0.95
	// leastLost is the number of entrants whose loss is a split.
	leastLost = 0.5
)

// words makes sentences of a result. Each returns nothing where its numbers say nothing.
type words struct {
	Result
	names Names
}

// Recommendation tells a result in one paragraph: who is likeliest to win and whether that
// is beyond chance, where the field splits, who is at the foot of the last climb, who wins
// the contests, and what follows for those who ride for somebody. All its numbers are in
// the result.
func Recommendation(r Result, names Names) string {
	w := words{r, names}
	if r.Runs == 0 {
		return "Nothing was raced."
	}
	if r.Favourite.Best < 0 || r.Entrants[r.Favourite.Best].DidNotFinish.P == 1 {
		return fmt.Sprintf("Nobody finishes in any of %s.", w.runs())
	}
	sentences := []string{w.winning()}
	if len(r.Entrants) > 1 {
		sentences = append(sentences, w.splitting(), w.lastClimb(), w.gaining())
	}
	for i := range r.Contests[:min(mostContests, len(r.Contests))] {
		sentences = append(sentences, w.contest(i))
	}
	if len(r.Entrants) > 1 {
		sentences = append(sentences, w.counting(), w.riding(), w.team())
	}
	return joined(sentences)
}

// joined sets sentences one after another, those that say nothing left out.
func joined(sentences []string) string {
	var said []string
	for _, s := range sentences {
		if s != "" {
			said = append(said, s)
		}
	}
	return strings.Join(said, " ")
}

func (w words) runs() string { return counted(w.Runs, "run") }

func (w words) name(i int) string { return w.names.Entrants[i] }

// counted writes a number of things.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return wording.Count(n) + " " + thing + "s"
}

// number writes a value to a tenth, a small one to a hundredth, without noughts at the end.
func number(v float64) string {
	decimals := 1
	if math.Abs(v) < 0.1 {
		decimals = 2
	}
	text := wording.Rounded(v, decimals)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

// within writes a standard error after what it is of.
func within(what string, se float64) string {
	if !(se > 0) {
		return what
	}
	return fmt.Sprintf("%s (standard error %s)", what, number(se))
}

// share writes a share of the runs.
func share(p float64) string {
	switch p {
	case 0:
		return "no run"
	case 1:
		return "every run"
	}
	return wording.Chance(p) + " of the runs"
}

// sharing writes a share of the runs with its standard error in percentage points.
func sharing(o Odds) string { return within(share(o.P), 100*o.SE) }

// apart writes the difference of a margin.
func (m Margin) apart() string {
	return within(number(100*m.Difference)+" percentage points", 100*m.SE)
}

// winning says who is likeliest to win.
func (w words) winning() string {
	m := w.Favourite
	best := w.Entrants[m.Best]
	switch {
	case m.Next < 0:
		return w.alone(best)
	case m.Told && best.Win.P == 1:
		return fmt.Sprintf("%s wins each of %s, which leaves odds of %s at least (95 %% interval).", w.name(m.Best), w.runs(), wording.Chance(best.Win.Low))
	case m.Told:
		won := within(fmt.Sprintf("%s of %s", wording.Chance(best.Win.P), w.runs()), 100*best.Win.SE)
		return fmt.Sprintf("%s is the likeliest winner, in %s: ahead of %s by %s, which is beyond chance.", w.name(m.Best), won, w.name(m.Next), m.apart())
	}
	return w.open()
}

func (w words) alone(only Entrant) string {
	text := fmt.Sprintf("%s rides alone and takes %s on average", w.name(0), wording.Clock(only.TimeS.Mean))
	if only.TimeS.SD > 0 {
		text += fmt.Sprintf(", with a standard deviation of %s between runs", wording.Seconds(only.TimeS.SD))
	}
	return text + "."
}

// open says that the likeliest winner can't be told.
func (w words) open() string {
	m := w.Favourite
	won := func(i int) string { return wording.Chance(w.Entrants[i].Win.P) }
	text := fmt.Sprintf("Who is likeliest to win can't be told from %s: %s wins %s and %s %s", w.runs(), w.name(m.Best), won(m.Best), w.name(m.Next), won(m.Next))
	if m.RunsToTell > 0 {
		text += fmt.Sprintf(", apart by %s; %s would tell, should that stay so", m.apart(), counted(m.RunsToTell, "run"))
	}
	if others := len(m.Level) - 1; others > 0 {
		last := m.Level[others]
		text += fmt.Sprintf("; %s can't be told from %s either, down to %s with %s", counted(others, "other"), w.name(m.Best), w.name(last), won(last))
	}
	return text + "."
}

// splitting says where the field comes apart.
func (w words) splitting() string {
	posts := w.Split.Posts
	if len(posts) == 0 {
		return ""
	}
	d := w.Split.Decisive
	if d == nil || d.Lost.Mean < leastLost {
		return fmt.Sprintf("The field stays together: %s of %d finish within 5 s of the first on average.", number(posts[len(posts)-1].Within.Mean), len(w.Entrants))
	}
	text := fmt.Sprintf("The field splits on %s: the number who are with the front, or come back to it, goes from %s to %s on average",
		w.names.Split, number(d.Before.Mean), number(d.After.Mean))
	if d.Largest.P >= 0.5 {
		return text + fmt.Sprintf(", and in %s the largest split is there.", sharing(d.Largest))
	}
	return text + fmt.Sprintf("; but only in %s is the largest split there, so that it may come elsewhere.", sharing(d.Largest))
}

// contenders are the favourite and those level with it, or the next.
func (w words) contenders() []int {
	m := w.Favourite
	all := append([]int{m.Best}, m.Level...)
	if len(m.Level) == 0 {
		all = append(all, m.Next)
	}
	return all[:min(mostContenders, len(all))]
}

// lastClimb says who is in front at the foot of the last climb.
func (w words) lastClimb() string {
	if len(w.Climbs) == 0 || w.Climbs[len(w.Climbs)-1].Foot < 0 {
		return ""
	}
	foot := w.Climbs[len(w.Climbs)-1].Foot
	line, n := w.Lines[foot], len(w.Entrants)
	if float64(n)-line.Front.Mean < leastLost {
		return fmt.Sprintf("At %s the field is together: the first group has %s of %d on average.", w.names.Lines[foot], number(line.Front.Mean), n)
	}
	var there []string
	for _, i := range w.contenders() {
		at := line.Entrants[i]
		text := fmt.Sprintf("%s is in it in %s", w.name(i), sharing(at.InFront))
		if at.InFront.P < certain && at.GapS.Mean >= 1 {
			text += fmt.Sprintf(", %s behind the first on average and more than %s in a tenth of them", wording.Seconds(at.GapS.Mean), wording.Seconds(at.Gap90.S))
		}
		there = append(there, text)
	}
	return fmt.Sprintf("At %s the first group has %s of %d on average; %s.", w.names.Lines[foot], number(line.Front.Mean), n, strings.Join(there, "; "))
}

// leastGained is the gain that is told, in places or in seconds.
const leastGained = 0.5

// gaining says who gains most on the last climb.
func (w words) gaining() string {
	if len(w.Climbs) == 0 {
		return ""
	}
	last := len(w.Climbs) - 1
	most := -1
	for i, g := range w.Climbs[last].Entrants {
		if 2*g.Places.N >= w.Runs && g.Places.told() && (most < 0 || g.Places.Mean > w.Climbs[last].Entrants[most].Places.Mean) {
			most = i
		}
	}
	if most < 0 || w.Climbs[last].Entrants[most].Places.Mean < leastGained {
		return fmt.Sprintf("On %s nobody gains half a place on average beyond chance.", w.names.Climbs[last])
	}
	places, seconds := w.Climbs[last].Entrants[most].Places, w.Climbs[last].Entrants[most].Seconds
	text := fmt.Sprintf("On %s %s gains most, %s on average", w.names.Climbs[last], w.name(most), within(number(places.Mean)+" places", places.SE))
	switch {
	case seconds.Mean >= leastGained && seconds.told():
		text += fmt.Sprintf(", and comes %s nearer to the first", wording.Seconds(seconds.Mean))
	case seconds.Mean <= -leastGained && seconds.over(-1).told():
		text += fmt.Sprintf(", though the first draws away by %s", wording.Seconds(seconds.Mean))
	}
	return text + "."
}

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

// riding says whether to protect the favourite, and until where.
func (w words) riding() string {
	if w.Key < 0 {
		return ""
	}
	i := w.Favourite.Best
	name, line := w.name(i), w.names.Lines[w.Key]
	at := w.Lines[w.Key].Entrants[i]
	ahead, behind := at.WinFromFront, at.WinFromBehind
	there := fmt.Sprintf("%s is there in %s", name, share(at.InFront.P))
	switch {
	case at.InFront.P >= certain:
		return fmt.Sprintf("%s as it is: help is worth more after %s.", there, line)
	case ahead.N < leastRuns || behind.N < leastRuns:
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
