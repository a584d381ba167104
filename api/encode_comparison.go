package api

import (
	"parcours.example/analysis"
	"parcours.example/analysis/choice"
	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeComparisons writes compared set-ups as the contract has it.
func encodeComparisons(c *engine.Comparisons, asked engine.ComparisonRequest) *Comparisons {
	e := comparing{c}
	out := &Comparisons{
		CourseID: c.Course.ID, EngineVersion: analysis.EngineVersion, DistanceM: metres(c.EndM - c.StartM),
		Ambitions: each(c.Ambitions, e.ambition), Comparisons: make([]Comparison, len(c.Riders)),
		Recommendation: c.Recommendation, Assumptions: each(c.Assumptions, encodeAssumption), Model: c.Model,
		Cautions: cautionsOf(asked.Conditions.Indoor),
	}
	for i, r := range c.Riders {
		out.Comparisons[i] = e.rider(i, r)
	}
	if len(c.Changes) > 0 {
		out.Cautions = append([]string{choice.ChangeCaution}, out.Cautions...)
	}
	return out
}

// comparing writes the parts of one answer.
type comparing struct{ *engine.Comparisons }

func (e comparing) name(setup int) string { return e.Setups[setup].Name }

func (e comparing) place(s engine.Span) ToldPlace { return encodePlace(s, e.EndM) }

func (e comparing) ambition(a engine.ToldAmbition) ToldAmbition {
	measure := TimeThroughStretch
	if a.Line {
		measure = TimeToLine
	}
	return ToldAmbition{Name: a.Name, Measure: measure, Passes: each(a.Passes, e.place)}
}

func (e comparing) rider(i int, r engine.RiderChoice) Comparison {
	out := Comparison{
		Rider: r.Rider, RiderIndex: i, Setups: make([]ComparedSetup, len(r.Rides)),
		Ambitions: make([]RankedAmbition, len(r.Verdict.Rankings)), Changes: make([]JudgedChange, len(r.Verdict.Changes)),
		Recommendation: r.Recommendation,
	}
	for k, c := range r.Rides {
		out.Setups[k] = e.setup(k, c)
	}
	for k, ranking := range r.Verdict.Rankings {
		out.Ambitions[k] = e.ranking(k, ranking)
	}
	for k, c := range r.Verdict.Changes {
		out.Changes[k] = e.change(e.Changes[k], c)
	}
	return out
}

func (e comparing) setup(i int, c engine.Compared) ComparedSetup {
	out := ComparedSetup{Setup: e.name(i), SetupIndex: i}
	if c.Err != nil {
		doc := problemOf(c.Err).document("")
		out.Problem = &doc
		return out
	}
	out.TimeS, out.MeanSpeedMps, out.MeanPowerW = finite(c.TimeS, decimalsM), finite(c.MeanSpeedMps, decimalsM), finite(c.MeanPowerW, decimalsPower)
	out.Feasible = &c.Feasible
	out.WBalanceEndJ, out.WBalanceMinJ = encodeBalance(c.Balance)
	return out
}

// encodeBalance writes the end and the least of a balance of W′; nil for none.
func encodeBalance(b *ride.Balance) (end, least *float64) {
	if b == nil {
		return nil, nil
	}
	return finite(b.EndJ, decimalsWork), finite(b.MinJ, decimalsWork)
}

func encodeGap(g choice.Gap) TimeGap {
	return TimeGap{GapS: metres(g.S), LowS: metres(g.LowS), HighS: metres(g.HighS), SdS: metres(g.SDS), Tie: g.Tied}
}

func (e comparing) ranking(i int, r choice.Ranking) RankedAmbition {
	out := RankedAmbition{AmbitionIndex: i, Costs: make([]AmbitionCost, len(r.Costs)), Crossings: each(r.Crossings, e.crossing)}
	out.Ranking = each(r.Places, func(p choice.Place) RankedSetup {
		return RankedSetup{
			Setup: e.name(p.Setup), SetupIndex: p.Setup, TimeS: metres(p.TimeS), PassesS: rounded(p.PassesS, decimalsM), Behind: encodeGap(p.Behind),
		}
	})
	for k, cost := range r.Costs {
		out.Costs[k] = AmbitionCost{AmbitionIndex: k, Cost: encodeGap(cost)}
	}
	return out
}

func (e comparing) crossing(x choice.Crossing) CrossingPoint {
	return CrossingPoint{
		Quantity: CrossingQuantity(x.Quantity), Against: e.name(x.Against), AgainstIndex: x.Against,
		Own: finite(x.Own, decimalsM), At: finite(x.At, decimalsM), From: metres(x.From), To: metres(x.To),
		BetterBelow: e.name(x.BetterBelow), BetterBelowIndex: x.BetterBelow,
		BetterAbove: e.name(x.BetterAbove), BetterAboveIndex: x.BetterAbove, Refined: x.Refined,
	}
}

func (e comparing) change(asked engine.ToldChange, c choice.Changed) JudgedChange {
	out := JudgedChange{
		From: e.name(asked.From), FromIndex: asked.From, To: e.name(asked.To), ToIndex: asked.To,
		Stops: asked.Stops, StandingS: metres(asked.StandingS), Trials: make([]ChangeTrial, len(c.Trials)),
	}
	if c.Best >= 0 {
		out.BestTrialIndex = &c.Best
	}
	for i, t := range c.Trials {
		out.Trials[i] = e.trial(t)
		out.Trials[i].Place = e.place(asked.Spots[i])
	}
	return out
}

// trial writes all of a trial but its place.
func (e comparing) trial(t choice.Trial) ChangeTrial {
	var out ChangeTrial
	if t.Halt != nil {
		halt := *t.Halt
		halt.AtM += e.StartM
		doc := problemOf(&halt).document("")
		out.Problem = &doc
		return out
	}
	gain, ambitions := encodeGap(t.Gain), rounded(t.AmbitionsS, decimalsM)
	out.TimeS, out.Gain, out.AmbitionsS = finite(t.TimeS, decimalsM), &gain, &ambitions
	out.LostS, out.LostStandingS = finite(t.LostS, decimalsM), finite(t.StandingS, decimalsM)
	out.LostGoingS, out.LostShelterS = finite(t.GoingS, decimalsM), finite(t.AloneS, decimalsM)
	out.WonS, out.BreakEvenStandingS = finite(t.WonS, decimalsM), finite(t.BreakEvenS, decimalsM)
	out.OpenedS, out.OpenedM = finite(t.OpenedS, decimalsM), finite(t.OpenedM, decimalsM)
	out.OpenedAfterM, out.LevelAfterM = finite(t.OpenedAtM-t.AtM, decimalsM), finite(t.LevelAtM-t.AtM, decimalsM)
	out.AgainstBestSetupS = finite(t.OverBestS, decimalsM)
	out.Feasible = &t.Feasible
	out.WBalanceEndJ, out.WBalanceMinJ = encodeBalance(t.Balance)
	return out
}
