package tally

import (
	"fmt"
	"strings"

	"parcours.example/analysis/wording"
)

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
		within, how := posts[len(posts)-1].Within.Mean, "The field comes apart bit by bit, nowhere in particular"
		if within >= StillTogether*float64(len(w.Entrants)) {
			how = "The field stays together"
		}
		return fmt.Sprintf("%s: %s of %d finish within 5 s of the first on average.", how, number(within), len(w.Entrants))
	}
	text := fmt.Sprintf("The field splits on %s: the number who are with the front, or come back to it, goes from %s to %s on average",
		w.names.Split, number(d.Before.Mean), number(d.After.Mean))
	if d.Largest.P >= 0.5 {
		return text + fmt.Sprintf(", and in %s the largest split is there.", sharing(d.Largest))
	}
	return text + fmt.Sprintf("; but only in %s is the largest split there, so that it may come elsewhere.", sharing(d.Largest))
}

// contenders are the favourite and those level with it, or the next who ever wins.
func (w words) contenders() []int {
	m := w.Favourite
	all := append([]int{m.Best}, m.Level...)
	if len(m.Level) == 0 && w.Entrants[m.Next].Win.P > 0 {
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
