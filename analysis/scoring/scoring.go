// Package scoring turns the times at which riders cross lines into points: by the order in
// which a line is crossed, by the time over a section, by the place at the finish.
//
// Each pass of a line is a line of its own, and scores by itself. Who doesn't finish keeps
// the points won at lines before. Riders less than 0.001 s behind the first of them are
// level: they share the points of as many places equally, and the next rider's place counts
// them all (common practice where times are taken to a thousandth of a second).
package scoring

// Contest is a competition for points within a race.
type Contest struct {
	Name   string
	Scores []Score
	// Best is how many entrants count for a team in each score, those placed first; 0 counts
	// all.
	Best int
}

// Kind is what a score goes by.
type Kind string

// The kinds of scores.
const (
	// ByOrder goes by the order in which Line is crossed.
	ByOrder Kind = "order"
	// ByTime goes by the time from crossing From to crossing Line, the shortest first.
	ByTime Kind = "time"
	// ByFinish goes by the order at the last line.
	ByFinish Kind = "finish"
)

// Score is one occasion to win points.
type Score struct {
	Kind Kind
	// From and Line are lines of the race, 0 the first. ByFinish needs neither, ByOrder only
	// Line.
	From, Line int
	// Points are those of the first place, the second, and so on, up to MostPlaces; places
	// beyond have none.
	Points []float64
}

// MostPlaces is how many places of a score may have points.
const MostPlaces = 200

const noTeam = -1

// Teams numbers the names of the entrants' teams in the order in which they first appear:
// of is each entrant's, −1 without a name.
func Teams(entrants []string) (names []string, of []int) {
	number := map[string]int{"": noTeam}
	of = make([]int, len(entrants))
	for i, name := range entrants {
		if _, known := number[name]; !known {
			number[name] = len(names)
			names = append(names, name)
		}
		of[i] = number[name]
	}
	return names, of
}
