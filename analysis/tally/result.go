package tally

import "slices"

// Result is what the runs come to. Slices by entrant, line, climb and team are in the
// order of the Plan.
type Result struct {
	// Runs is their number.
	Runs     int
	Entrants []Entrant
	// Favourite is the entrant who wins most runs against the one who wins most after.
	Favourite Margin
	// TeamWins are the odds that one of a team wins; FavouriteTeam compares them.
	TeamWins      []Odds
	FavouriteTeam Margin
	Lines         []Line
	Climbs        []Gains
	Contests      []Contest
	Split         Split
	// Key is the index in Lines of the line where being in the first group counts most for
	// the win: the first before the finish whose WinnerLead can't be told from the highest;
	// −1 where none is 0.1 or can be told from 0, for which it takes ten runs.
	Key int
	// TypicalRun is the number of the run whose finishing order is nearest to the mean
	// places: the least sum of distances over the entrants (Spearman's footrule), of the
	// first 64 runs, the first of equals; −1 without any.
	TypicalRun int
}

// Mean is the mean of a value over the runs in which there is one.
type Mean struct {
	// N is the number of those runs; without any, Mean is NaN.
	N    int
	Mean float64
	// SD is the standard deviation between runs, SE the standard error of the mean, SD/√N;
	// both NaN below two runs.
	SD, SE float64
}

// Odds are the share of runs in which something happens, as an estimate of how likely
// it is.
type Odds struct {
	// N is the number of runs; without any, all else is NaN.
	N int
	// P is the share, 0…1. SE is its standard error √(P(1−P)/N): 0 where P is 0 or 1, which
	// tells less than the interval does.
	P, SE float64
	// Low and High hold what is likely behind P with 95 % confidence (score interval, Wilson
	// 1927, J. Am. Stat. Assoc. 22:209–212; from memory).
	Low, High float64
}

// Quantile is a value that a share of runs stays below. It is read from bins 0.1 s wide
// up to 0.8 s, and beyond an eighth to a sixteenth of the value, up to 3,276.8 s.
type Quantile struct {
	S float64
	// SE is half the distance of the quantiles one binomial standard error away.
	SE float64
}

// Margin is how much better the best does than the next.
type Margin struct {
	// Best and Next are indices; −1 where there is none.
	Best, Next int
	// Difference is that of the odds, ≥ 0, SE its standard error, √((p+q−(p−q)²)/N), as the
	// two can't both win a run.
	Difference, SE float64
	// Told is whether the difference is beyond chance: above 1.96 times what it would vary by
	// if both were equally likely, √((p+q)/N). If not, RunsToTell is how many runs would tell
	// it if it stays as it is, to two digits, 0 where none would.
	Told       bool
	RunsToTell int
	// Level are those, best first, whose odds aren't 0 and can't be told from the best's.
	Level []int
}

// Entrant is what an entrant's runs come to.
type Entrant struct {
	// Team is the plan's, −1 for none.
	Team int
	// Places are the shares of runs by finishing place, the first at index 0; entrants who
	// finish together share theirs. Each has the standard error √(p(1−p)/Runs). They sum
	// to 1 less DidNotFinish.
	Places []float64
	// Place is the mean place; those who don't finish share the places behind the last.
	Place                     Mean
	Win, Podium, DidNotFinish Odds
	// TimeS is that of the runs finished, in seconds, PowerW the mean power of each of
	// those.
	TimeS, PowerW Mean
	// LeastBalanceJ is the lowest balance of W′ of a run, FrontS and ShelteredS are as in
	// race.Run.
	LeastBalanceJ, FrontS, ShelteredS Mean
}

// Line is what happens at a line. A group ends where more than 1 s passes before the
// next crosses, as times are taken in races (UCI protocol).
type Line struct {
	// Front is the size of the first group, Groups the number of them.
	Front, Groups Mean
	// FrontSizes are the shares of runs by the size of the first group; index 0 is that of
	// runs in which nobody crossed.
	FrontSizes []float64
	// WinnerInFront are the odds that who wins the race is in the first group here, and
	// WinnerGapS the gap of the winner to the first here, in seconds.
	WinnerInFront Odds
	WinnerGapS    Mean
	// WinnerLead is how much more of the winner than of anybody is in the first group: the
	// share of runs in which the winner is, less the mean share of entrants who are, −1…1.
	WinnerLead Mean
	Entrants   []AtLine
}

// AtLine is how an entrant does at a line.
type AtLine struct {
	// InFront are the odds to be in the first group, of all runs; WinFromFront those to win
	// the race, of the runs in which the entrant is in it, and WinFromBehind of the others.
	InFront, WinFromFront, WinFromBehind Odds
	// GapS is the time to the first, in seconds, of the runs in which the entrant crosses
	// the line, and Gap10 and Gap90 are below and above it in a tenth of them.
	GapS         Mean
	Gap10, Gap90 Quantile
}

// Gains are what each entrant gains from the foot to the top of a climb, negative for
// losses, in runs in which the entrant crosses both.
type Gains struct {
	// Foot and Top are the indices in Lines of those of the climb, −1 where they aren't told
	// of.
	Foot, Top int
	Entrants  []Gain
}

// Gain is one entrant's: Seconds to the first of all, and Places.
type Gain struct{ Seconds, Places Mean }

// Contest is what a contest for points comes to. Who has most points wins it; where nobody
// has any nobody does.
type Contest struct {
	Entrants, Teams          []Points
	Favourite, FavouriteTeam Margin
}

// Points are those of an entrant or a team in a run, and the odds to win the contest.
type Points struct {
	Points Mean
	Win    Odds
}

// Split is where the field comes apart: how many are with the front along the road.
type Split struct {
	Posts []AtPost
	// Decisive is the stretch that costs most; nil where no run loses anyone for good.
	Decisive *Decisive
}

// AtPost is what happens up to a post from the one before, from the start to the first.
type AtPost struct {
	AtM float64
	// Within is how many are within 5 s of the first, Lost how many are lost for good: the
	// number within 5 s here falls short of that at the post before by so many, each taken
	// as the highest from there to the end of the race.
	Within, Lost Mean
	// Largest are the odds that a run loses most on this stretch, the first of equals.
	Largest Odds
}

// Decisive is the stretch on which the field splits: that between two posts on which
// most entrants are lost for good, with those around it on which at least half as many
// are.
type Decisive struct {
	StartM, EndM float64
	// Before and After are how many are within 5 s of the first, or will be again, where
	// the stretch begins and ends; Lost is the difference.
	Before, After, Lost Mean
	// Largest are the odds that a run's own largest split lies on the stretch.
	Largest Odds
}

// Result returns what the runs so far come to.
func (t *Tally) Result() Result {
	r := Result{
		Runs:       t.runs,
		Entrants:   make([]Entrant, len(t.entrants)),
		TeamWins:   make([]Odds, len(t.teamWins)),
		Lines:      make([]Line, len(t.lines)),
		Climbs:     make([]Gains, len(t.climbs)),
		Contests:   make([]Contest, len(t.contests)),
		Split:      t.split.result(t.plan, t.runs),
		TypicalRun: t.typical.run(),
	}
	wins, places := make([]Odds, len(t.entrants)), make([]Mean, len(t.entrants))
	for i := range t.entrants {
		r.Entrants[i] = t.entrant(i)
		wins[i], places[i] = r.Entrants[i].Win, r.Entrants[i].Place
	}
	r.Favourite = marginOf(wins, places)
	for i, w := range t.teamWins {
		r.TeamWins[i] = oddsOf(w, t.runs)
	}
	r.FavouriteTeam = marginOf(r.TeamWins, make([]Mean, len(r.TeamWins)))
	for i := range t.lines {
		r.Lines[i] = t.lines[i].result(t.runs)
	}
	for i := range t.climbs {
		r.Climbs[i] = t.climbs[i].result()
		r.Climbs[i].Foot = slices.Index(t.plan.Lines, t.plan.Climbs[i].Foot)
		r.Climbs[i].Top = slices.Index(t.plan.Lines, t.plan.Climbs[i].Top)
	}
	for i := range t.contests {
		r.Contests[i] = t.contests[i].result(t.runs)
	}
	r.Key = t.key(r.Lines)
	return r
}

// leastLead is the least WinnerLead that counts.
const leastLead = 0.1

// key returns the index of the line where being in front counts most.
func (t *Tally) key(lines []Line) int {
	highest := Mean{}
	for i, l := range lines {
		if t.plan.Lines[i] != t.plan.Finish && l.WinnerLead.Mean > highest.Mean {
			highest = l.WinnerLead
		}
	}
	if highest.Mean < leastLead || !highest.told() {
		return -1
	}
	return slices.IndexFunc(lines, func(l Line) bool { return !told(highest.Mean-l.WinnerLead.Mean, highest.SE) })
}
