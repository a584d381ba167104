// Package tally says what many runs of a race come to: means, odds and quantiles, each
// with its sampling error.
//
// A Tally takes one run at a time and keeps counts and sums alone, so that it is as large
// after a thousand runs as after one. Everything is counted in whole thousandths (of a
// second, a watt, a point), in which sums are exact: however the runs are divided among
// several tallies, and in whatever order those are merged, the result has the same bits;
// and naming the entrants in another order gives the same result in that order.
//
// Entrants whose times at a line are equal to the millisecond share the places that they
// take up there.
package tally

import (
	"errors"
	"fmt"
	"slices"

	"parcours.example/analysis/race"
	"parcours.example/analysis/scoring"
)

// MostRuns is how many runs a tally can count.
const MostRuns = 1<<16 - 1

// Plan says what is counted. All lines are indices of the lines of a race.Run.
type Plan struct {
	// Entrants is their number, at least 1.
	Entrants int
	// Teams holds the team of each entrant as a number from 0 on, −1 for none; empty where
	// there are no teams.
	Teams []int
	// Lines are told of, in order of the road.
	Lines []int
	// Finish is the last line, at which places are taken.
	Finish int
	// Climbs are told of from the foot to the top.
	Climbs []Climb
	// Posts are the places in order of the road between which the field may split.
	Posts []Post
	// Contests are scored in each run.
	Contests []scoring.Contest
}

// Climb is a pass of a climb.
type Climb struct{ Foot, Top int }

// Post is a line at a position on the road in m.
type Post struct {
	Line int
	AtM  float64
}

// Tally counts what happens in runs. It is made with New.
type Tally struct {
	plan     Plan
	runs     int
	lines    []line
	climbs   []climb
	entrants []entrant
	places   []int64 // shares of runs by entrant and place, in units of whole
	teamWins []int64
	split    split
	typical  typical
	contests []contest

	at, foot order // work space
	wins     []int64
}

// New returns a tally that has counted nothing, or an error where the plan speaks of what
// there isn't: a *scoring.Error of a contest.
func New(plan Plan) (*Tally, error) {
	if err := plan.check(); err != nil {
		return nil, err
	}
	n := plan.Entrants
	t := &Tally{
		plan:     plan,
		lines:    make([]line, len(plan.Lines)),
		climbs:   make([]climb, len(plan.Climbs)),
		entrants: make([]entrant, n),
		places:   make([]int64, n*n),
		teamWins: make([]int64, teams(plan.Teams)),
		split:    newSplit(len(plan.Posts)),
		typical:  newTypical(n),
		at:       newOrder(n),
		foot:     newOrder(n),
		wins:     make([]int64, n),
	}
	for i := range t.lines {
		t.lines[i] = newLine(n)
	}
	for i := range t.climbs {
		t.climbs[i] = newClimb(n)
	}
	for _, asked := range plan.Contests {
		c, err := newContest(asked, plan.teams(), plan.Finish+1)
		if err != nil {
			return nil, err
		}
		t.contests = append(t.contests, c)
	}
	return t, nil
}

// check demands that a plan is whole.
func (p Plan) check() error {
	lines := slices.Clone(p.Lines)
	for _, c := range p.Climbs {
		lines = append(lines, c.Foot, c.Top)
	}
	for _, post := range p.Posts {
		lines = append(lines, post.Line)
	}
	switch {
	case p.Entrants < 1:
		return errors.New("a tally needs an entrant")
	case p.Finish < 0:
		return errors.New("a tally needs a finish")
	case len(p.Teams) != 0 && len(p.Teams) != p.Entrants:
		return fmt.Errorf("%d entrants have the teams of %d", p.Entrants, len(p.Teams))
	}
	for _, l := range lines {
		if l < 0 || l > p.Finish {
			return fmt.Errorf("line %d is none of 0…%d", l, p.Finish)
		}
	}
	return nil
}

// teams returns the team of each entrant.
func (p Plan) teams() []int {
	if len(p.Teams) > 0 {
		return p.Teams
	}
	return slices.Repeat([]int{-1}, p.Entrants)
}

// teams returns how many teams there are.
func teams(of []int) int {
	n := 0
	for _, team := range of {
		n = max(n, team+1)
	}
	return n
}

// Runs returns how many runs were counted.
func (t *Tally) Runs() int { return t.runs }

// Add counts a run. The number of the run counts from 0 and names it in
// Result.TypicalRun; each is added once. Beyond MostRuns nothing is counted.
func (t *Tally) Add(run int, r *race.Run) {
	if t.runs == MostRuns {
		return
	}
	t.runs++
	t.addFinish(run, r)
	for i, l := range t.plan.Lines {
		t.at.sort(crossings(r, l, t.plan.Entrants))
		t.lines[i].add(&t.at, t.wins)
	}
	for i, c := range t.plan.Climbs {
		t.foot.sort(crossings(r, c.Foot, t.plan.Entrants))
		t.at.sort(crossings(r, c.Top, t.plan.Entrants))
		t.climbs[i].add(&t.foot, &t.at)
	}
	for i := range t.contests {
		t.contests[i].add(r.CrossingS)
	}
	t.split.add(t.plan, r)
}

// crossings returns when each of n entrants crossed a line.
func crossings(r *race.Run, line, n int) []float64 { return r.CrossingS[line*n : (line+1)*n] }

// addFinish counts the places, and leaves in t.wins the share of the win that each
// entrant has.
func (t *Tally) addFinish(run int, r *race.Run) {
	n := t.plan.Entrants
	t.at.sort(crossings(r, t.plan.Finish, n))
	t.typical.add(run, &t.at)
	clear(t.wins)
	for first, end := range t.at.ties() {
		share := whole / int64(end-first)
		for _, i := range t.at.by[first:end] {
			for place := first; place < end; place++ {
				t.places[i*n+place] += share
			}
			if first == 0 {
				t.wins[i] = share
			}
		}
	}
	for i, share := range t.wins {
		if share > 0 && len(t.plan.Teams) > 0 && t.plan.Teams[i] >= 0 {
			t.teamWins[t.plan.Teams[i]] += share
		}
	}
	for i := range t.entrants {
		t.entrants[i].add(i, r, t.at.ms[i])
	}
}

// Merge adds what another tally of the same plan counted; both together at most MostRuns,
// and no run twice.
func (t *Tally) Merge(other *Tally) {
	t.runs += other.runs
	for i := range t.lines {
		t.lines[i].merge(&other.lines[i])
	}
	for i := range t.climbs {
		t.climbs[i].merge(&other.climbs[i])
	}
	for i := range t.entrants {
		t.entrants[i].merge(&other.entrants[i])
	}
	for i := range t.contests {
		t.contests[i].entrants.merge(&other.contests[i].entrants)
		t.contests[i].teams.merge(&other.contests[i].teams)
	}
	addAll(t.places, other.places)
	addAll(t.teamWins, other.teamWins)
	t.split.merge(&other.split)
	t.typical.merge(&other.typical)
}

// whole is a run that isn't shared: one win goes to one entrant whole, or in parts.
const whole = 1 << 40

// count is a number that runs are counted in.
type count interface {
	~uint16 | ~int32 | ~int64
}

func addAll[C count](to, from []C) {
	for i, c := range from {
		to[i] += c
	}
}
