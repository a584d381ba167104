package api

import (
	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
)

func encodeStretch(s terrain.Stretch) Section {
	return Section{
		StartM: metres(s.StartM), EndM: metres(s.EndM), LengthM: metres(s.LengthM()),
		MeanGradientPct: metres(s.MeanGradientPct), MaxGradientPct: metres(s.MaxGradientPct),
	}
}

func encodeWindow(w terrain.Window) Window {
	return Window{WindowM: metres(w.WindowM), GradientPct: metres(w.GradientPct), StartM: metres(w.StartM)}
}

func encodePass(p terrain.Pass) Pass {
	return Pass{Lap: optional(p.Lap), StartM: metres(p.StartM), EndM: metres(p.EndM), ToFinishM: metres(p.ToFinishM), Partial: p.Partial}
}

func encodeClimb(maxWindowM float64) func(terrain.Climb) Climb {
	return func(c terrain.Climb) Climb {
		return Climb{
			ClimbID: c.ID, ParentClimbID: optional(c.ParentID), PartOfClimbID: optional(c.PartOfID), Name: optional(c.Name),
			StartM: metres(c.StartM), EndM: metres(c.EndM), LengthM: metres(c.LengthM()),
			GainM: metres(c.GainM), BottomElevationM: metres(c.BottomM), TopElevationM: metres(c.TopM),
			MeanGradientPct: metres(c.MeanGradientPct), MaxGradientPct: metres(c.MaxGradientPct), MaxWindowM: metres(maxWindowM),
			Difficulty: Difficulty{
				H2Index:                  metres(c.Difficulty.H2Index),
				WorkAgainstGravityJPerKg: round(c.Difficulty.WorkAgainstGravityJPerKg, decimalsWork),
			},
			Sections: each(c.Sections, encodeStretch), Steepest: each(c.Steepest, encodeWindow),
			Passes: each(c.Passes, encodePass), EndsAtFinish: c.EndsAtFinish,
		}
	}
}

func encodeDescent(maxWindowM float64) func(terrain.Descent) Descent {
	return func(d terrain.Descent) Descent {
		return Descent{
			DescentID: d.ID, StartM: metres(d.StartM), EndM: metres(d.EndM), LengthM: metres(d.LengthM()),
			DropM: metres(d.DropM), TopElevationM: metres(d.TopM), BottomElevationM: metres(d.BottomM),
			MeanGradientPct: metres(d.MeanGradientPct), MaxGradientPct: metres(d.MaxGradientPct), MaxWindowM: metres(maxWindowM),
			Passes: each(d.Passes, encodePass), SharpestBends: each(d.SharpestBends, encodeBend),
		}
	}
}

func encodeBend(b terrain.Bend) Bend {
	return Bend{AtM: metres(b.AtM), RadiusM: metres(b.RadiusM), TurnDeg: metres(b.TurnDeg)}
}

func encodeBand(b terrain.Band) GradientBand {
	return GradientBand{FromPct: finite(b.FromPct, decimalsM), ToPct: finite(b.ToPct, decimalsM), LengthM: metres(b.LengthM)}
}

func encodeMark(m terrain.Mark) Mark {
	return Mark{
		MarkID: m.ID, Name: m.Name, Kind: MarkKind(m.Kind), OffCourseM: metres(m.OffCourseM),
		Passes: each(m.Passes, func(p terrain.MarkPass) MarkPass {
			return MarkPass{
				Lap: optional(p.Lap), AtM: metres(p.AtM), ToFinishM: metres(p.ToFinishM),
				GradientPct: finite(p.GradientPct, decimalsM), Approach: each(p.Approach, encodeApproach),
				AscentBeforeM: finite(p.AscentBeforeM, decimalsM), AscentAfterM: finite(p.AscentAfterM, decimalsM),
			}
		}),
	}
}

func encodeApproach(a terrain.Approach) Approach {
	return Approach{
		DistanceM: metres(a.DistanceM), BendsCount: a.Bends, SharpestRadiusM: optional(metres(a.SharpestRadiusM)),
		MeanGradientPct: finite(a.MeanGradientPct, decimalsM), MaxGradientPct: finite(a.MaxGradientPct, decimalsM),
	}
}

func encodeFalseFlat(f terrain.FalseFlat) FalseFlat {
	return FalseFlat{
		StartM: metres(f.StartM), EndM: metres(f.EndM), LengthM: metres(f.LengthM()), GainM: metres(f.GainM),
		MeanGradientPct: metres(f.MeanGradientPct), MaxGradientPct: metres(f.MaxGradientPct), Passes: each(f.Passes, encodePass),
	}
}

func encodeClimbing(c *course.Course, t *terrain.Terrain) Climbing {
	if !c.HasElevation() {
		return Climbing{ByPart: []PartClimbing{}, FalseFlats: []FalseFlat{}}
	}
	r := t.Climbing.Rolling
	rolling := &Rolling{
		RisesPerKm: metres(r.RisesPerKm), MeanRiseM: metres(r.MeanRiseM), LargestRiseM: metres(r.LargestRiseM),
		AscentMPerKm: metres(r.AscentMPerKm),
	}
	if r.LongestSteady.LengthM() > 0 {
		steady := encodeStretch(r.LongestSteady)
		rolling.LongestSteady = &steady
	}
	return Climbing{
		ShareBeforeLastClimb: finite(t.Climbing.ShareBeforeLastClimb, decimalsRatio),
		Rolling:              rolling,
		FalseFlats:           each(t.Climbing.FalseFlats, encodeFalseFlat),
		ByPart: each(t.Climbing.ByPart, func(p terrain.PartClimbing) PartClimbing {
			return PartClimbing{
				Kind: PartClimbingKind(p.Part.Kind), Lap: optional(p.Part.Lap), StartM: metres(p.Part.StartM), EndM: metres(p.Part.EndM),
				AscentM: metres(p.AscentM), Share: round(p.Share, decimalsRatio),
			}
		}),
	}
}
