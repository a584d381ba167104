package api

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis"
	"parcours.example/analysis/field"
	"parcours.example/analysis/race"
	"parcours.example/analysis/tally"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// raceCautions go with races that were foreseen.
func raceCautions(indoor bool) []string {
	return append([]string{tally.Caution, tally.RidingCaution}, cautionsOf(indoor)...)
}

// encodeScenario writes what a scenario comes to as the contract has it.
func encodeScenario(s *engine.Scenario, asked engine.ScenarioRequest, request *ScenarioRequest) *Scenario {
	e := scenarioEncoder{s}
	out := &Scenario{
		CourseID: s.Course.ID, EngineVersion: analysis.EngineVersion, DistanceM: metres(s.EndM - s.StartM),
		Rules: encodeRules(s.Rules), Field: encodeField(s.Field, request),
		Drawn: each(s.Drawn, encodeDrawn), Riders: eachIndex(s.Result.Entrants, e.result), Teams: eachIndex(s.Result.TeamWins, e.team),
		Favourite: encodeFavourite(s.Result.Favourite), Lines: eachIndex(s.Result.Lines, e.line), Climbs: eachIndex(s.Result.Climbs, e.climb),
		Contests: eachIndex(s.Result.Contests, e.contest), Posts: each(s.Result.Split.Posts, e.post), TypicalRun: e.typical(),
		Assumptions: each(s.Assumptions, encodeAssumption), Model: s.Model, Cautions: raceCautions(asked.Conditions.Indoor),
		Recommendation: s.Recommendation,
	}
	if s.Result.Key >= 0 {
		out.KeyLineIndex = &s.Result.Key
	}
	if s.Duel != nil {
		out.Duel = encodeDuel(s.Duel, s.StartM)
	}
	if s.Decisive != nil {
		out.Decisive = e.split(*s.Decisive, *s.Result.Split.Decisive)
	}
	return out
}

// eachIndex is each with the index.
func eachIndex[T, U any](xs []T, f func(int, T) U) []U {
	out := make([]U, len(xs))
	for i, x := range xs {
		out[i] = f(i, x)
	}
	return out
}

func encodeRules(r engine.RaceRules) RaceRules {
	shelter := !r.Alone
	return RaceRules{
		Seed: &r.Seed, Runs: &r.Runs, StepS: &r.StepS, Abreast: &r.Abreast, Echelons: &r.Echelons, Shelter: &shelter,
		FormPct: &r.FormPct, LaunchS: &r.LaunchS, MishapsPerH: &r.MishapsPerH, MishapS: &r.MishapS, VaryOrders: &r.VaryOrders,
	}
}

// encodeField writes the field so that it can be posted: the given riders as they were
// given, the drawn ones with what was drawn, all with their names and set-ups.
func encodeField(field []engine.Contender, request *ScenarioRequest) []ScenarioRider {
	var out []ScenarioRider
	out = append(out, valueOr(request.Riders, nil)...)
	for _, g := range valueOr(request.Drawn, nil) {
		for range g.Count {
			c := field[len(out)]
			out = append(out, ScenarioRider{
				MassKg: c.MassKg, HeightM: g.HeightM, CriticalPowerW: c.CriticalPowerW, WPrimeJ: c.WPrimeJ, MaxPowerW: given(c.MaxPowerW),
				Team: g.Team, Effort: g.Effort, Orders: g.Orders,
			})
		}
	}
	for i, c := range field {
		out[i].Name, out[i].Setup = &c.Name, &c.Setup
	}
	return out
}

func encodeDrawn(d engine.Drawn) DrawnCut {
	mean := func(n field.Normal) float64 { return round(n.Mean, decimalsM) }
	sd := func(n field.Normal) float64 { return round(n.SD, decimalsM) }
	c := d.Cut
	return DrawnCut{
		Name: d.Name, RedrawnShare: round(c.Share, decimalsRatio), RedrawnStandardError: round(c.SE, decimalsRatio),
		MassKg: MassDistribution{Mean: mean(c.MassKg), Sd: sd(c.MassKg)}, WPerKg: CriticalPowerDistribution{Mean: mean(c.WPerKg), Sd: sd(c.WPerKg)},
		WPrimeJ: WPrimeDistribution{Mean: mean(c.WPrimeJ), Sd: sd(c.WPrimeJ)}, MaxWPerKg: MaxPowerDistribution{Mean: mean(c.MaxWPerKg), Sd: sd(c.MaxWPerKg)},
	}
}

// given returns a pointer to a value, nil for NaN: not given.
func given(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}

// scenarioEncoder writes the parts of a scenario.
type scenarioEncoder struct{ *engine.Scenario }

func encodeChance(o tally.Odds) Chance {
	return Chance{
		Value: round(o.P, decimalsRatio), StandardError: round(o.SE, decimalsRatio), Low: round(o.Low, decimalsRatio), High: round(o.High, decimalsRatio),
	}
}

// chanceOf is encodeChance, nil where there are no runs to count.
func chanceOf(o tally.Odds) *Chance {
	if o.N == 0 {
		return nil
	}
	c := encodeChance(o)
	return &c
}

func encodeMean(m tally.Mean) RunMean {
	return RunMean{Mean: round(m.Mean, decimalsM), Sd: finite(m.SD, decimalsM), StandardError: finite(m.SE, decimalsM)}
}

// meanOf is encodeMean, nil where there is no value.
func meanOf(m tally.Mean) *RunMean {
	if m.N == 0 {
		return nil
	}
	mean := encodeMean(m)
	return &mean
}

func encodeFavourite(m tally.Margin) Favourite {
	out := Favourite{
		RiderIndex: m.Best, Difference: round(m.Difference, decimalsRatio), StandardError: round(m.SE, decimalsRatio), Told: m.Told,
		RunsToTell: optional(m.RunsToTell), LevelIndices: append([]int{}, m.Level...),
	}
	if m.Next >= 0 {
		out.NextIndex = &m.Next
	}
	return out
}

// name returns a rider's name.
func (e scenarioEncoder) name(rider int) string { return e.Field[rider].Name }

func (e scenarioEncoder) result(i int, r tally.Entrant) RaceResult {
	finish := r.DidNotFinish
	finish.P, finish.Low, finish.High = 1-finish.P, 1-finish.High, 1-finish.Low
	return RaceResult{
		Rider: e.name(i), RiderIndex: i, Team: optional(e.Field[i].Team), Setup: e.Field[i].Setup, AloneS: metres(e.AloneS[i]),
		Finish: encodeChance(finish), Win: encodeChance(r.Win), Podium: encodeChance(r.Podium), Places: rounded(r.Places, decimalsRatio),
		MeanPlace: encodeMean(r.Place), TimeS: meanOf(r.TimeS), PowerW: meanOf(r.PowerW),
		WBalanceMinJ: encodeMean(r.LeastBalanceJ), FrontS: encodeMean(r.FrontS), ShelteredS: encodeMean(r.ShelteredS),
	}
}

func (e scenarioEncoder) team(i int, win tally.Odds) RaceTeam {
	return RaceTeam{Team: e.Teams[i], Win: encodeChance(win)}
}

// place tells where a line is.
func (e scenarioEncoder) place(l engine.RaceLine) ToldPlace { return encodePlace(l.Place, e.EndM) }

func (e scenarioEncoder) line(i int, l tally.Line) RaceLine {
	out := RaceLine{
		Place: e.place(e.Lines[i]), FrontCount: encodeMean(l.Front), FrontSizes: []GroupSize{}, GroupsCount: encodeMean(l.Groups),
		WinnerInFront: encodeChance(l.WinnerInFront), WinnerLead: encodeMean(l.WinnerLead), WinnerGapS: meanOf(l.WinnerGapS), Riders: eachIndex(l.Entrants, e.atLine),
		End: optional(RaceLineEnd(e.Lines[i].End)),
	}
	for size, share := range l.FrontSizes {
		if share > 0 {
			out.FrontSizes = append(out.FrontSizes, GroupSize{Count: size, Share: round(share, decimalsRatio)})
		}
	}
	return out
}

func (e scenarioEncoder) atLine(i int, a tally.AtLine) RiderAtLine {
	out := RiderAtLine{
		Rider: e.name(i), RiderIndex: i, Front: encodeChance(a.InFront), WinFromFront: chanceOf(a.WinFromFront), WinFromBehind: chanceOf(a.WinFromBehind),
	}
	if a.GapS.N > 0 {
		out.GapS = &RunGap{
			RunMean: encodeMean(a.GapS), Low: metres(a.Gap10.S), LowStandardError: metres(a.Gap10.SE), High: metres(a.Gap90.S), HighStandardError: metres(a.Gap90.SE),
		}
	}
	return out
}

func (e scenarioEncoder) climb(i int, g tally.Gains) RaceClimb {
	foot, top := e.Result.Lines[g.Foot].Entrants, e.Result.Lines[g.Top].Entrants
	return RaceClimb{Place: encodePlace(e.Climbs[i], e.EndM), Riders: eachIndex(g.Entrants, func(k int, gain tally.Gain) RiderOnClimb {
		return RiderOnClimb{
			Rider: e.name(k), RiderIndex: k, GapFootS: meanOf(foot[k].GapS), GapTopS: meanOf(top[k].GapS),
			GainedS: meanOf(gain.Seconds), GainedPlacesCount: meanOf(gain.Places),
		}
	})}
}

// contest tells a contest, those with most points first.
func (e scenarioEncoder) contest(i int, c tally.Contest) ContestResult {
	out := ContestResult{
		Name: e.Contests[i], Favourite: encodeFavourite(c.Favourite),
		Riders: eachIndex(c.Entrants, func(k int, p tally.Points) PointsOf {
			return PointsOf{Name: e.name(k), RiderIndex: &k, Points: encodeMean(p.Points), Win: encodeChance(p.Win)}
		}),
		Teams: eachIndex(c.Teams, func(k int, p tally.Points) PointsOf {
			return PointsOf{Name: e.Teams[k], Points: encodeMean(p.Points), Win: encodeChance(p.Win)}
		}),
	}
	for _, list := range [][]PointsOf{out.Riders, out.Teams} {
		slices.SortStableFunc(list, func(a, b PointsOf) int {
			return cmp.Or(cmp.Compare(b.Points.Mean, a.Points.Mean), cmp.Compare(a.Name, b.Name))
		})
	}
	return out
}

func (e scenarioEncoder) post(p tally.AtPost) RacePost {
	return RacePost{AtM: metres(p.AtM + e.StartM), WithinCount: encodeMean(p.Within), LostCount: encodeMean(p.Lost), Largest: encodeChance(p.Largest)}
}

func (e scenarioEncoder) split(where engine.Span, d tally.Decisive) *RaceSplit {
	return &RaceSplit{
		Name: where.Words(), StartM: metres(d.StartM + e.StartM), EndM: metres(d.EndM + e.StartM), ToFinishM: metres(e.EndM - e.StartM - d.StartM),
		BeforeCount: encodeMean(d.Before), AfterCount: encodeMean(d.After), LostCount: encodeMean(d.Lost), Largest: encodeChance(d.Largest),
	}
}

func (e scenarioEncoder) typical() TypicalRun {
	t := e.Typical
	return TypicalRun{
		Run: t.Run + 1, EventsLeftOut: optional(t.LeftOut),
		Lines: eachIndex(t.Groups, func(i int, groups []engine.Group) TypicalLine {
			return TypicalLine{
				Place: e.place(e.Lines[i]), End: optional(TypicalLineEnd(e.Lines[i].End)), Groups: each(groups, encodeGroup),
			}
		}),
		Events: each(t.Events, func(v race.Event) RaceEvent {
			return RaceEvent{
				Kind: RaceEventKind(v.Kind), Rider: e.name(v.Entrant), RiderIndex: v.Entrant, ClockS: metres(v.TimeS), AtM: metres(v.AtM), Words: e.EventWords(v),
			}
		}),
	}
}

func encodeGroup(g engine.Group) RaceGroup {
	return RaceGroup{ClockS: metres(g.ClockS), GapS: metres(g.GapS), RiderIndices: g.Riders}
}
