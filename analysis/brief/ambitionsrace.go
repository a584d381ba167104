package brief

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/duel"
	"parcours.example/analysis/tally"
	"parcours.example/analysis/wording"
)

// RaceAnswer is what many runs of a race come to.
type RaceAnswer struct {
	Result tally.Result
	// Riders and Teams are names, untrusted, in the order of the result.
	Riders, Teams []string
	// Lines and Climbs are in the order of the result; lines at a climb say at which end.
	Lines    []RaceLine
	Climbs   []Place
	Contests []ContestAnswer
	// Decisive is the stretch on which the field splits; nil where it stays together.
	Decisive *Place
	// Named is how many of the riders were given by name: the first ones. The others were
	// drawn, and stand for a field.
	Named int
	// Duel is nil where there is none to tell; Heavier and Lighter count the riders.
	Duel             *duel.Answer
	Heavier, Lighter int
}

// RaceLine is a line at which a race is told.
type RaceLine struct {
	Place
	// Foot and Top say at which end of a climb the line is.
	Foot, Top bool
}

// ContestAnswer is a contest for points.
type ContestAnswer struct {
	// Name is untrusted.
	Name string
	// Places are where points are given, each pass on its own.
	Places []Place
}

const (
	// mostContenders is how many riders are followed through the race.
	mostContenders = 3
	// certainShare is the share of runs from which on something is as good as certain.
	certainShare = 0.95
	// leastLost is the number of riders whose loss is a split.
	leastLost = 0.5
	// leastLargest is the share of runs whose largest split lies on the decisive stretch from
	// which on that is one. Our choice.
	leastLargest = 0.25
	// fewInFront is the share of the field up to which it tells something to be in the first
	// group. Our choice.
	fewInFront = 0.6
)

// race tells how the race is likely to go.
func (w teller) race() block {
	if w.Race == nil {
		return block{}
	}
	r := w.Race.Result
	lines := [][]said{{{rankWinner, say("{}: {}.", strong(words("Winner")), w.winner())}, {rankWinner, w.named()}}}
	if len(r.Entrants) > 1 && r.Favourite.Best >= 0 {
		lines = append(lines, []said{{rankSplit, w.splits()}}, []said{{rankFront, w.lastFoot()}}, []said{{rankFront, w.worthInFront()}})
	}
	for i, c := range w.Race.Contests {
		if _, one := w.onePlace(c.Places); !one {
			lines = append(lines, w.contest(i))
		}
	}
	return bullets("How the race is likely to go", append(lines, []said{{rankFront, w.team()}}, []said{{rankDuel, w.duel()}})...)
}

// raced is a rider's name.
func (w teller) raced(i int) phrase {
	return w.or(w.Race.Riders[i], "rider", "race.rider", i)
}

func (w teller) runCount() phrase {
	return w.count("race.runs", w.Race.Result.Runs)
}

func racerFact(i int) string { return fmt.Sprintf("race.rider-%d", i+1) }

// winner says who is likely to win and how sure that is.
func (w teller) winner() phrase {
	r := w.Race.Result
	m := r.Favourite
	if m.Best < 0 || r.Entrants[m.Best].DidNotFinish.P == 1 {
		return say("nobody finishes in any of {} runs", w.runCount())
	}
	switch {
	case m.Next < 0:
		return say("{} rides alone and takes {} on average", w.raced(m.Best), w.clock(racerFact(m.Best)+".time_s", r.Entrants[m.Best].TimeS.Mean))
	case m.Told && r.Entrants[m.Best].Win.P == 1:
		return say("{} wins all {} runs: the odds are {} at least", w.raced(m.Best), w.runCount(),
			number(racerFact(m.Best)+".win_low", r.Entrants[m.Best].Win.Low, wording.Chance(r.Entrants[m.Best].Win.Low)))
	case m.Told:
		return say("{} is the likeliest in {} runs, before {}", w.wins(m.Best), w.runCount(), w.wins(m.Next))
	}
	return say("open in {} runs, between {}", w.runCount(), w.level())
}

// level lists those who can't be told from the likeliest winner.
func (w teller) level() phrase {
	riders := w.likeliest()
	told := make([]phrase, len(riders))
	for i, k := range riders {
		told[i] = w.wins(k)
	}
	return w.few("race.level.more", told)
}

// likeliest are the likeliest winner and those who can't be told from it, two at least.
func (w teller) likeliest() []int {
	m := w.Race.Result.Favourite
	if len(m.Level) == 0 {
		return []int{m.Best, m.Next}
	}
	return append([]int{m.Best}, m.Level...)
}

// wins names a rider with the odds to win.
func (w teller) wins(i int) phrase {
	return say("{} ({})", w.raced(i), w.odds(racerFact(i)+".win", w.Race.Result.Entrants[i].Win))
}

// named tells the odds of the riders who were given by name, where the others stand for a
// field and they aren't told already.
func (w teller) named() phrase {
	r := w.Race.Result
	if w.Race.Named == len(r.Entrants) || r.Favourite.Best < 0 {
		return phrase{}
	}
	already := []int{r.Favourite.Best, r.Favourite.Next}
	if !r.Favourite.Told {
		if already = w.likeliest(); len(already) > mostListed {
			already = already[:mostListed-1]
		}
	}
	var told []phrase
	for _, i := range w.namedByWins() {
		if !slices.Contains(already, i) {
			told = append(told, w.wins(i))
		}
	}
	if told == nil {
		return phrase{}
	}
	return say("Of the riders by name: {}.", w.few("race.named.more", told))
}

// namedByWins returns the riders given by name, the likeliest winner first.
func (w teller) namedByWins() []int {
	out := make([]int, w.Race.Named)
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int {
		return cmp.Compare(w.Race.Result.Entrants[b].Win.P, w.Race.Result.Entrants[a].Win.P)
	})
	return out
}

// contenders are the favourite and, where others stand for a field, the riders by name; else
// those level with the favourite, or the next who ever wins.
func (w teller) contenders() []int {
	r := w.Race.Result
	m := r.Favourite
	all, others := []int{m.Best}, m.Level
	if w.Race.Named > 0 && w.Race.Named < len(r.Entrants) {
		others = w.namedByWins()
	}
	for _, i := range others {
		if i != m.Best {
			all = append(all, i)
		}
	}
	if len(all) == 1 && m.Next >= 0 && r.Entrants[m.Next].Win.P > 0 {
		all = append(all, m.Next)
	}
	return all[:min(mostContenders, len(all))]
}

// splits says where the field comes apart.
func (w teller) splits() phrase {
	a := w.Race
	posts := a.Result.Split.Posts
	if len(posts) == 0 {
		return phrase{}
	}
	n := w.count("race.riders", len(a.Result.Entrants))
	d := a.Result.Split.Decisive
	if d == nil || a.Decisive == nil || d.Lost.Mean < leastLost || d.Largest.P < leastLargest {
		within := posts[len(posts)-1].Within.Mean
		how := "The field comes apart bit by bit, nowhere in particular"
		if within >= tally.StillTogether*float64(len(a.Result.Entrants)) {
			how = "The field stays together"
		}
		return say("{}: {} of {} finish within {} of the first on average.", words(how),
			w.mean("race.finish.within_count", within), n, number("race.within_s", withinS, wording.Number(withinS, 1)+" s"))
	}
	told := say("The field splits {}: of {}, {} are with the front before it and {} after, on average",
		w.splitPlace(*a.Decisive), n, w.mean("race.decisive.before_count", d.Before.Mean), w.mean("race.decisive.after_count", d.After.Mean))
	if d.Largest.P >= 0.5 {
		return say("{}; the largest split is there in {}.", told, w.ofRuns("race.decisive.largest", d.Largest))
	}
	return say("{}; but the largest split is there only in {}, it may come elsewhere.", told, w.ofRuns("race.decisive.largest", d.Largest))
}

// withinS is how far behind the first a rider still is with the front (package tally).
const withinS = 5.0

// splitPlace names the stretch on which the field splits.
func (w teller) splitPlace(p Place) phrase {
	if p.Of == AtStretch {
		return say("between {} and {}", w.position("race.decisive.start_m", p.StartM), w.position("race.decisive.end_m", p.EndM))
	}
	return say("on {}", w.placeOn(p))
}

// lineName names a line so that it follows "at".
func (w teller) lineName(l RaceLine) phrase {
	switch {
	case l.Foot:
		return say("the foot of {}", w.placeOn(l.Place))
	case l.Top:
		return say("the top of {}", w.placeOn(l.Place))
	}
	return w.placeOn(l.Place)
}

// lastFoot says how many and who are in front at the foot of the last climb.
func (w teller) lastFoot() phrase {
	a, line := w.Race, -1
	for i, c := range a.Climbs {
		if isWhole(w.in.Terrain.Climbs[c.Index]) && a.Result.Climbs[i].Foot >= 0 {
			line = a.Result.Climbs[i].Foot
		}
	}
	if line < 0 || a.Lines[line].StartM < atEndM {
		return phrase{}
	}
	at, fact := a.Result.Lines[line], fmt.Sprintf("race.line-%d", line+1)
	n := len(a.Result.Entrants)
	group := say("At {} the first group has {} of {} on average", w.lineName(a.Lines[line]),
		w.mean(fact+".front_count", at.Front.Mean), w.count("race.riders", n))
	if float64(n)-at.Front.Mean < leastLost {
		return say("{}.", group)
	}
	var there []phrase
	for _, i := range w.contenders() {
		there = append(there, say("{} is in it in {}", w.raced(i), w.ofRuns(fmt.Sprintf("%s.rider-%d.front", fact, i+1), at.Entrants[i].InFront)))
	}
	return say("{}; {}.", group, list(there...))
}

// leastRuns is how many runs tell what a place in front is worth.
const leastRuns = 10

// worthInFront says where it counts most to be in front, and for whom it is worth help.
func (w teller) worthInFront() phrase {
	a := w.Race
	if a.Result.Key < 0 {
		return phrase{}
	}
	at, fact := a.Result.Lines[a.Result.Key], fmt.Sprintf("race.line-%d", a.Result.Key+1)
	told := say("To be in front counts most at {}", w.lineName(a.Lines[a.Result.Key]))
	for _, i := range w.contenders() {
		e := at.Entrants[i]
		ahead, behind := e.WinFromFront, e.WinFromBehind
		if e.InFront.P >= certainShare || ahead.N < leastRuns || behind.N < leastRuns || !beyondChance(ahead, behind) {
			continue
		}
		rider := fmt.Sprintf("%s.rider-%d", fact, i+1)
		return say("{}: {} wins {} from there and {} from behind.", told, w.raced(i), w.odds(rider+".win_from_front", ahead), w.odds(rider+".win_from_behind", behind))
	}
	if at.Front.Mean > float64(fewInFront*float64(len(a.Result.Entrants))) {
		return phrase{}
	}
	return say("{}: the winner is in the first group there in {}.", told, w.ofRuns(fact+".winner_in_front", at.WinnerInFront))
}

// beyondChance tells whether one probability is higher than another beyond their sampling
// errors, with 95 % confidence.
func beyondChance(a, b tally.Odds) bool {
	se := math.Sqrt(float64(a.SE*a.SE) + float64(b.SE*b.SE))
	return a.P-b.P > 1.96*se
}

// team says how the likeliest team does.
func (w teller) team() phrase {
	a := w.Race
	m := a.Result.FavouriteTeam
	if m.Next < 0 || m.Best < 0 || a.Result.TeamWins[m.Best].P == 0 {
		return phrase{}
	}
	team := func(i int) phrase {
		return say("{} {}", w.or(a.Teams[i], "team", "race.team", i), w.odds(fmt.Sprintf("race.team-%d.win", i+1), a.Result.TeamWins[i]))
	}
	if m.Told {
		return say("Of the teams {} wins most, before {}.", team(m.Best), team(m.Next))
	}
	return say("Of the teams {} and {} can't be told apart.", team(m.Best), team(m.Next))
}

// duel holds a heavier rider against a lighter one, each riding alone.
func (w teller) duel() phrase {
	a := w.Race
	if a.Duel == nil {
		return phrase{}
	}
	d := a.Duel
	heavy := say("{} ({})", w.raced(a.Heavier), w.mass("race.duel.heavier.mass_kg", d.Heavier.MassKg))
	light := say("{} ({})", w.raced(a.Lighter), w.mass("race.duel.lighter.mass_kg", d.Lighter.MassKg))
	gap := w.seconds("race.duel.gap_s", d.GapS)
	first, second := heavy, light
	switch {
	case math.Abs(d.GapS) < 0.005:
		return say("Each alone, {} and {} are level at the finish.", heavy, light)
	case d.GapS < 0:
		first, second = light, heavy
	}
	told := say("Each alone, {} is {} ahead of {}", first, gap, second)
	if !d.Power.Found {
		return say("{}, and no power that was tried makes them level.", told)
	}
	own, level := w.perMass("race.duel.lighter.w_per_kg", d.Lighter.WPerKg), w.perMass("race.duel.power.w_per_kg", d.Power.Value)
	if own.text == level.text {
		return say("{}: next to nothing in power, both at {} for the lighter.", told, own)
	}
	return say("{}; they are level where the lighter rides {} instead of {}.", told, level, own)
}
