package tally

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/wording"
)

// The cautions that go with odds.
const (
	Caution       = "Odds come from a model that knows these riders by a few numbers; on the day courage, teamwork, weather and luck decide. Nobody should take a risk because of them."
	RidingCaution = "Sprints, attacks and riding close behind others are for trained people who know how, on closed roads."
)

// StillTogether is the share of a field, 0…1, that finishes with the front where the field
// stays together. Our choice.
const StillTogether = 0.9

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
