package engine

import (
	"math"
	"slices"
	"sort"

	"parcours.example/analysis/tally"
)

// End is which end of a climb a line is at.
type End string

// The ends of a climb.
const (
	AtFoot End = "foot"
	AtTop  End = "top"
)

// RaceLine is a line that a race is told at.
type RaceLine struct {
	Place Span
	// End is empty where the place is no climb.
	End End
	// line is the index among all lines of the race.
	line int
}

// AtM is the line's position on the course in metres.
func (l RaceLine) AtM() float64 {
	if l.End == AtFoot {
		return l.Place.StartM
	}
	return l.Place.EndM
}

// raceClimb is a pass of a climb with its lines.
type raceClimb struct {
	place Span
	tally.Climb
}

const (
	// stretches is the number of equal stretches on which the field's splitting is looked
	// for.
	stretches = 60
	// sameLineM is the distance in metres below which two lines are one.
	sameLineM = 0.01
)

// raceLines are the lines at which crossings are timed, on the race's own axis.
type raceLines struct {
	atM    []float64
	told   []RaceLine
	climbs []raceClimb
	posts  []tally.Post
}

// gather collects positions before their indices are known.
type gather struct{ atM []float64 }

func (g *gather) add(atM float64) { g.atM = append(g.atM, atM) }

// sorted returns the positions in order, each once, the last exactly where the race ends.
func (g *gather) sorted(lengthM float64) []float64 {
	g.add(lengthM)
	sort.Float64s(g.atM)
	var lines []float64
	for _, at := range g.atM {
		if n := len(lines); n == 0 || at-lines[n-1] >= sameLineM {
			lines = append(lines, at)
		}
	}
	lines[len(lines)-1] = lengthM
	return lines
}

// lay finds the lines: passes of marks, feet and tops of climbs, the lines of contests,
// the posts and the finish.
func (s *scenario) lay() {
	length := s.road.LengthM()
	told := s.toldPlaces()
	var g gather
	for k := 1; k < stretches; k++ {
		g.add(length * float64(k) / stretches)
	}
	for _, l := range told {
		g.add(s.onRoad(l.AtM()))
	}
	for _, c := range s.contests {
		for _, sc := range c.scores {
			g.add(sc.toM)
			if sc.by == BySectionTime {
				g.add(sc.fromM)
			}
		}
	}
	s.lines = raceLines{atM: g.sorted(length), told: told}
	for i := range told {
		told[i].line = s.lines.at(s.onRoad(told[i].AtM()))
	}
	for i := range told {
		if told[i].End == AtFoot {
			top := RaceLine{Place: told[i].Place, End: AtTop}
			s.lines.climbs = append(s.lines.climbs, raceClimb{
				told[i].Place, tally.Climb{Foot: told[i].line, Top: s.lines.at(s.onRoad(top.AtM()))},
			})
		}
	}
	for k := 1; k <= stretches; k++ {
		at := length * float64(k) / stretches
		s.lines.posts = append(s.lines.posts, tally.Post{Line: s.lines.at(at), AtM: at})
	}
}

// at returns the index of the line at a position, which has one.
func (l *raceLines) at(atM float64) int {
	i := sort.SearchFloat64s(l.atM, atM-sameLineM)
	for i+1 < len(l.atM) && math.Abs(l.atM[i+1]-atM) < math.Abs(l.atM[i]-atM) {
		i++
	}
	return min(i, len(l.atM)-1)
}

// onRoad brings a position on the course onto the race's axis, a metre from the start at
// least: at the start itself nothing has happened yet.
func (s *scenario) onRoad(courseM float64) float64 {
	return min(max(courseM-s.from, leastLineM), s.road.LengthM())
}

// toldPlaces lists the lines that are told, in course order.
func (s *scenario) toldPlaces() []RaceLine {
	var told []RaceLine
	for _, span := range spansOf(s.course, s.from, s.to) {
		span.Passes = s.passesOf(span)
		switch {
		case span.Of == FeatureMark && span.StartM-s.from >= leastLineM:
			told = append(told, RaceLine{Place: span})
		case span.Of == FeatureClimb:
			told = append(told, RaceLine{Place: span, End: AtFoot}, RaceLine{Place: span, End: AtTop})
		}
	}
	for _, c := range s.contests {
		for _, sc := range c.scores {
			if sc.place.Of == FeaturePoint && !slices.ContainsFunc(told, func(l RaceLine) bool { return l.Place == sc.place }) {
				told = append(told, RaceLine{Place: sc.place})
			}
		}
	}
	told = append(told, RaceLine{Place: Span{Of: FeatureFinish, Name: "the finish", StartM: s.to, EndM: s.to}})
	sort.SliceStable(told, func(i, j int) bool { return told[i].AtM() < told[j].AtM() })
	return told
}

// passesOf returns how often a climb or a mark is passed on the whole course.
func (s *scenario) passesOf(span Span) int {
	switch span.Of {
	case FeatureClimb:
		return len(s.course.Terrain.Climbs[span.Index].Passes)
	case FeatureMark:
		return len(s.course.Terrain.Marks[span.Index].Passes)
	}
	return 0
}
