package engine

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/duel"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/tally"
	"parcours.example/analysis/wording"
)

// tell puts together what the runs come to.
func (s *scenario) tell(ctx context.Context, raced *race.Race, counted tally.Result) (*Scenario, error) {
	typical, err := s.typicalRun(ctx, raced, counted.TypicalRun)
	if err != nil {
		return nil, err
	}
	out := &Scenario{
		Course: s.course, StartM: s.from, EndM: s.to, Rules: s.rules, Effort: s.effort, Field: s.field, Drawn: s.drawn, Teams: s.teams,
		Result: counted, Lines: s.lines.told, Typical: typical,
	}
	for _, a := range s.alone {
		out.AloneS = append(out.AloneS, a.timeS)
	}
	for _, c := range s.lines.climbs {
		out.Climbs = append(out.Climbs, c.place)
	}
	for _, c := range s.contests {
		out.Contests = append(out.Contests, c.name)
		places := make([]Span, len(c.scores))
		for i, score := range c.scores {
			places[i] = score.place
		}
		out.contestPlaces = append(out.contestPlaces, places)
	}
	if d := counted.Split.Decisive; d != nil {
		split := s.nameStretch(d.StartM+s.from, d.EndM+s.from)
		out.Decisive = &split
	}
	out.Assumptions = s.assumptions()
	out.Model = s.model()
	if out.Duel, err = s.duel(ctx); err != nil {
		return nil, err
	}
	if out.Duel != nil {
		out.Model = append(out.Model, duel.Model()...)
	}
	out.Recommendation = s.recommend(out)
	return out, nil
}

// assumptions lists the defaults that were used, those of the rules and orders first.
func (s *scenario) assumptions() []Assumption {
	s.assumed.note(0, 0, s.road.Assumptions)
	for i, a := range s.alone {
		used := slices.DeleteFunc(slices.Clone(a.used), func(u ride.Assumption) bool {
			// Nothing here depends on the efficiency, and a group can't be told all.
			drawn := i >= len(s.asked.Riders)
			return u.Of == ride.OfRider && (u.Name == "gross_efficiency" || drawn && u.Name != "height_m")
		})
		s.assumed.noteOf(s.field[i].pointer, s.setupOf[i], used)
	}
	return s.assumed.list
}

// nameStretch names a stretch of the course by the pass of a climb or the part that it
// has most of, where it has half of either.
func (s *scenario) nameStretch(startM, endM float64) Span {
	best, most := Span{Of: FeatureStretch, StartM: startM, EndM: endM}, 0.0
	for _, span := range spansOf(s.course, s.from, s.to) {
		shared := min(span.EndM, endM) - max(span.StartM, startM)
		if span.Of == FeatureClimb && shared > most && shared >= 0.5*min(span.EndM-span.StartM, endM-startM) {
			best, most = span, shared
			best.Passes = s.passesOf(span)
		}
	}
	return best
}

// TypicalRun is a run in detail.
type TypicalRun struct {
	// Run is its number from 0.
	Run int
	// Groups are those at each of Scenario.Lines, the first first.
	Groups [][]Group
	// Events are in order of time, at positions on the course; LeftOut is how many more
	// there were.
	Events  []race.Event
	LeftOut int
}

// Group is riders who cross a line together: no more than 1 s passes from one to the
// next.
type Group struct {
	// ClockS is when its first rider crosses, GapS after the first of all.
	ClockS, GapS float64
	// Riders are indices, in the order of crossing.
	Riders []int
}

// mostEvents bounds the events that are told.
const mostEvents = 500

// typicalRun rides a run again and tells it.
func (s *scenario) typicalRun(ctx context.Context, raced *race.Race, number int) (TypicalRun, error) {
	run := race.Run{KeepEvents: true}
	if err := raced.Ride(ctx, number, &run); err != nil {
		return TypicalRun{}, err
	}
	out := TypicalRun{Run: number}
	n := len(s.field)
	crossings := func(line int) []float64 { return run.CrossingS[line*n : (line+1)*n] }
	for _, l := range s.lines.told {
		out.Groups = append(out.Groups, s.groups(crossings(l.line)))
	}
	out.Events, out.LeftOut = s.eventsOf(run.Events, s.groups(crossings(len(s.lines.atM)-1)))
	return out, nil
}

// eventsOf returns the events of those who place best, as many as are told.
func (s *scenario) eventsOf(events []race.Event, finish []Group) (kept []race.Event, leftOut int) {
	of := make([]int, len(s.field))
	for _, e := range events {
		of[e.Entrant]++
	}
	told := make([]bool, len(s.field))
	count := 0
	for _, g := range finish {
		for _, i := range g.Riders {
			if count += of[i]; count <= mostEvents {
				told[i] = true
			}
		}
	}
	for _, e := range events {
		if told[e.Entrant] {
			e.AtM += s.from
			kept = append(kept, e)
		}
	}
	return kept, len(events) - len(kept)
}

// EventWords says what happened.
func (s *Scenario) EventWords(e race.Event) string {
	does := map[race.EventKind]string{
		race.Attacked: "attacks", race.LetGo: "loses the front group", race.CameBack: "comes back to the front group",
		race.Launched: "launches the sprint", race.HadMishap: "stops for a mishap", race.GaveUp: "comes to a halt and is out",
	}[e.Kind]
	return fmt.Sprintf("%s %s at %s.", s.Field[e.Entrant].Name, does, wording.Position(e.AtM))
}

// groups returns the groups in which riders cross a line, who cross at once by name.
func (s *scenario) groups(crossings []float64) []Group {
	ms := func(i int) float64 { return math.Round(1000 * crossings[i]) }
	var groups []Group
	first := math.NaN()
	for _, riders := range tally.Groups(crossings) {
		slices.SortStableFunc(riders, func(a, b int) int {
			return cmp.Or(cmp.Compare(ms(a), ms(b)), cmp.Compare(s.field[a].Name, s.field[b].Name))
		})
		clock := ms(riders[0])
		if groups == nil {
			first = clock
		}
		groups = append(groups, Group{ClockS: clock / 1000, GapS: (clock - first) / 1000, Riders: riders})
	}
	return groups
}
