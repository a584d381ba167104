package tally

import (
	"fmt"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/chance"
	"parcours.example/analysis/scoring"
	"parcours.example/analysis/wording"
	"parcours.example/internal/golden"
)

// tale is an invented race of which the numbers are known: how far each entrant is behind
// the first at the foot of a climb, at its top and at the finish, with the luck at each.
type tale struct {
	name  string
	runs  int
	at    [3][]float64 // s behind by entrant
	luckS [3]float64
	teams []int
	// points are those of the contest at the top.
	points []float64
}

// alike returns the same number for each of some entrants.
func alike(n int, v float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func tales() []tale {
	none := alike(6, 0)
	return []tale{
		{"one rides away on the climb", 200, [3][]float64{none, {0, 9, 9, 9, 9, 9}, {0, 20, 20, 21, 22, 40}}, [3]float64{0.3, 1, 3}, []int{0, 0, 1, 1, 2, 2}, []float64{5, 3, 1}},
		{"the climb splits the field, two may win", 100, [3][]float64{{0, 0, 0, 4, 4, 4}, {0, 0.5, 2, 20, 20, 20}, {0, 0.4, 3, 40, 40, 40}}, [3]float64{0.5, 2, 2}, []int{0, 0, 0, 1, 1, 1}, []float64{5, 3, 1}},
		{"a bunch sprint of equals", 100, [3][]float64{none, none, none}, [3]float64{0.2, 0.2, 0.5}, nil, nil},
		{"the favourite is often left behind before the foot", 300, [3][]float64{{1.5, 0, 0, 0, 0, 0}, none, {0, 3, 3, 3, 3, 3}}, [3]float64{1, 0.5, 3}, []int{0, 1, 1, 1, 1, 1}, []float64{1}},
		{"two alike", 400, [3][]float64{{0, 0}, {0, 0}, {0, 0}}, [3]float64{1, 1, 1}, []int{0, 1}, []float64{2, 1}},
		{"one alone", 20, [3][]float64{{0}, {0}, {0}}, [3]float64{2, 2, 2}, nil, []float64{3}},
		{"nobody finishes", 5, [3][]float64{none, alike(6, nan), alike(6, nan)}, [3]float64{1, 1, 1}, nil, nil},
		{"nothing raced", 0, [3][]float64{none, none, none}, [3]float64{}, nil, nil},
		{"the field may split anywhere", 100, [3][]float64{none, none, none}, [3]float64{2.5, 3, 4}, nil, nil},
		{"few runs", 4, [3][]float64{{3, 0, 0, 0, 0, 0}, {0, 9, 9, 9, 9, 9}, {0, 60, 60, 60, 60, 60}}, [3]float64{0.01, 0.01, 0.01}, nil, nil},
		{"one wins always", 30, [3][]float64{none, none, {0, 60, 60, 60, 60, 60}}, [3]float64{0.1, 0.1, 0.1}, nil, nil},
	}
}

var riders, clubs = []string{"Nour", "Bram", "Isa", "Tilo", "Ada", "Piet"}, []string{"Mill", "Weir", "Lock"}

// tell races the tale.
func (a tale) tell(t rapid.TB) Result {
	n := len(a.at[0])
	p := Plan{
		Entrants: n, Teams: a.teams, Lines: []int{0, 1, 2}, Finish: 2, Climbs: []Climb{{0, 1}},
		Posts: []Post{{0, 8000}, {0, 9000}, {1, 10_000}, {1, 15_000}, {2, 20_000}},
	}
	if a.points != nil {
		p.Contests = []scoring.Contest{{Scores: []scoring.Score{{Kind: scoring.ByOrder, Line: 1, Points: a.points}}}}
	}
	tally := mustTally(t, p)
	for run := range a.runs {
		luck := chance.New(21, uint64(run))
		var lines [][]float64
		late := make([]float64, n)
		for l := range a.at {
			line := make([]float64, n)
			for i := range line {
				late[i] += a.luckS[l] * luck.Normal()
				line[i] = 1000*float64(l+1) + a.at[l][i] + late[i]
			}
			lines = append(lines, line)
		}
		tally.Add(run, runOf(n, lines...))
	}
	return tally.Result()
}

// names are those of the tale with a result.
func names(r Result) Names {
	n := Names{
		Entrants: riders, Teams: clubs, Contests: []string{"Climbing"},
		Lines: []string{"the foot of the Mill climb", "the top of the Mill climb", "the finish"}, Climbs: []string{"the Mill climb"},
	}
	if d := r.Split.Decisive; d != nil {
		n.Split = fmt.Sprintf("the stretch from %s to %s", wording.Metres(d.StartM), wording.Metres(d.EndM))
	}
	return n
}

// The paragraphs, as people have read them.
func TestRecommendations(t *testing.T) {
	var told strings.Builder
	for _, a := range tales() {
		r := a.tell(t)
		fmt.Fprintf(&told, "%s:\n%s\n\n", a.name, Recommendation(r, names(r)))
	}
	golden.Check(t, "recommendations.txt", told.String())
}

// Every number of a paragraph is one of the result, written as people read it.
func TestNumbersOfAParagraphAreThoseOfTheResult(t *testing.T) {
	token := regexp.MustCompile(`\d[\d.:,]*\d|\d`)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "entrants")
		a := tale{runs: rapid.IntRange(1, 60).Draw(t, "runs"), teams: []int{0, 0, 1, 1, 2, -1}[:n], points: []float64{5, 3, 1}}
		for l := range a.at {
			a.luckS[l] = rapid.Float64Range(0, 5).Draw(t, "luck")
			for range n {
				a.at[l] = append(a.at[l], rapid.OneOf(rapid.Float64Range(0, 20), rapid.Just(0.), rapid.Just(math.NaN())).Draw(t, "behind"))
			}
		}
		r := a.tell(t)
		called := names(r)
		text := Recommendation(r, called)
		if text == "" || !strings.HasSuffix(text, ".") || strings.Contains(text, "NaN") || strings.Contains(text, "%!") || strings.Contains(text, "  ") {
			t.Fatalf("%q", text)
		}
		text = strings.ReplaceAll(text, called.Split, "")
		text = strings.NewReplacer("(95 % interval)", "", "within 5 s of the first", "").Replace(text)
		known := map[string]bool{strconv.Itoa(len(r.Entrants)): true, "1": true} // under 1 %
		collect(reflect.ValueOf(r), known)
		for _, number := range token.FindAllString(text, -1) {
			if !known[number] {
				t.Fatalf("%s is not in the result: %s", number, text)
			}
		}
	})
}

// collect writes all numbers of a value in the ways in which they may be told.
func collect(v reflect.Value, into map[string]bool) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			collect(v.Field(i), into)
		}
	case reflect.Slice:
		for i := range v.Len() {
			collect(v.Index(i), into)
		}
		into[strconv.Itoa(v.Len())], into[strconv.Itoa(v.Len()-1)] = true, true
	case reflect.Pointer:
		if !v.IsNil() {
			collect(v.Elem(), into)
		}
	case reflect.Int:
		into[wording.Count(int(max(0, v.Int())))] = true
	case reflect.Float64:
		f := v.Float()
		for _, text := range []string{number(f), number(100 * f), wording.Chance(f), wording.Seconds(f), wording.Clock(f)} {
			into[strings.TrimPrefix(strings.TrimPrefix(strings.Fields(text)[0], "under"), "over")] = true
		}
	}
}
