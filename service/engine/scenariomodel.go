package engine

import (
	"fmt"
	"strings"

	"parcours.example/analysis/tally"
	"parcours.example/analysis/wording"
)

// model says what the computation supposes.
func (s *scenario) model() []string {
	r := s.rules
	out := []string{fmt.Sprintf("All start together and move by the motion of /v1/predictions, in steps of %s s; a rider without any others gives the effort and takes alone_s.", wording.Number(r.StepS, 3))}
	switch {
	case len(s.field) == 1:
		return append(out, "A field of one has no luck, no rivals and no limits: it rides its effort as asked.")
	case r.Alone:
		return append(out,
			"Nobody shelters, follows or sprints: each gives the effort, as far as the day's form goes.",
			s.luck(),
		)
	}
	out = append(out,
		"Riders are one group as long as none is more than 20 m behind the wheel ahead. The drag that is left behind others follows Fitton (2018) in lines, Olds (1998) across gaps and Blocken (2018) in bunches.",
		fmt.Sprintf("A bunch rides up to %s abreast at 40 km/h and below, and in one line from about 60 km/h on.", wording.Number(r.Abreast, 2)),
		"A wheel is held above critical power for as long as W′ lasts: what is left of it is spent ever more slowly, and with it gone the wheel goes. Who is willing makes the pace in turns; who finds it too slow comes through; a group less than 100 m ahead is chased.",
		"In the last ten minutes what is left of W′ is spent, three minutes before the finish places in the group are fought for, and the sprint is launched about 12 s before the line. Lines that are scored by crossing are contested likewise, by some.",
		"Half the step moves mean gaps at the end of a climb by some tenths of a second; where a rider hangs on by a thread, the step can decide on which crest it breaks, as a gust of wind could.",
		"What riders do follows common practice put into numbers, without a source; motion, shelter and W′ follow the literature.",
		s.luck(),
	)
	if r.Echelons {
		out = append(out, "In a crosswind only as many as ride abreast find shelter; those behind ride in the gutter.")
	} else if s.road.Conditions.WindMps > 0 {
		out = append(out, "A crosswind takes no shelter away: ask for rules.echelons where the road is open.")
	}
	return out
}

// luck says what differs from run to run.
func (s *scenario) luck() string {
	r, varied := s.rules, []string{}
	if r.FormPct > 0 {
		varied = append(varied, fmt.Sprintf("the day's form by %s %% of critical power and of W′", wording.Number(r.FormPct, 2)))
	}
	if !r.Alone {
		varied = append(varied, "places at the start and before the finish")
	}
	if r.LaunchS > 0 && !r.Alone {
		varied = append(varied, fmt.Sprintf("launches by %s s", wording.Number(r.LaunchS, 2)))
	}
	if r.MishapsPerH > 0 {
		varied = append(varied, fmt.Sprintf("mishaps, %s an hour for each rider, of %s s", wording.Number(r.MishapsPerH, 3), wording.Number(r.MishapS, 1)))
	}
	if r.VaryOrders && !r.Alone {
		varied = append(varied, "which of the riders without orders sit in")
	}
	if len(varied) == 0 {
		return "All runs are the same: nothing is left to luck."
	}
	return "From run to run differ " + strings.Join(varied, "; ") + "."
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
