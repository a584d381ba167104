package engine

import (
	"math"

	"parcours.example/analysis/brief"
	"parcours.example/analysis/launch"
)

// toldPlace is a place as a brief has it, with a name only where it is the caller's.
func toldPlace(s Span) brief.Place {
	return brief.Place{Of: brief.PlaceKind(s.Of), Index: s.Index, Pass: s.Pass, StartM: s.StartM, EndM: s.EndM}
}

func toldPlaces(spans []Span) []brief.Place {
	out := make([]brief.Place, len(spans))
	for i, s := range spans {
		out[i] = toldPlace(s)
	}
	return out
}

// toldSetups is what a brief tells of compared set-ups; asked says that their ambitions were.
func toldSetups(c *Comparisons, asked bool, coveragePct float64) *brief.SetupAnswer {
	out := &brief.SetupAnswer{Asked: asked, CoveragePct: coveragePct, Finish: -1}
	for _, s := range c.Setups {
		out.Setups = append(out.Setups, s.Name)
	}
	for i, a := range c.Ambitions {
		place := toldPlace(a.Passes[0])
		if a.named {
			place.Name = a.Name
		}
		if place.Of == brief.AtFinish && out.Finish < 0 {
			out.Finish = i
		}
		out.Ambitions, out.Passes = append(out.Ambitions, place), append(out.Passes, len(a.Passes))
	}
	for _, change := range c.Changes {
		out.Changes = append(out.Changes, brief.ChangeAnswer{From: change.From, To: change.To, Spots: toldPlaces(change.Spots), Stops: change.Stops})
	}
	for _, r := range c.Riders {
		told := brief.RiderAnswer{Name: r.Rider, Verdict: r.Verdict}
		for _, one := range r.Rides {
			told.Infeasible = append(told.Infeasible, one.Err == nil && !one.Feasible)
		}
		out.Riders = append(out.Riders, told)
	}
	return out
}

// toldLaunches is what a brief tells of launches.
func toldLaunches(l *Launches, r BriefRequest) *brief.LaunchAnswer {
	out := &brief.LaunchAnswer{Setups: max(1, len(r.Setups))}
	for _, rider := range r.Riders {
		assumed := math.NaN()
		if math.IsNaN(rider.MaxPowerW) {
			assumed = launch.UsualMaxPower(rider.Rider)
		}
		out.AssumedPowerW = append(out.AssumedPowerW, assumed)
	}
	for i := range l.Items {
		item := &l.Items[i]
		told := brief.Launched{
			Line: item.LineIndex, Passes: toldPlaces(item.Passes), RiderIndex: item.RiderIndex, SetupIndex: item.SetupIndex,
			Rider: item.Rider, Setup: item.Setup, Approach: item.Approach, HeadPowerW: item.HeadPowerW, Sprint: item.Sprint,
			BendBeforeM: math.NaN(), BendSpeedMps: math.NaN(),
		}
		if item.Sprint != nil {
			if before, mps, bends := slowestBend(item); bends {
				told.BendBeforeM, told.BendSpeedMps = before, mps
			}
		}
		out.Launches = append(out.Launches, told)
	}
	return out
}

// toldAids is what a brief tells of aids.
func toldAids(a *Aids) *brief.AidAnswer {
	out := &brief.AidAnswer{At: toldPlace(a.At), StartM: a.StartM, Lines: toldPlaces(a.Lines)}
	for _, told := range a.Aids {
		out.Names, out.Aids = append(out.Names, told.Name), append(out.Aids, told.Aid.Aid)
	}
	for i := range a.Items {
		item := &a.Items[i]
		if item.Err != nil {
			continue
		}
		c := brief.AidCase{Ride: i, RiderIndex: item.RiderIndex, SetupIndex: item.SetupIndex, Rider: item.Rider, Setup: item.Setup, Joint: item.Joint}
		for _, found := range item.Aids {
			c.Found, c.Sprints = append(c.Found, found.Found), append(c.Sprints, found.Sprints)
		}
		out.Cases = append(out.Cases, c)
	}
	return out
}

// toldRace is what a brief tells of a race in which so many riders were given by name. A duel
// that nobody asked for is told where it is between two of them.
func toldRace(s *Scenario, named int, duel bool) *brief.RaceAnswer {
	out := &brief.RaceAnswer{Result: s.Result, Named: named, Teams: s.Teams, Climbs: toldPlaces(s.Climbs)}
	for _, c := range s.Field {
		out.Riders = append(out.Riders, c.Name)
	}
	for _, l := range s.Lines {
		out.Lines = append(out.Lines, brief.RaceLine{Place: toldPlace(l.Place), Foot: l.End == AtFoot, Top: l.End == AtTop})
	}
	for i, name := range s.Contests {
		out.Contests = append(out.Contests, brief.ContestAnswer{Name: name, Places: toldPlaces(s.contestPlaces[i])})
	}
	if s.Decisive != nil {
		place := toldPlace(*s.Decisive)
		out.Decisive = &place
	}
	if d := s.Duel; d != nil && (duel || max(d.HeavierIndex, d.LighterIndex) < named) {
		out.Duel, out.Heavier, out.Lighter = s.Duel.Answer, s.Duel.HeavierIndex, s.Duel.LighterIndex
	}
	return out
}
