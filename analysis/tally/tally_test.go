package tally

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/race"
	"parcours.example/analysis/scoring"
	"parcours.example/internal/seeded"
)

// Two runs of four entrants, worked out by hand.
func TestTwoRunsByHand(t *testing.T) {
	tally := mustTally(t, Plan{
		Entrants: 4, Teams: []int{0, 0, 1, -1}, Lines: []int{0, 1}, Finish: 1, Climbs: []Climb{{0, 1}}, Posts: []Post{{0, 500}, {1, 1000}},
		Contests: []scoring.Contest{{Scores: []scoring.Score{{Kind: scoring.ByOrder, Points: []float64{5, 3, 1}}}}},
	})
	tally.Add(0, runOf(4, []float64{100, 101, 102.001, nan}, []float64{210, 200, 204.9, nan}))
	tally.Add(1, runOf(4, []float64{100, 100, 100.5, 101.5}, []float64{200, 200, 203, 260}))
	r := tally.Result()

	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"runs", float64(r.Runs), 2},
		{"entrant 0 wins half of the second", r.Entrants[0].Win.P, 0.25},
		{"entrant 1 wins the first and half of the second", r.Entrants[1].Win.P, 0.75},
		{"entrant 0 is third once", r.Entrants[0].Places[2], 0.5},
		{"entrant 0 shares second", r.Entrants[0].Places[1], 0.25},
		{"entrant 0, mean of third and 1½th", r.Entrants[0].Place.Mean, 2.25},
		{"entrant 3 is fourth either way", r.Entrants[3].Place.Mean, 4},
		{"entrant 3 finishes once", r.Entrants[3].DidNotFinish.P, 0.5},
		{"entrant 3's places", r.Entrants[3].Places[3], 0.5},
		{"entrant 0 stands on the podium", r.Entrants[0].Podium.P, 1},
		{"entrant 0's time", r.Entrants[0].TimeS.Mean, 205},
		{"its spread", r.Entrants[0].TimeS.SD, 10 / math.Sqrt2},
		{"its error", r.Entrants[0].TimeS.SE, 5},
		{"entrant 1's power", r.Entrants[1].PowerW.Mean, 10},
		{"entrant 2's balance", r.Entrants[2].LeastBalanceJ.Mean, 200},
		{"front time", r.Entrants[2].FrontS.Mean, 20},
		{"sheltered", r.Entrants[2].ShelteredS.Mean, 40},
		{"team 0", r.TeamWins[0].P, 1},
		{"team 1", r.TeamWins[1].P, 0},
		{"front at the foot: two, since the third is 1.001 s behind, then four", r.Lines[0].Front.Mean, 3},
		{"groups at the foot", r.Lines[0].Groups.Mean, 1.5},
		{"front of two at the foot", r.Lines[0].FrontSizes[2], 0.5},
		{"front of one or two at the finish", r.Lines[1].Front.Mean, 1.5},
		{"three groups at the finish, both times", r.Lines[1].Groups.Mean, 3},
		{"entrant 2 is in front at the foot once", r.Lines[0].Entrants[2].InFront.P, 0.5},
		{"entrant 3 crosses the foot once", float64(r.Lines[0].Entrants[3].GapS.N), 1},
		{"with this gap", r.Lines[0].Entrants[3].GapS.Mean, 1.5},
		{"the winner is in front at the foot", r.Lines[0].WinnerInFront.P, 1},
		{"and its gap there", r.Lines[0].WinnerGapS.Mean, 0.5},
		{"with three of four there on average", r.Lines[0].WinnerLead.Mean, 0.25},
		{"which two runs don't tell from none", float64(r.Key), -1},
		{"entrant 1 wins 1½ of 2 from the front", r.Lines[0].Entrants[1].WinFromFront.P, 0.75},
		{"entrant 0 loses ten seconds once", r.Climbs[0].Entrants[0].Seconds.Mean, -5},
		{"and two places once", r.Climbs[0].Entrants[0].Places.Mean, -1},
		{"entrant 3 is taken where it crosses both", r.Climbs[0].Entrants[3].Seconds.Mean, 101.5 - 100 - 60},
		{"three, then four within 5 s at the foot", r.Split.Posts[0].Within.Mean, 3.5},
		{"two, then three at the finish", r.Split.Posts[1].Within.Mean, 2.5},
		{"one of four is lost before the foot once", r.Split.Posts[0].Lost.Mean, 0.5},
		{"one is lost after the foot, both times", r.Split.Posts[1].Lost.Mean, 1},
		{"the stretches share the first run", r.Split.Posts[0].Largest.P, 0.5},
		{"the decisive stretch takes both, as half is enough", r.Split.Decisive.StartM, 0},
		{"lost on it", r.Split.Decisive.Lost.Mean, 1.5},
		{"its spread", r.Split.Decisive.Lost.SD, math.Sqrt(0.5)},
		{"before", r.Split.Decisive.Before.Mean, 4},
		{"after", r.Split.Decisive.After.Mean, 2.5},
		{"points of 5 and of 4 shared", r.Contests[0].Entrants[0].Points.Mean, 4.5},
		{"first once, level once", r.Contests[0].Entrants[0].Win.P, 0.75},
		{"no points, then none", r.Contests[0].Entrants[3].Points.Mean, 0},
		{"the team has 8 each time", r.Contests[0].Teams[0].Points.Mean, 8},
		{"and wins each time", r.Contests[0].Teams[0].Win.P, 1},
		{"who wins the contest", float64(r.Contests[0].Favourite.Best), 0},
		{"and the teams'", float64(r.Contests[0].FavouriteTeam.Best), 0},
		{"best", float64(r.Favourite.Best), 1},
		{"next", float64(r.Favourite.Next), 0},
		{"by", r.Favourite.Difference, 0.5},
	} {
		near(t, c.what, c.got, c.want, 1e-9)
	}
}

// What is shared by several is whole again when it is put together.
func TestSharesOfAWinAreWhole(t *testing.T) {
	for n := 1; n <= 200; n++ {
		tally := mustTally(t, Plan{Entrants: n, Teams: make([]int, n), Lines: []int{0}})
		tally.Add(0, runOf(n, make([]float64, n)))
		r := tally.Result()
		if r.TeamWins[0].P != 1 || r.Lines[0].WinnerInFront.SE != 0 || math.Abs(r.Entrants[0].Win.P-1/float64(n)) > 1e-9 {
			t.Fatalf("%d share a win: %+v", n, r.TeamWins[0])
		}
	}
}

func TestNothingCountedIsUnknown(t *testing.T) {
	r := mustTally(t, syntheticPlan).Result()
	if r.TypicalRun != -1 || r.Split.Decisive != nil || !math.IsNaN(r.Entrants[0].Win.P) || !math.IsNaN(r.Entrants[0].TimeS.Mean) ||
		!math.IsNaN(r.Lines[0].Entrants[0].Gap90.S) {
		t.Errorf("%+v", r.Entrants[0])
	}
	one := mustTally(t, Plan{Entrants: 1, Lines: []int{0}})
	one.Add(0, runOf(1, []float64{60}))
	if r := one.Result(); r.Favourite.Best != 0 || r.Favourite.Next != -1 || r.Entrants[0].Win.P != 1 || !math.IsNaN(r.Entrants[0].TimeS.SD) {
		t.Errorf("%+v", r)
	}
}

// Runs divided among tallies at random and merged in any order come to the same bits.
func TestAnyDivisionMergesToTheSame(t *testing.T) {
	const runs = 80
	want := syntheticTally(t, 5, 0, runs).Result()
	rapid.Check(t, func(t *rapid.T) {
		parts := make([]*Tally, rapid.IntRange(1, 6).Draw(t, "tallies"))
		for i := range parts {
			parts[i] = mustTally(t, syntheticPlan)
		}
		for _, run := range rapid.Permutation(indices(runs)).Draw(t, "order") {
			parts[rapid.IntRange(0, len(parts)-1).Draw(t, "tally")].Add(run, synthetic(5, run))
		}
		for _, part := range parts[1:] {
			parts[0].Merge(part)
		}
		same(t, "divided", want, parts[0].Result())
	})
}

func indices(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// Naming the entrants in another order names the results in that order.
func TestPermutingEntrantsPermutesTheResult(t *testing.T) {
	want := syntheticTally(t, 6, 0, 30).Result()
	rapid.Check(t, func(t *rapid.T) {
		to := rapid.Permutation(indices(syntheticField)).Draw(t, "order") // entrant i becomes to[i]
		plan := syntheticPlan
		plan.Teams = permuted(to, plan.Teams)
		tally := mustTally(t, plan)
		for run := range 30 {
			tally.Add(run, permutedRun(to, synthetic(6, run)))
		}
		got := tally.Result()
		expected := want
		expected.Entrants = permuted(to, want.Entrants)
		expected.Favourite = permutedMargin(to, want.Favourite)
		expected.Contests = slices.Clone(want.Contests)
		c := &expected.Contests[0]
		c.Entrants, c.Favourite = permuted(to, c.Entrants), permutedMargin(to, c.Favourite)
		expected.Lines = slices.Clone(want.Lines)
		for l := range expected.Lines {
			expected.Lines[l].Entrants = permuted(to, want.Lines[l].Entrants)
		}
		expected.Climbs = []Gains{{0, 1, permuted(to, want.Climbs[0].Entrants)}}
		same(t, "permuted", expected, got)
	})
}

func permuted[T any](to []int, from []T) []T {
	out := make([]T, len(from))
	for i, v := range from {
		out[to[i]] = v
	}
	return out
}

func permutedMargin(to []int, m Margin) Margin {
	m.Best, m.Next, m.Level = to[m.Best], to[m.Next], slices.Clone(m.Level)
	for k, i := range m.Level {
		m.Level[k] = to[i]
	}
	return m
}

func permutedRun(to []int, r *race.Run) *race.Run {
	n := len(to)
	out := &race.Run{
		WorkJ: permuted(to, r.WorkJ), LeastBalanceJ: permuted(to, r.LeastBalanceJ),
		FrontS: permuted(to, r.FrontS), ShelteredS: permuted(to, r.ShelteredS),
	}
	for l := range len(r.CrossingS) / n {
		out.CrossingS = append(out.CrossingS, permuted(to, r.CrossingS[l*n:(l+1)*n])...)
	}
	return out
}

// estimates are what a tally estimates, with the standard errors it states.
func estimates(r Result) (values, errors []float64) {
	for i, e := range r.Entrants {
		line := r.Lines[2].Entrants[i]
		for _, m := range []Mean{e.Place, e.TimeS, line.GapS, r.Climbs[0].Entrants[i].Seconds} {
			values, errors = append(values, m.Mean), append(errors, m.SE)
		}
		for _, o := range []Odds{e.Win, e.Podium, line.InFront} {
			values, errors = append(values, o.P), append(errors, o.SE)
		}
	}
	for _, m := range []Mean{r.Lines[2].Front, r.Split.Posts[2].Within, r.Split.Posts[3].Lost} {
		values, errors = append(values, m.Mean), append(errors, m.SE)
	}
	return values, errors
}

// Twice the runs halve the variance of what is estimated between seeds, and the standard
// errors stated are that variance.
func TestMoreRunsTellMore(t *testing.T) {
	const seeds, runs = 50, 40
	first := seeded.First(t)
	var few, many spread
	stated := 0.0
	for seed := range uint64(seeds) {
		values, errors := estimates(syntheticTally(t, first+seed, 0, runs).Result())
		few.add(values)
		for _, e := range errors {
			stated += e * e
		}
		values, _ = estimates(syntheticTally(t, first+seed, 0, 2*runs).Result())
		many.add(values)
	}
	if ratio := many.pooled(few) / few.pooled(few); ratio < 0.35 || ratio > 0.7 {
		t.Errorf("variance ratio %.3f, outside 0.35…0.7", ratio)
	}
	var total float64
	for i := range few.sums {
		total += few.variance(i)
	}
	near(t, "stated variance over that between seeds", stated/seeds/total, 1, 0.15)
}

// spread gathers the variances of values between seeds.
type spread struct {
	n             float64
	sums, squares []float64
}

func (s *spread) add(values []float64) {
	if s.sums == nil {
		s.sums, s.squares = make([]float64, len(values)), make([]float64, len(values))
	}
	s.n++
	for i, v := range values {
		s.sums[i] += v
		s.squares[i] += v * v
	}
}

func (s *spread) variance(i int) float64 {
	return (s.squares[i] - s.sums[i]*s.sums[i]/s.n) / (s.n - 1)
}

// pooled is the mean variance of the values that vary, each in units of another's.
func (s *spread) pooled(unit spread) float64 {
	total, n := 0.0, 0.0
	for i := range s.sums {
		if unit.variance(i) > 1e-12 {
			total += s.variance(i) / unit.variance(i)
			n++
		}
	}
	return total / n
}

func TestCountingAllocatesNothing(t *testing.T) {
	tally, r := mustTally(t, syntheticPlan), synthetic(1, 0)
	if n := testing.AllocsPerRun(20, func() { tally.Add(3, r) }); n != 0 {
		t.Errorf("%v allocations a run", n)
	}
}

// The typical run is the one with the order that most runs have.
func TestTypicalRun(t *testing.T) {
	tally := mustTally(t, Plan{Entrants: 3, Lines: []int{0}})
	for run, times := range [][]float64{{3, 2, 1}, {1, 3, 2}, {1, 2, 3}, {1, 2, 3}, {1, 2, 3}, {2, 1, 3}} {
		tally.Add(run, runOf(3, times))
	}
	tally.Add(keptRuns, runOf(3, []float64{1, 2, 3}))
	if got := tally.Result().TypicalRun; got != 2 {
		t.Errorf("run %d", got)
	}
}

// A field that comes apart on one stretch, and a gap that closes again.
func TestWhereTheFieldSplits(t *testing.T) {
	plan := Plan{Entrants: 6, Lines: []int{4}, Finish: 4}
	for l := range 5 {
		plan.Posts = append(plan.Posts, Post{l, 1000 * float64(l+1)})
	}
	tally := mustTally(t, plan)
	luck := chance.New(3)
	for run := range 40 {
		var lines [][]float64
		for l, behind := range []float64{0, 30, 0, 20, 60} { // of the last three; the second gap closes
			line := make([]float64, 6)
			for i := range line {
				line[i] = 100*float64(l+1) + luck.Uniform()
				if i >= 3 {
					line[i] += behind
				}
			}
			lines = append(lines, line)
		}
		tally.Add(run, runOf(6, lines...))
	}
	d := tally.Result().Split.Decisive
	if d == nil || d.StartM != 3000 || d.EndM != 4000 || d.Lost.Mean != 3 || d.Before.Mean != 6 || d.After.Mean != 3 || d.Largest.P != 1 || d.Lost.SD != 0 {
		t.Errorf("%+v", d)
	}
}

func TestMargins(t *testing.T) {
	for _, c := range []struct {
		wins []int64
		runs int
		want string
	}{
		{[]int64{60, 30, 10}, 100, "0 1 0.30 true 0 []"},
		{[]int64{10, 24, 0, 21, 19}, 100, "1 3 0.03 false 2000 [3 4]"},
		{[]int64{5, 5}, 10, "0 1 0.00 false 0 [1]"},
		{[]int64{7}, 10, "0 -1 0.00 false 0 []"},
		{nil, 10, "-1 -1 0.00 false 0 []"},
	} {
		odds := make([]Odds, len(c.wins))
		for i, w := range c.wins {
			odds[i] = oddsIn(w, c.runs)
		}
		m := marginOf(odds, make([]Mean, len(odds)))
		if got := fmt.Sprintf("%d %d %.2f %v %d %v", m.Best, m.Next, m.Difference, m.Told, m.RunsToTell, m.Level); got != c.want {
			t.Errorf("%v of %d: %s, not %s", c.wins, c.runs, got, c.want)
		}
	}
}

func TestPlansAreWhole(t *testing.T) {
	for _, p := range []Plan{
		{},
		{Entrants: 2, Finish: -1},
		{Entrants: 2, Teams: []int{0}},
		{Entrants: 2, Lines: []int{1}},
		{Entrants: 2, Lines: []int{-1}},
		{Entrants: 2, Climbs: []Climb{{0, 1}}},
		{Entrants: 2, Posts: []Post{{Line: 1}}},
		{Entrants: 2, Contests: []scoring.Contest{{Scores: []scoring.Score{{Kind: scoring.ByOrder, Line: 1}}}}},
	} {
		if _, err := New(p); err == nil {
			t.Errorf("taken: %+v", p)
		}
	}
}
