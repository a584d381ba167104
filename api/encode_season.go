package api

import (
	"encoding/json"
	"math"
	"strings"

	"parcours.example/analysis"
	"parcours.example/analysis/season"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeRound writes a round as the contract has it.
func encodeRound(r *engine.Round) *SeasonRound {
	c, f := r.Course, r.Figures
	out := &SeasonRound{
		CourseID: c.ID, EngineVersion: analysis.EngineVersion, Name: optional(c.Name), DistanceM: metres(f.LengthM),
		AscentM: finite(f.AscentM, decimalsM), Shape: SeasonRoundShape(c.Shape), Laps: c.Laps.Count, ClimbsCount: f.Climbs,
		ShareBeforeLastClimb: finite(f.ShareBeforeLastClimb, decimalsRatio), Decisive: encodeDecisive(f.Decisive),
		Rolling: encodeClimbing(c.Course, c.Terrain).Rolling, Warnings: encodeQuality(c.Course).Warnings,
		Predictions: each(r.Rides, encodeRoundRide), Assumptions: each(r.Assumptions, encodeAssumption),
	}
	if c.HasElevation() {
		out.Difficulty = &RoundDifficulty{H2Index: metres(f.H2Index), WorkAgainstGravityJPerKg: round(f.WorkAgainstGravityJPerKg, decimalsWork)}
	}
	return out
}

func encodeDecisive(p season.Place) DecisivePlace {
	out := DecisivePlace{Of: "finish", StartM: metres(p.StartM), EndM: metres(p.EndM), ToFinishM: metres(p.ToFinishM), Why: p.Why}
	if p.ClimbID == "" {
		return out
	}
	out.Of, out.ClimbID, out.Name, out.Lap = "climb", &p.ClimbID, optional(p.Name), optional(p.Lap)
	out.GainM, out.WeightM = finite(p.GainM, decimalsM), finite(p.WeightM, decimalsM)
	if p.Passes > 1 {
		out.Pass = &p.Pass
	}
	return out
}

func encodeRoundRide(r engine.RoundRide) SeasonPrediction {
	out := SeasonPrediction{Rider: r.Rider, RiderIndex: r.RiderIndex, Setup: r.Setup, SetupIndex: r.SetupIndex}
	if r.Err != nil {
		document := problemOf(r.Err).document("")
		out.Problem = &document
		return out
	}
	ridden := r.Ride
	out.Feasible, out.TimeS, out.MeanSpeedMps = &ridden.Feasible, finite(ridden.TimeS, decimalsM), finite(ridden.MeanSpeedMps, decimalsM)
	out.MeanPowerW, out.AskedPowerW = finite(ridden.MeanPowerW, decimalsPower), finite(r.AskedPowerW, decimalsPower)
	out.MassKg, out.CdaM2 = finite(ridden.Bike.MassKg, decimalsM), finite(ridden.Bike.CdAM2, decimalsRatio)
	out.TimeByMass, out.TimeByDragArea = finite(r.TimeByMass, decimalsRatio), finite(r.TimeByDragArea, decimalsRatio)
	if b := r.Band; b != nil {
		out.TimeLowS, out.TimeHighS = finite(b.LowS, decimalsM), finite(b.HighS, decimalsM)
	}
	return out
}

// sideBySide gathers what a season's comparison needs of its rounds, from the answers about
// them: so that a round which was answered before counts as one that is computed now.
type sideBySide struct {
	rounds []season.Round
	rows   []ComparedRound
	// riders and setups are their names.
	riders, setups []string
}

// add takes a round's answer.
func (c *sideBySide) add(item encodedItem) error {
	var r SeasonRound
	if err := json.Unmarshal(item.Result, &r); err != nil {
		return err
	}
	figures := season.Figures{
		LengthM: r.DistanceM, AscentM: number(r.AscentM), H2Index: math.NaN(),
		ShareBeforeLastClimb: number(r.ShareBeforeLastClimb), RollingMPerKm: math.NaN(),
	}
	row := ComparedRound{
		Index: item.Index, RoundID: item.RoundID, Name: item.Name, DistanceM: r.DistanceM, AscentM: r.AscentM,
		ShareBeforeLastClimb: r.ShareBeforeLastClimb, Decisive: r.Decisive.Why,
	}
	if row.Name == nil {
		row.Name = r.Name
	}
	if r.Difficulty != nil {
		row.H2Index, figures.H2Index = &r.Difficulty.H2Index, r.Difficulty.H2Index
	}
	if r.Rolling != nil {
		row.RollingMPerKm, figures.RollingMPerKm = &r.Rolling.AscentMPerKm, r.Rolling.AscentMPerKm
	}
	row.AscentMPerKm = finite(figures.AscentMPerKm(), decimalsM)
	c.name(r.Predictions)
	c.rounds, c.rows = append(c.rounds, season.Round{Figures: figures, Rides: each(r.Predictions, comparedRide)}), append(c.rows, row)
	return nil
}

// name takes the names of riders and set-ups from a round, which all have the same.
func (c *sideBySide) name(predictions []SeasonPrediction) {
	if c.riders != nil {
		return
	}
	for _, p := range predictions {
		if p.RiderIndex == len(c.riders) {
			c.riders = append(c.riders, p.Rider)
		}
		if p.SetupIndex == len(c.setups) {
			c.setups = append(c.setups, p.Setup)
		}
	}
}

// comparedRide is a prediction as it is compared: one that runs dry has no time.
func comparedRide(p SeasonPrediction) season.Ride {
	out := season.Ride{
		RiderIndex: p.RiderIndex, SetupIndex: p.SetupIndex, TimeS: number(p.TimeS), LowS: number(p.TimeLowS), HighS: number(p.TimeHighS),
		PowerW: number(p.AskedPowerW), MassKg: number(p.MassKg), CdAM2: number(p.CdaM2),
		TimeByMass: number(p.TimeByMass), TimeByDragArea: number(p.TimeByDragArea),
	}
	switch {
	case p.Problem != nil:
		out.Code = strings.TrimPrefix(p.Problem.Type, "/problems/")
	case !valueOr(p.Feasible, true):
		out.TimeS, out.LowS, out.HighS, out.Code = math.NaN(), math.NaN(), math.NaN(), codeRunsDry
	}
	return out
}

// codeRunsDry is why a rider has no time whose balance of W′ falls below zero.
const codeRunsDry = "w-prime-runs-dry"

// done compares the rounds.
func (c *sideBySide) done(asked engine.Ride) SeasonComparison {
	compared := season.Compare(c.riders, c.rounds)
	out := SeasonComparison{
		EngineVersion: analysis.EngineVersion, Rounds: append([]ComparedRound{}, c.rows...), Riders: []ComparedRider{},
		Model: season.Model(), Cautions: cautionsOf(asked.Conditions.Indoor),
	}
	for j, r := range compared.Rounds {
		row := &out.Rounds[j]
		row.TimeS, row.LeftOut = finite(r.TimeS, decimalsM), optional(r.LeftOut)
		row.Ranks = RoundRanks{
			Distance: optional(r.Ranks.Length), Ascent: optional(r.Ranks.Ascent), AscentPerKm: optional(r.Ranks.AscentPerKm),
			H2: optional(r.Ranks.H2), Rolling: optional(r.Ranks.Rolling),
		}
	}
	for i, r := range compared.Riders {
		out.Riders = append(out.Riders, c.rider(i, r))
	}
	return out
}

// rider writes what a season comes to for a rider.
func (c *sideBySide) rider(i int, r season.Rider) ComparedRider {
	out := ComparedRider{
		Rider: r.Name, RiderIndex: i, TotalTimeS: finite(r.TotalS, decimalsM), BehindS: finite(r.BehindS, decimalsM),
		TotalCount: optional(r.Counted), Times: make([]ComparedTime, len(r.Times)),
		BestSuited: each(r.Best, c.suited), LeastSuited: each(r.Least, c.suited),
	}
	for j, t := range r.Times {
		to := ComparedTime{Index: c.rows[j].Index, Code: optional(t.Code)}
		if !math.IsNaN(t.TimeS) {
			to.Setup, to.SetupIndex, to.Place = &c.setups[t.SetupIndex], &t.SetupIndex, optional(t.Place)
			to.TimeS, to.TimeLowS, to.TimeHighS = finite(t.TimeS, decimalsM), finite(t.LowS, decimalsM), finite(t.HighS, decimalsM)
			to.SuitabilityPct = finite(t.SuitabilityPct, decimalsM)
		}
		out.Times[j] = to
	}
	return out
}

// suited writes a round that suits a rider, or doesn't. The rest is what the parts as they are
// rounded leave, so that they add up.
func (c *sideBySide) suited(s season.Suited) Suited {
	out := Suited{Index: c.rows[s.Round].Index, SuitabilityPct: metres(s.SuitabilityPct), Why: s.Why, Parts: SuitedParts{
		PowerToMassPct: metres(s.PowerToMassPct), PowerToDragAreaPct: metres(s.PowerToDragAreaPct),
	}}
	out.Parts.RestPct = metres(out.SuitabilityPct - (out.Parts.PowerToMassPct + out.Parts.PowerToDragAreaPct))
	return out
}
