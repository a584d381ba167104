package tally

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/race"
	"parcours.example/analysis/scoring"
)

var nan = math.NaN()

// runOf is a run with the crossings of n entrants, line by line; the rest of what is
// counted follows from the entrant's number.
func runOf(n int, crossings ...[]float64) *race.Run {
	r := &race.Run{
		WorkJ: make([]float64, n), LeastBalanceJ: make([]float64, n), FrontS: make([]float64, n), ShelteredS: make([]float64, n),
	}
	for _, line := range crossings {
		r.CrossingS = append(r.CrossingS, line...)
	}
	for i := range n {
		r.WorkJ[i], r.LeastBalanceJ[i] = 1000*float64(i+1), 100*float64(i)
		r.FrontS[i], r.ShelteredS[i] = 10*float64(i), 20*float64(i)
	}
	return r
}

// same demands that two results are equal to the last bit.
func same(t rapid.TB, what string, want, got Result) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs()); diff != "" {
		t.Fatalf("%s (-want +got):\n%s", what, diff)
	}
}

// The synthetic race: a foot, a top and a finish, and four posts with them.
var syntheticPlan = Plan{
	Entrants: syntheticField, Teams: []int{0, 1, 0, 1, -1, 2, 2, 2, -1, -1, 0, 1}, Lines: []int{1, 2, 3}, Finish: 3,
	Climbs: []Climb{{1, 2}}, Posts: []Post{{0, 1000}, {1, 2000}, {2, 3000}, {3, 4000}},
	Contests: []scoring.Contest{{Best: 2, Scores: []scoring.Score{
		{Kind: scoring.ByOrder, Line: 1, Points: []float64{5, 3, 1}},
		{Kind: scoring.ByTime, From: 1, Line: 2, Points: []float64{4, 2.5, 1}},
		{Kind: scoring.ByFinish, Points: []float64{10, 7, 5, 3, 1}},
	}}},
}

const syntheticField = 12

// synthetic draws a run: each entrant's time of a stretch is normal, some entrants are
// better than others, ties are common, and some don't finish.
func synthetic(seed uint64, run int) *race.Run {
	const n = syntheticField
	luck := chance.New(seed, uint64(run))
	lines := make([][]float64, 4)
	for l := range lines {
		lines[l] = make([]float64, n)
	}
	for i := range n {
		at, out := 0.0, false
		for l := range lines {
			at += 100 + 0.1*float64(i) + math.Round(10*luck.Normal())/10*float64(1+i%3)
			out = out || luck.Uniform() < 0.01
			lines[l][i] = at
			if out {
				lines[l][i] = nan
			}
		}
	}
	return runOf(n, lines...)
}

// syntheticTally counts the runs from one on up to another.
func syntheticTally(t rapid.TB, seed uint64, from, to int) *Tally {
	tally := mustTally(t, syntheticPlan)
	for run := from; run < to; run++ {
		tally.Add(run, synthetic(seed, run))
	}
	return tally
}

func mustTally(t rapid.TB, p Plan) *Tally {
	t.Helper()
	tally, err := New(p)
	if err != nil {
		t.Fatal(err)
	}
	return tally
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, not %v ± %v", what, got, want, within)
	}
}
