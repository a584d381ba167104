package api

import (
	"math"

	"parcours.example/analysis"
	"parcours.example/analysis/calibrate"
	"parcours.example/analysis/hindsight"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeCalibration writes what recorded rides tell as the contract has it.
func encodeCalibration(c *engine.Calibration, trace, positions bool) *Calibration {
	indoor := true
	for i := range c.Rides {
		indoor = indoor && c.Rides[i].Conditions.Indoor
	}
	out := &Calibration{
		EngineVersion: analysis.EngineVersion,
		Rides:         each(c.Rides, func(x engine.Examined) ExaminedRide { return encodeExamined(x, trace, positions) }),
		Learnt:        each(c.Learnt, func(l engine.Learnt) Learnt { return encodeLearnt(c, l) }),
		Assumptions:   each(c.Assumptions, encodeAssumption), Model: c.Model,
		Cautions: append(cautionsOf(indoor),
			"What a ride tells of its rider is an estimate with an error: act on it when it was told twice.",
			"Recordings show where people live and how they are: ask before you pass one on."),
	}
	if c.Course != nil {
		out.CourseID = &c.Course.ID
	}
	if c.Round != nil {
		out.Round = &RoundAccuracy{
			Predicted: encodeAccuracy(c.Round.Predicted), PowerKnown: encodeAccuracy(c.Round.Known),
			Doubts: each(c.Round.Doubts, encodeDoubt),
		}
	}
	return out
}

func encodeAccuracy(a hindsight.Accuracy) Accuracy {
	return Accuracy{
		Riders: a.Riders, BiasPct: finite(a.BiasPct, decimalsM), BiasSePct: finite(a.BiasSEPct, decimalsM),
		MedianPct: finite(a.MedianPct, decimalsM), SpreadPct: finite(a.SpreadPct, decimalsM), WithinPct: finite(a.WithinPct, decimalsM),
	}
}

func encodeDoubt(d hindsight.Doubt) RideDoubt {
	out := RideDoubt{
		RideID: d.ID, Rider: d.Rider, Detail: d.Words(), OffPct: round(d.OffPct, decimalsM), AgainstFieldPct: round(d.AgainstFieldPct, decimalsM),
		MassKg: finite(d.MassKg, decimalsM), PowerPct: finite(d.PowerPct, decimalsM),
	}
	if d.OverdrawnJ > 0 {
		out.OverdrawnJ = finite(d.OverdrawnJ, decimalsWork)
	}
	return out
}

func encodeExamined(x engine.Examined, trace, positions bool) ExaminedRide {
	out := ExaminedRide{RideID: x.ID, Rider: x.Rider, Setup: optional(x.Setup)}
	if x.Recorded != nil {
		out.Recording = encodeRecording(x)
	}
	if x.Ride != nil {
		laid := encodeLaid(x)
		out.Laid = &laid
	}
	if x.Err != nil {
		doc := problemOf(x.Err).document("")
		out.Problem = &doc
		return out
	}
	a := x.Account
	out.Summary = optional(a.Words())
	out.PredictedS, out.RiddenS, out.MovingS = finite(a.PredictedS, decimalsM), finite(a.RiddenS, decimalsM), finite(a.MovingS, decimalsM)
	out.SameEffortS, out.MeanPowerW = finite(a.SameEffortS, decimalsM), finite(a.RiddenPowerW, decimalsPower)
	if !math.IsNaN(a.RiddenPowerW) {
		out.WorkJ, out.UnknownPowerShare = finite(a.RiddenPowerW*a.MovingS, decimalsWork), finite(a.UnknownPowerShare, decimalsRatio)
	}
	if a.Averaged > 0 {
		out.PowerAveragedM = finite(a.Averaged, decimalsM)
	}
	difference := encodeParts(a.Parts)
	out.Difference = &difference
	splits := make([]RiddenSplit, len(x.Spans))
	for i, span := range x.Spans {
		splits[i] = encodeRiddenSplit(span, a.Splits[i])
	}
	out.Splits = &splits
	sheltered := each(x.Sheltered, encodeSheltered)
	out.Sheltered = &sheltered
	if b := a.Balance; b != nil {
		out.WBalanceMinJ, out.WBalanceEndJ = finite(b.MinJ, decimalsWork), finite(b.EndJ, decimalsWork)
		out.WBalanceMinAtM = finite(b.MinAtM+x.FromM, decimalsM)
	}
	if p := a.Plan; p != nil {
		out.Plan = &HindsightPlan{TimeS: finite(p.TimeS, decimalsM), AsRiddenS: finite(p.AsRiddenS, decimalsM), GainS: finite(p.AsRiddenS-p.TimeS, decimalsM)}
		if p.Err != nil {
			doc := problemOf(p.Err).document("")
			out.Plan.Problem = &doc
		}
	}
	if trace {
		out.Trace = encodeRiddenTrace(x, positions)
	}
	return out
}

func encodeRecording(x engine.Examined) *RecordingQuality {
	notes := x.Recorded.Notes
	if x.Ride != nil {
		notes = x.Ride.Notes // those of the recording are among them
	}
	return &RecordingQuality{Samples: x.Recorded.Samples, DurationS: round(x.Recorded.DurationS, decimalsM), Notes: each(notes, encodeNote)}
}

func encodeNote(n recording.Note) RecordingNote {
	return RecordingNote{Code: n.Code, Detail: n.Detail, AtS: finite(n.AtS, decimalsM), Count: n.Count}
}

func encodeLaid(x engine.Examined) LaidRide {
	r := x.Ride
	out := LaidRide{
		By: Position, StartM: metres(x.FromM), EndM: metres(x.ToM), CoveredShare: round((x.ToM-x.FromM)/x.Course.LengthM(), decimalsRatio),
		DeviationMedianM: finite(r.Deviation.MedianM, decimalsM), DeviationP95M: finite(r.Deviation.P95M, decimalsM),
		DeviationMaxM: finite(r.Deviation.LargestM, decimalsM), DeviationMaxAtM: finite(r.Deviation.LargestAtM, decimalsM),
	}
	if r.ByDistance {
		out.By, out.DistanceScale = Distance, finite(r.Scale, decimalsRatio)
	}
	passes := each(r.Passes, func(p ridden.Pass) RiddenPass {
		return RiddenPass{Lap: optional(p.Lap), StartM: metres(p.StartM), EndM: metres(p.EndM), TimeS: finite(p.TimeS(), decimalsM)}
	})
	out.Passes = &passes
	return out
}

func encodeParts(p hindsight.Parts) DifferenceParts {
	s := func(x float64) float64 { return round(x, decimalsM) }
	return DifferenceParts{
		TotalS: s(p.Sum()), StartS: s(p.StartS), PowerS: s(p.PowerS), PacingS: s(p.PacingS), DragS: s(p.DragS), RollingS: s(p.RollingS),
		ShelterS: s(p.ShelterS), StopsS: s(p.StopsS), RestS: s(p.RestS),
	}
}

func encodeRiddenSplit(span engine.Span, s hindsight.Split) RiddenSplit {
	return RiddenSplit{
		Of: RiddenSplitOf(span.Of), ID: optional(span.ID), Name: optional(span.Name), Kind: optional(span.Kind), Lap: optional(span.Lap), Pass: optional(span.Pass),
		StartM: metres(span.StartM), EndM: metres(span.EndM), PredictedS: metres(s.PredictedS), RiddenS: metres(s.RiddenS),
		PredictedPowerW: finite(s.PredictedPowerW, decimalsPower), RiddenPowerW: finite(s.RiddenPowerW, decimalsPower), Difference: encodeParts(s.Parts),
	}
}

func encodeSheltered(s calibrate.Lee) ShelteredStretch {
	return ShelteredStretch{StartM: metres(s.StartM), EndM: metres(s.EndM), DragFactor: round(s.Factor, decimalsRatio), DragFactorSe: finite(s.FactorSE, decimalsRatio)}
}

// encodeRiddenTrace writes the ride on the course beside its prediction.
func encodeRiddenTrace(x engine.Examined, positions bool) *RiddenTrace {
	points := x.Ride.Points
	out := &RiddenTrace{Predicted: *encodeTrace(x.Account.Predicted.Trace, x.FromM)}
	var lat, lon []float64
	for _, p := range points {
		out.DistanceM = append(out.DistanceM, metres(p.AtM))
		out.TimeS = append(out.TimeS, metres(p.TimeS-points[0].TimeS))
		out.SpeedMps = append(out.SpeedMps, orZero(round(p.SpeedMPS, decimalsM)))
		if positions && x.Course.HasPositions() {
			a, b := x.Course.PositionAt(p.AtM).Degrees()
			lat, lon = append(lat, round(a, decimalsDegrees)), append(lon, round(b, decimalsDegrees))
		}
	}
	if x.Account.PowerW != nil {
		power := rounded(x.Account.PowerW, decimalsPower)
		out.PowerW = &power
	}
	if b := x.Account.Balance; b != nil {
		balance := rounded(b.J, decimalsWork)
		out.WBalanceJ = &balance
	}
	if lat != nil {
		out.LatitudeDeg, out.LongitudeDeg = &lat, &lon
	}
	return out
}

func encodeLearnt(c *engine.Calibration, l engine.Learnt) Learnt {
	out := Learnt{Rider: l.Rider, Setup: l.Setup, RideIds: each(l.Rides, func(i int) string { return c.Rides[i].ID })}
	if l.Err != nil {
		doc := problemOf(l.Err).document("")
		out.Problem = &doc
		return out
	}
	e := l.Estimate
	out.CdaM2, out.CdaSeM2, out.DragDetermined = finite(e.CdAM2, decimalsRatio), finite(e.CdASE, decimalsRatio), &e.DragDetermined
	out.Crr, out.CrrSe, out.RollingDetermined = finite(e.Crr, decimalsRatio), finite(e.CrrSE, decimalsRatio), &e.RollingDetermined
	out.CrrAssumed, out.Correlation = &e.CrrAssumed, finite(e.Correlation, decimalsRatio)
	if e.PowerScaleSE > 0 {
		out.PowerScale, out.PowerScaleSe = finite(e.PowerScale, decimalsRatio), finite(e.PowerScaleSE, decimalsRatio)
	}
	if e.PowerOffsetWSE > 0 {
		out.PowerOffsetW, out.PowerOffsetSeW = finite(e.PowerOffsetW, decimalsPower), finite(e.PowerOffsetWSE, decimalsPower)
	}
	out.Winds = encodeWinds(e.Winds)
	out.ScatterPct, out.ElevationErrorM = finite(e.ScatterPct, decimalsM), finite(e.ElevationErrorM, decimalsM)
	used := 0.0
	for _, s := range e.Stretches {
		used += s.EndS - s.StartS
	}
	n := len(e.Stretches)
	out.Stretches, out.UsedS = &n, finite(used, decimalsM)
	leftOut := each(e.Excluded, func(x calibrate.Exclusion) LeftOut {
		return LeftOut{Reason: string(x.Reason), TimeS: round(x.TimeS, decimalsM), LengthM: finite(x.LengthM, decimalsM)}
	})
	out.LeftOut = &leftOut
	from := each(e.Sources, func(s calibrate.Source) ErrorSource {
		return ErrorSource{Of: string(s.Of), CdaSeM2: round(s.CdASE, decimalsRatio), CrrSe: round(s.CrrSE, decimalsRatio)}
	})
	out.ErrorsFrom = &from
	notes := each(e.Notes, func(n calibrate.Note) CapabilityWarning { return CapabilityWarning{Code: n.Code, Detail: n.Detail} })
	out.Notes = &notes
	advice := each(e.Advice, func(t calibrate.Trial) RideAdvice {
		return RideAdvice{Detail: t.Words(), CdaSeM2: round(t.Expected.CdASE, decimalsRatio), CrrSe: round(t.Expected.CrrSE, decimalsRatio)}
	})
	out.Advice = &advice
	out.Next = &NextRound{Rider: encodeRider(l.NextRider), Setup: encodeSetup(l.NextSetup)}
	return out
}

// encodeWinds writes winds that were sought; nil where none was.
func encodeWinds(winds []calibrate.Wind) *[]LearntWind {
	var out []LearntWind
	for _, w := range winds {
		if max(w.NorthSE, w.EastSE, w.HeadwindSE) == 0 {
			return nil
		}
		one := LearntWind{WindMps: finite(w.WindMps, decimalsM), WindFromDeg: finite(w.WindFromDeg, decimalsM), HeadwindMps: finite(w.HeadwindMps, decimalsM)}
		if one.HeadwindMps != nil {
			one.HeadwindSeMps = finite(w.HeadwindSE, decimalsM)
		} else {
			one.WindSeMps = finite(max(w.NorthSE, w.EastSE), decimalsM)
		}
		out = append(out, one)
	}
	if out == nil {
		return nil
	}
	return &out
}

// encodeRider writes a rider as requests have it, without what isn't given.
func encodeRider(r ride.Rider) Rider {
	out := Rider{
		Name: optional(r.Name), MassKg: r.MassKg, HeightM: given(r.HeightM), CdaM2: given(r.CdAM2), PowerW: given(r.PowerW),
		CriticalPowerW: given(r.CriticalPowerW), WPrimeJ: given(r.WPrimeJ), MaxPowerW: given(r.MaxPowerW),
		RecoveryRate: given(r.RecoveryRate), GrossEfficiency: given(r.GrossEfficiency),
	}
	if r.RecoveryLaw != "" && r.RecoveryLaw != ride.Proportional {
		law := RiderRecoveryLaw(r.RecoveryLaw)
		out.RecoveryLaw = &law
	}
	return out
}

// encodeSetup writes a set-up as requests have it.
func encodeSetup(s ride.Setup) Setup {
	return Setup{
		Name: optional(s.Name), MassKg: given(s.MassKg), CdaM2: finite(s.CdAM2, decimalsRatio), CdaChangeM2: given(s.CdAChangeM2), Crr: finite(s.Crr, decimalsRatio),
		DrivetrainEfficiency: given(s.DrivetrainEfficiency), WheelInertiaKgM2: given(s.WheelInertiaKgM2), WheelRadiusM: given(s.WheelRadiusM),
		WheelDragAreaM2: given(s.WheelDragAreaM2), BearingN: given(s.BearingN), BearingNSPerM: given(s.BearingNsPerM),
	}
}

// orZero stands in for what isn't known in lists, which have a number for each place.
func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
