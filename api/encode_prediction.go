package api

import (
	"math"

	"parcours.example/analysis"
	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodePredictions writes a matrix of predictions as the contract has it.
func encodePredictions(p *engine.Predictions, asked engine.Ride) *Predictions {
	return &Predictions{
		CourseID: p.Course.ID, EngineVersion: analysis.EngineVersion, DistanceM: metres(p.EndM - p.StartM),
		Predictions: each(p.Items, func(item engine.Prediction) Prediction {
			return encodePrediction(p, item, asked)
		}),
		Assumptions: each(p.Assumptions, encodeAssumption),
		Cautions:    append(cautionsOf(asked.Conditions.Indoor), foodCaution),
	}
}

// foodCaution goes with what a ride takes of food and drink.
const foodCaution = "Food and drink are general guidance, not medical or dietary advice: try them in training, drink no more than you sweat, and ask a physician or dietitian first."

// cautionsOf are the cautions that go with predicted times.
func cautionsOf(indoor bool) []string {
	cautions := []string{"Race on closed roads or indoors only; law, the event's rules and its marshals come first."}
	if !indoor {
		cautions = append(cautions, "Speeds in bends and on descents are estimates from the line in the file, not advice: look at the road itself.")
	}
	return append(cautions,
		"Maximal efforts are for healthy, trained people; in doubt, ask a physician.",
		"Predicted times come from a model of the ride, not from the day.")
}

// encodeAssumption writes a default that was used, unrounded: posting it gives the
// same numbers.
func encodeAssumption(a engine.Assumption) Assumption {
	return Assumption{Pointer: a.Pointer, Value: a.Value, Unit: optional(a.Unit), Source: a.Source}
}

func encodePrediction(p *engine.Predictions, item engine.Prediction, asked engine.Ride) Prediction {
	out := Prediction{Rider: item.Rider, RiderIndex: item.RiderIndex, Setup: item.Setup, SetupIndex: item.SetupIndex}
	if item.Err != nil {
		doc := problemOf(item.Err).document("")
		out.Problem = &doc
		return out
	}
	r, rider := item.Ride, asked.Riders[item.RiderIndex]
	out.Feasible = &r.Feasible
	out.TimeS, out.MeanSpeedMps, out.MaxSpeedMps = finite(r.TimeS, decimalsM), finite(r.MeanSpeedMps, decimalsM), finite(r.MaxSpeedMps, decimalsM)
	out.MeanPowerW, out.FourthPowerMeanW = finite(r.MeanPowerW, decimalsPower), finite(r.FourthPowerMeanW, decimalsPower)
	out.WPerKg = finite(r.MeanPowerW/rider.MassKg, decimalsRatio)
	out.WorkJ = finite(r.WorkJ, decimalsWork)
	out.EnergyExpendedJ = finite(r.WorkJ/r.Bike.GrossEfficiency, decimalsWork)
	out.MassKg, out.CdaM2 = finite(r.Bike.MassKg, decimalsM), finite(r.Bike.CdAM2, decimalsRatio)
	out.MeanYawDeg = finite(r.MeanYawDeg, decimalsM)
	energy := encodeEnergy(r.Energy)
	out.Energy = &energy
	out.Food = encodeFood(item.Food)
	if b := r.Balance; b != nil {
		out.WBalanceEndJ, out.WBalanceMinJ = finite(b.EndJ, decimalsWork), finite(b.MinJ, decimalsWork)
		out.WBalanceMinAtM = finite(b.MinAtM+p.StartM, decimalsM)
	}
	encodeTimeBand(&out, item.Band)
	if item.Sensitivities != nil {
		sensitivities := encodeSensitivities(*item.Sensitivities)
		out.Sensitivities = &sensitivities
	}
	splits := make([]Split, len(p.Spans))
	for i, span := range p.Spans {
		splits[i] = encodeSplit(span, r.Splits[i])
	}
	out.Splits = &splits
	if asked.Trace {
		out.Trace = encodeTrace(r.Trace, p.StartM)
	}
	return out
}

func encodeEnergy(a ride.EnergyAccount) EnergyAccount {
	joules := func(x float64) float64 { return round(x, decimalsWork) }
	return EnergyAccount{
		WorkJ: joules(a.WorkJ), DrivetrainJ: joules(a.DrivetrainJ), AerodynamicJ: joules(a.AerodynamicJ),
		RollingJ: joules(a.RollingJ), BearingsJ: joules(a.BearingsJ), BrakingJ: joules(a.BrakingJ),
		PotentialJ: joules(a.PotentialJ), KineticJ: joules(a.KineticJ), ResidualJ: joules(a.ResidualJ()),
	}
}

func encodeSplit(span engine.Span, s ride.Split) Split {
	out := Split{
		Of: SplitOf(span.Of), ID: optional(span.ID), Name: optional(span.Name), Kind: optional(span.Kind),
		Lap: optional(span.Lap), Pass: optional(span.Pass), StartM: metres(span.StartM), EndM: metres(span.EndM),
		TimeS: metres(s.TimeS), ClockS: metres(s.ClockS),
	}
	if s.TimeS > 0 {
		out.MeanSpeedMps, out.MeanPowerW = finite(s.MeanSpeedMps, decimalsM), finite(s.MeanPowerW, decimalsPower)
	}
	if span.Of == engine.FeatureClimb && s.TimeS > 0 {
		out.VamMPerH = finite(s.ClimbingRateMPerH, decimalsM)
	}
	return out
}

// encodeTrace writes a trace with its positions on the course, which began at
// startM for the ride.
func encodeTrace(t ride.Trace, startM float64) *Trace {
	out := &Trace{
		DistanceM: make([]float64, len(t.DistanceM)), TimeS: rounded(t.TimeS, decimalsM),
		SpeedMps: rounded(t.SpeedMps, decimalsM), PowerW: rounded(t.PowerW, decimalsPower),
	}
	for i, x := range t.DistanceM {
		out.DistanceM[i] = metres(x + startM)
	}
	if t.WBalanceJ != nil && !math.IsNaN(t.WBalanceJ[0]) {
		balance := rounded(t.WBalanceJ, decimalsWork)
		out.WBalanceJ = &balance
	}
	return out
}
