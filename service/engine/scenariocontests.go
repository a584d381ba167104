package engine

import (
	"fmt"

	"parcours.example/analysis/scoring"
	"parcours.example/internal/shortform"
)

// ScoreBy is what points are given by.
type ScoreBy string

// The kinds of scores.
const (
	ByCrossing    ScoreBy = "crossing"
	BySectionTime ScoreBy = "section_time"
	ByFinish      ScoreBy = "finish"
)

// Contest is a competition for points.
type Contest struct {
	Name   string
	Scores []Score
	// BestOfTeam is how many of a team count in each score; 0 for all.
	BestOfTeam int
}

// Score gives points at a place, on each pass for itself.
type Score struct {
	By ScoreBy
	// At is nil for the finish.
	At *Place
	// Points are those of the first, the second, ….
	Points []float64
}

// contest is a contest with each pass of its scores on its own.
type contest struct {
	name   string
	best   int
	scores []passScore
}

// passScore is a score on one pass, at positions on the race's own axis.
type passScore struct {
	by         ScoreBy
	place      Span
	fromM, toM float64
	points     []float64
}

// contend finds what the contests are about.
func (s *scenario) contend() error {
	count := 0
	names := map[string]bool{}
	for i, asked := range s.asked.Contests {
		at := fmt.Sprintf("#/contests/%d", i)
		if names[asked.Name] {
			return &Error{Code: CodeNotComputable, Pointer: at + "/name", Detail: fmt.Sprintf("Two contests are named %q.", shortform.Clip(asked.Name))}
		}
		names[asked.Name] = true
		c := contest{name: asked.Name, best: asked.BestOfTeam}
		for j, score := range asked.Scores {
			passes, err := s.scorePasses(score, fmt.Sprintf("%s/scores/%d", at, j))
			if err != nil {
				return err
			}
			c.scores = append(c.scores, passes...)
		}
		count += len(c.scores)
		s.contests = append(s.contests, c)
	}
	if count > MostScores {
		return tooMany("#/contests", "scores, each pass counted", MostScores, count)
	}
	return nil
}

// scorePasses returns a score, which stands at a pointer, pass by pass.
func (s *scenario) scorePasses(score Score, at string) ([]passScore, error) {
	place := Place{Finish: true}
	if score.At != nil {
		place = *score.At
	}
	passes, err := s.passes(place, at+"/at", false)
	if err != nil {
		return nil, err
	}
	var out []passScore
	for _, p := range passes {
		if score.By == BySectionTime && p.span.Of != FeatureClimb && p.span.Of != FeatureStretch {
			return nil, &Error{Code: CodeNotComputable, Pointer: at + "/at", Detail: fmt.Sprintf("A section is timed over a climb or a stretch; %s is neither.", p.span.Words())}
		}
		out = append(out, passScore{by: score.By, place: p.span, fromM: s.onRoad(p.span.StartM), toM: p.atM, points: score.Points})
	}
	return out, nil
}

// contested returns the positions of the lines that all may race for, in order: those that
// are scored by crossing.
func (s *scenario) contested() []float64 {
	var g gather
	for _, c := range s.contests {
		for _, score := range c.scores {
			if score.by == ByCrossing {
				g.add(score.toM)
			}
		}
	}
	return g.sorted(s.road.LengthM())
}

// scored returns the contests by the lines that are timed.
func (s *scenario) scored() []scoring.Contest {
	kinds := map[ScoreBy]scoring.Kind{ByCrossing: scoring.ByOrder, BySectionTime: scoring.ByTime, ByFinish: scoring.ByFinish}
	var out []scoring.Contest
	for _, c := range s.contests {
		scored := scoring.Contest{Name: c.name, Best: c.best}
		for _, score := range c.scores {
			scored.Scores = append(scored.Scores, scoring.Score{
				Kind: kinds[score.by], From: s.lines.at(score.fromM), Line: s.lines.at(score.toM), Points: score.points,
			})
		}
		out = append(out, scored)
	}
	return out
}
