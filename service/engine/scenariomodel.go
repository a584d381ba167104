package engine

import (
	"fmt"
	"strings"

	"parcours.example/analysis/tally"
)

// model says what the computation supposes.
func (s *scenario) model() []string {
	r := s.rules
	out := []string{
		fmt.Sprintf("All start together and move by the motion of /v1/predictions, in steps of %v s; alone, a rider gives the effort and takes the time told as alone_s.", r.StepS),
	}
	return out
}

// recommend says what the runs come to in words.
func (s *scenario) recommend(out *Scenario) string {
	names := tally.Names{Teams: s.teams, Contests: out.Contests}
	for _, c := range s.field {
		names.Entrants = append(names.Entrants, c.Name)
	}
	for _, l := range s.lines.told {
		names.Lines = append(names.Lines, l.words())
	}
	for _, c := range out.Climbs {
		names.Climbs = append(names.Climbs, theClimb(c))
	}
	if out.Decisive != nil {
		names.Split = theClimb(*out.Decisive)
	}
	return tally.Recommendation(out.Result, names)
}

// words names a line so that it follows "at".
func (l RaceLine) words() string {
	switch l.End {
	case AtFoot:
		return "the foot of " + theClimb(l.Place)
	case AtTop:
		return "the top of " + theClimb(l.Place)
	}
	return l.Place.Words()
}

// theClimb names a climb or a stretch so that it follows "on". Climbs without a name of
// their own are called by their ids.
func theClimb(s Span) string {
	words := s.Words()
	if s.Of == FeatureClimb && strings.TrimSpace(s.Name) == "" {
		return "climb " + strings.TrimPrefix(words, "climb-")
	}
	return words
}
