package scoring_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/scoring"
)

const mostTeams = 5

var never = math.NaN()

// run scores crossings, one line after another, of entrants in teams.
func run(t interface{ Fatal(...any) }, c scoring.Contest, teams []int, lines ...[]float64) (entrants, ofTeams []float64) {
	s, err := scoring.NewScorer(c, teams, len(lines))
	if err != nil {
		t.Fatal(err)
	}
	entrants, ofTeams = make([]float64, len(teams)), make([]float64, mostTeams)
	for _, points := range [][]float64{entrants, ofTeams} {
		for i := range points {
			points[i] = 7 // of a run before
		}
	}
	s.Points(slices.Concat(lines...), entrants, ofTeams)
	return entrants, ofTeams
}

func TestKindsOfScores(t *testing.T) {
	// Three lines, four entrants; the last of them leaves after the first line.
	foot, top, finish := []float64{100, 101, 103, 99}, []float64{205, 203, 204, never}, []float64{401, 400, 402, never}
	points := []float64{5, 3, 2.5}
	for _, c := range []struct {
		name  string
		score scoring.Score
		want  []float64
	}{
		{"order at a line", scoring.Score{Kind: scoring.ByOrder, Line: 0, Points: points}, []float64{3, 2.5, 0, 5}},
		{"time over a section", scoring.Score{Kind: scoring.ByTime, From: 0, Line: 1, Points: points}, []float64{2.5, 3, 5, 0}},
		{"finish", scoring.Score{Kind: scoring.ByFinish, Points: points}, []float64{3, 5, 2.5, 0}},
		{"fewer finish than have points", scoring.Score{Kind: scoring.ByFinish, Points: []float64{5, 4, 3, 2, 1}}, []float64{4, 5, 3, 0}},
		{"no points", scoring.Score{Kind: scoring.ByOrder, Line: 1}, []float64{0, 0, 0, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, _ := run(t, scoring.Contest{Scores: []scoring.Score{c.score}}, []int{0, 0, 0, 0}, foot, top, finish)
			if !slices.Equal(got, c.want) {
				t.Errorf("%v, not %v", got, c.want)
			}
		})
	}
}

func TestScoresAddUp(t *testing.T) {
	c := scoring.Contest{Scores: []scoring.Score{
		{Kind: scoring.ByOrder, Line: 0, Points: []float64{3, 1}},
		{Kind: scoring.ByFinish, Points: []float64{10, 5}},
	}}
	got, _ := run(t, c, []int{-1, -1, -1}, []float64{1, 2, 3}, []float64{never, 8, 9})
	if want := []float64{3, 11, 5}; !slices.Equal(got, want) {
		t.Errorf("%v, not %v: who doesn't finish keeps what was won before", got, want)
	}
}

func TestLevelRidersShare(t *testing.T) {
	points := []float64{10, 6, 4, 3}
	for _, c := range []struct {
		name  string
		times []float64
		want  []float64
	}{
		{"two first", []float64{5, 5, 6}, []float64{8, 8, 4}},
		{"within a thousandth", []float64{5.0009, 5, 6}, []float64{8, 8, 4}},
		{"a thousandth apart", []float64{12.346, 12.345, 13}, []float64{6, 10, 4}},
		{"level with the first, not with the one ahead", []float64{5, 5.0006, 5.0012}, []float64{8, 8, 4}},
		{"over the end of the table", []float64{1, 2, 3, 4, 4, 4}, []float64{10, 6, 4, 1, 1, 1}},
		{"beyond it", []float64{1, 2, 3, 4, 5, 5}, []float64{10, 6, 4, 3, 0, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			contest := scoring.Contest{Scores: []scoring.Score{{Kind: scoring.ByOrder, Points: points}}}
			got, _ := run(t, contest, make([]int, len(c.times)), c.times)
			if !slices.Equal(got, c.want) {
				t.Errorf("%v, not %v", got, c.want)
			}
		})
	}
}

func TestTeams(t *testing.T) {
	names, of := scoring.Teams([]string{"Heron", "", "Otter", "Heron", "Otter", "Heron"})
	if !slices.Equal(names, []string{"Heron", "Otter"}) || !slices.Equal(of, []int{0, -1, 1, 0, 1, 0}) {
		t.Fatal(names, of)
	}
	points := []float64{20, 10, 5, 4, 3, 2}
	at, finish := []float64{1, 2, 3, 4, 5, 6}, []float64{16, 15, 14, 13, 12, 11}
	for best, want := range map[int][]float64{
		0: {20 + 4 + 2 + 20 + 5 + 2, 5 + 3 + 10 + 4},
		1: {20 + 20, 5 + 10},
		2: {20 + 4 + 20 + 5, 5 + 3 + 10 + 4},
	} {
		c := scoring.Contest{Best: best, Scores: []scoring.Score{
			{Kind: scoring.ByOrder, Points: points}, {Kind: scoring.ByFinish, Points: points},
		}}
		if _, got := run(t, c, of, at, finish); !slices.Equal(got[:2], want) {
			t.Errorf("best %d: %v, not %v", best, got[:2], want)
		}
	}
}

func TestContestsThatCannotBeScored(t *testing.T) {
	good := scoring.Score{Kind: scoring.ByFinish}
	for _, c := range []struct {
		code string
		bad  scoring.Score
	}{
		{scoring.CodeUnknownScore, scoring.Score{}},
		{scoring.CodeNoSuchLine, scoring.Score{Kind: scoring.ByOrder, Line: 3}},
		{scoring.CodeNoSuchLine, scoring.Score{Kind: scoring.ByOrder, Line: -1}},
		{scoring.CodeNoSuchLine, scoring.Score{Kind: scoring.ByTime, From: -1, Line: 1}},
		{scoring.CodeNoSuchLine, scoring.Score{Kind: scoring.ByTime, From: 1, Line: 3}},
		{scoring.CodeBackwardSection, scoring.Score{Kind: scoring.ByTime, From: 1, Line: 1}},
		{scoring.CodeTooManyPlaces, scoring.Score{Kind: scoring.ByFinish, Points: make([]float64, 201)}},
		{scoring.CodeInvalid, scoring.Score{Kind: scoring.ByFinish, Points: []float64{1, math.NaN()}}},
		{scoring.CodeInvalid, scoring.Score{Kind: scoring.ByFinish, Points: []float64{math.Inf(1)}}},
	} {
		_, err := scoring.NewScorer(scoring.Contest{Scores: []scoring.Score{good, c.bad}}, []int{0}, 3)
		var e *scoring.Error
		if !errors.As(err, &e) || e.Code != c.code || e.Score != 1 || e.Error() == "" {
			t.Errorf("%+v: %+v", c.bad, err)
		}
	}
	if _, err := scoring.NewScorer(scoring.Contest{}, nil, 0); err != nil {
		t.Error("nothing to score is no error:", err)
	}
	if _, err := scoring.NewScorer(scoring.Contest{Scores: []scoring.Score{good}}, nil, 0); err == nil {
		t.Error("a race without lines has a finish")
	}
}

// field is a race of which each entrant crosses the lines in order, and may stop.
type field struct {
	contest scoring.Contest
	teams   []int
	lines   [][]float64
}

func drawField(t *rapid.T) field {
	n, lines := rapid.IntRange(1, 30).Draw(t, "entrants"), rapid.IntRange(2, 4).Draw(t, "lines")
	f := field{
		contest: scoring.Contest{Best: rapid.IntRange(0, 3).Draw(t, "best")},
		teams:   rapid.SliceOfN(rapid.IntRange(-1, mostTeams-1), n, n).Draw(t, "teams"),
		lines:   make([][]float64, lines),
	}
	for l := range f.lines {
		f.lines[l] = make([]float64, n)
	}
	for i := range n {
		clock, reached := 0.0, rapid.IntRange(0, lines).Draw(t, "reached")
		for l := range lines {
			// Fractions of two are exact, and few enough for riders to be level.
			clock += float64(rapid.IntRange(1, 12).Draw(t, "leg")) / 4096
			f.lines[l][i] = clock
			if l >= reached {
				f.lines[l][i] = never
			}
		}
	}
	points := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 100), func(n int) float64 { return float64(n) / 4 }), 0, 40)
	for range rapid.IntRange(1, 3).Draw(t, "scores") {
		from := rapid.IntRange(0, lines-2).Draw(t, "from")
		f.contest.Scores = append(f.contest.Scores, scoring.Score{
			Kind: rapid.SampledFrom([]scoring.Kind{scoring.ByOrder, scoring.ByTime, scoring.ByFinish}).Draw(t, "kind"),
			From: from, Line: rapid.IntRange(from+1, lines-1).Draw(t, "line"), Points: points.Draw(t, "points"),
		})
	}
	return f
}

func alike(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) <= 1e-9 })
}

func TestPermutingEntrantsPermutesPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawField(t)
		entrants, teams := run(t, f.contest, f.teams, f.lines...)
		order := make([]int, len(f.teams))
		for i := range order {
			order[i] = i
		}
		order = rapid.Permutation(order).Draw(t, "order")
		permuted := func(of []float64) []float64 {
			p := make([]float64, len(of))
			for i, from := range order {
				p[i] = of[from]
			}
			return p
		}
		shuffled := make([]int, len(f.teams))
		for i, from := range order {
			shuffled[i] = f.teams[from]
		}
		var lines [][]float64
		for _, l := range f.lines {
			lines = append(lines, permuted(l))
		}
		got, gotTeams := run(t, f.contest, shuffled, lines...)
		if !alike(got, permuted(entrants)) || !alike(gotTeams, teams) {
			t.Fatalf("%v of %v; teams %v, not %v", got, entrants, gotTeams, teams)
		}
	})
}

// As many places have points as entrants were placed, and all of them are given.
func TestPointsSumToTheTables(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawField(t)
		f.contest.Best = 0
		got, teams := run(t, f.contest, f.teams, f.lines...)
		want := 0.0
		for _, s := range f.contest.Scores {
			line := s.Line
			if s.Kind == scoring.ByFinish {
				line = len(f.lines) - 1
			}
			placed := 0
			for _, at := range f.lines[line] {
				if !math.IsNaN(at) {
					placed++
				}
			}
			want += sum(s.Points[:min(placed, len(s.Points))])
		}
		if math.Abs(sum(got)-want) > 1e-9 {
			t.Fatalf("%v points of %v", sum(got), want)
		}
		for i, team := range f.teams {
			if team < 0 {
				want -= got[i]
			}
		}
		if math.Abs(sum(teams)-want) > 1e-9 {
			t.Fatalf("%v points of teams, %v of their riders", sum(teams), want)
		}
	})
}

func sum(of []float64) float64 {
	total := 0.0
	for _, x := range of {
		total += x
	}
	return total
}

func TestShiftingAllTimesChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawField(t)
		entrants, teams := run(t, f.contest, f.teams, f.lines...)
		shift := float64(rapid.IntRange(-5000, 5000).Draw(t, "shift"))
		for _, line := range f.lines {
			for i := range line {
				line[i] += shift
			}
		}
		got, gotTeams := run(t, f.contest, f.teams, f.lines...)
		if !slices.Equal(got, entrants) || !slices.Equal(gotTeams, teams) {
			t.Fatalf("%v, not %v", got, entrants)
		}
	})
}

// large is a field of 200 over ten lines, each of which is scored.
func large(t testing.TB) (*scoring.Scorer, []float64) {
	const entrants, lines = 200, 10
	c := scoring.Contest{Best: 3}
	for l := range lines {
		c.Scores = append(c.Scores, scoring.Score{Kind: scoring.ByOrder, Line: l, Points: []float64{20, 15, 10, 5, 1}})
	}
	crossingS, teams := make([]float64, lines*entrants), make([]int, entrants)
	for i := range crossingS {
		crossingS[i] = float64(i/entrants*300) + math.Mod(float64(i)*617.31, 60)
	}
	for i := range teams {
		teams[i] = i % 25
	}
	s, err := scoring.NewScorer(c, teams, lines)
	if err != nil {
		t.Fatal(err)
	}
	return s, crossingS
}

func TestScoringARunAllocatesNothing(t *testing.T) {
	s, crossingS := large(t)
	entrants, teams := make([]float64, 200), make([]float64, 25)
	if n := testing.AllocsPerRun(10, func() { s.Points(crossingS, entrants, teams) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkPoints(b *testing.B) {
	s, crossingS := large(b)
	entrants, teams := make([]float64, 200), make([]float64, 25)
	b.ReportAllocs()
	for b.Loop() {
		s.Points(crossingS, entrants, teams)
	}
}
