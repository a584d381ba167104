package api

import (
	"parcours.example/analysis"
	"parcours.example/analysis/launch"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeLaunches writes launches as the contract has them.
func encodeLaunches(l *engine.Launches, asked engine.LaunchRequest) *Launches {
	return &Launches{
		CourseID: l.Course.ID, EngineVersion: analysis.EngineVersion, Recommendation: l.Recommendation,
		Launches:    each(l.Items, func(item engine.Launch) Launch { return encodeLaunch(item, l.Course.LengthM()) }),
		Model:       l.Model,
		Assumptions: each(l.Assumptions, encodeAssumption),
		Warnings:    each(l.Warnings, encodeLaunchWarning),
		Cautions:    cautionsOfSprints(asked.Conditions.Indoor),
	}
}

// cautionsOfSprints are the cautions that go with launches.
func cautionsOfSprints(indoor bool) []string {
	cautions := []string{"Sprint on closed roads or indoors only; law, the event's rules and its marshals come first."}
	if !indoor {
		cautions = append(cautions,
			launch.Caution,
			"Speeds on descents and in bends before a line are estimates, not advice: look at the road itself.")
	}
	return append(cautions,
		"A sprint is a maximal effort, for healthy, trained and warmed-up people; in doubt, ask a physician.",
		"The launch comes from a model of one rider, not from the others on the day.")
}

func encodeLaunch(item engine.Launch, endM float64) Launch {
	out := Launch{
		LineIndex: item.LineIndex, Rider: item.Rider, RiderIndex: item.RiderIndex, Setup: item.Setup, SetupIndex: item.SetupIndex,
		Passes: each(item.Passes, func(p engine.Span) LaunchPass { return encodeLaunchPass(p, item.Sprint, endM) }),
	}
	s := item.Sprint
	if s == nil {
		doc := problemOf(item.Err).document("")
		out.Problem = &doc
		return out
	}
	out.Approach = encodeLaunchApproach(item)
	out.LaunchBeforeM, out.LaunchBeforeS = finite(s.LaunchM, decimalsM), finite(s.LaunchS, decimalsM)
	out.EarliestBeforeM, out.LatestBeforeM, out.WithinS = finite(s.EarliestM, decimalsM), finite(s.LatestM, decimalsM), finite(launch.FlatS, decimalsM)
	out.TimeS, out.HeadTimeS = finite(s.TimeS, decimalsM), finite(s.HeadS, decimalsM)
	out.AheadS, out.AheadM = finite(s.AheadS, decimalsM), finite(s.AheadS*s.LineSpeedMps, decimalsM)
	out.LaunchSpeedMps, out.LineSpeedMps = finite(s.LaunchSpeedMps, decimalsM), finite(s.LineSpeedMps, decimalsM)
	out.PeakSpeedMps, out.PeakBeforeM = finite(s.PeakSpeedMps, decimalsM), finite(s.PeakM, decimalsM)
	out.LaunchPowerW, out.LinePowerW, out.MeanPowerW = finite(s.LaunchPowerW, decimalsPower), finite(s.LinePowerW, decimalsPower), finite(s.MeanPowerW, decimalsPower)
	out.WBalanceLaunchJ, out.WBalanceLineJ = finite(s.LaunchBalanceJ, decimalsWork), finite(s.LineBalanceJ, decimalsWork)
	out.LosesWheelBeforeM = finite(s.LostM, decimalsM)
	offsets, gradients := each(s.Offsets, encodeOffset), each(item.Inclines, encodeIncline)
	positions := each(item.Wheels, func(w launch.Wheel) LaunchPosition { return encodeWheel(w, s.TimeS) })
	warnings := each(item.Warnings, encodeLaunchWarning)
	out.Offsets, out.Gradients, out.Positions, out.Warnings = &offsets, &gradients, &positions, &warnings
	return out
}

func encodeLaunchPass(p engine.Span, s *launch.Sprint, endM float64) LaunchPass {
	out := LaunchPass{Place: encodePlace(p, endM)}
	if s != nil {
		out.LaunchAtM = finite(p.EndM-s.LaunchM, decimalsM)
	}
	return out
}

func encodeLaunchApproach(item engine.Launch) *LaunchApproach {
	a := item.Approach
	return &LaunchApproach{
		LengthM: metres(a.LengthM()), MeanGradientPct: metres(a.MeanGradient() * 100), SpeedMps: metres(a.SpeedMps),
		HeadPowerW: round(item.HeadPowerW, decimalsPower), Position: a.Place, Shelter: round(a.Shelter, decimalsRatio),
		FollowPowerW: finite(item.Sprint.FollowPowerW, decimalsPower), WBalanceJ: round(item.BalanceJ, decimalsWork),
	}
}

func encodeOffset(o launch.Offset) LaunchOffset {
	return LaunchOffset{EarlierM: o.EarlierM, CostS: metres(o.CostS), CostM: metres(o.CostM)}
}

func encodeIncline(i launch.Incline) LaunchGradient {
	return LaunchGradient{
		GradientPct: metres(i.Gradient * 100), ApproachSpeedMps: metres(i.SpeedMps), LaunchBeforeM: metres(i.Best.LaunchM),
		LaunchBeforeS: metres(i.Best.LaunchS), LineSpeedMps: metres(i.Best.LineSpeedMps), AheadS: metres(i.Best.AheadS),
	}
}

func encodeWheel(w launch.Wheel, timeS float64) LaunchPosition {
	return LaunchPosition{
		Position: w.Place, Shelter: round(w.Shelter, decimalsRatio), LaunchBeforeM: metres(w.Best.LaunchM),
		LaunchBeforeS: metres(w.Best.LaunchS), TimeS: metres(w.Best.TimeS), GainS: metres(timeS - w.Best.TimeS),
	}
}

func encodeLaunchWarning(w engine.LaunchWarning) LaunchWarning {
	return LaunchWarning{Code: w.Code, Detail: w.Detail, AtM: finite(w.AtM, decimalsM), Pointer: optional(w.Pointer)}
}
