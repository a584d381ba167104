package api

import (
	"parcours.example/analysis"
	"parcours.example/analysis/aid"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeAids writes what was found of aids as the contract has it.
func encodeAids(a *engine.Aids, asked engine.AidsRequest) *Aids {
	place := func(s engine.Span) ToldPlace { return encodePlace(s, a.EndM) }
	return &Aids{
		CourseID: a.Course.ID, EngineVersion: analysis.EngineVersion, DistanceM: metres(a.EndM - a.StartM), At: place(a.At),
		Aids: each(a.Aids, func(t engine.ToldAid) ToldAid {
			return ToldAid{
				Name: t.Name, DragFactor: t.DragFactor, MassChangeKg: t.MassChangeKg, WakeFactor: t.WakeFactor, DurationS: t.DurationS,
				Earned: each(t.Earned, place), Without: each(t.Without, place),
			}
		}),
		Rides:          each(a.Items, func(item engine.AidsItem) AidedRide { return encodeAidedRide(a, item) }),
		Recommendation: a.Recommendation, Model: a.Model,
		Assumptions: each(a.Assumptions, encodeAssumption),
		Cautions:    append([]string{aid.Caution}, cautionsOf(asked.Conditions.Indoor)...),
	}
}

func encodeAidedRide(a *engine.Aids, item engine.AidsItem) AidedRide {
	out := AidedRide{Rider: item.Rider, RiderIndex: item.RiderIndex, Setup: item.Setup, SetupIndex: item.SetupIndex}
	if item.Err != nil {
		doc := problemOf(item.Err).document("")
		out.Problem = &doc
		return out
	}
	out.TimeS = finite(item.TimeS, decimalsM)
	gains := make([]AidGain, len(item.Aids))
	for k, found := range item.Aids {
		gains[k] = encodeAidGain(a, k, found)
	}
	out.Aids = &gains
	if item.Joint != nil {
		out.Joint = encodeJoint(a, item.Joint)
	}
	return out
}

func encodeAidGain(a *engine.Aids, k int, f engine.AidFound) AidGain {
	told := a.Aids[k]
	out := AidGain{Aid: told.Name}
	if f.Err != nil {
		doc := problemOf(f.Err).document("")
		out.Problem = &doc
		return out
	}
	out.FirstAtM, out.FirstClockS = finite(told.FirstM()+a.StartM, decimalsM), finite(f.FirstS, decimalsM)
	out.Places = encodeAidPlaces(f.Samples, a.StartM)
	runners := []AidUse{}
	for i, b := range f.Best {
		use := encodeAidUse(a, b)
		use.BehindS = gain(f.Best[0].Value() - b.Value())
		if i == 0 {
			out.Best = &use
			continue
		}
		runners = append(runners, use)
	}
	out.RunnersUp = &runners
	others := each(f.Others, func(o aid.Other) AidAtOtherPower {
		atM := f.Best[o.Best].AtM
		return AidAtOtherPower{PowerChangePct: o.PowerPct, AtM: metres(atM + a.StartM), Where: a.Where(atM).String(), GainS: gain(o.GainS)}
	})
	lines := []AidAtLine{}
	for i, s := range f.Sprints {
		if s != nil {
			lines = append(lines, AidAtLine{
				Line: encodePlace(a.Lines[i], a.EndM), AtM: metres(s.UseM + a.StartM), BeforeM: metres(s.LineM - s.UseM), GainS: gain(s.GainS), AheadM: metres(s.AheadM()),
				SpeedMps: metres(s.SpeedMps), FasterMps: metres(s.FasterMps),
			})
		}
	}
	out.OtherPowers, out.Lines = &others, &lines
	return out
}

// gain rounds a time gained, which is computed to 10⁻⁴ s.
func gain(s float64) float64 { return round(s, decimalsM) }

func encodeAidPlaces(samples []aid.Use, startM float64) *AidPlaces {
	out := &AidPlaces{AtM: make([]float64, len(samples)), GainS: make([]float64, len(samples))}
	var added, opens []float64
	for i, u := range samples {
		out.AtM[i], out.GainS[i] = metres(u.AtM+startM), gain(u.GainS)
		if u.Follower != nil {
			added, opens = append(added, round(u.Follower.AddedW, decimalsPower)), append(opens, metres(u.Follower.OpensM))
		}
	}
	if added != nil {
		out.FollowerAddedW, out.FollowerOpensM = &added, &opens
	}
	return out
}

func encodeAidUse(a *engine.Aids, b aid.Best) AidUse {
	out := AidUse{
		AtM: metres(b.AtM + a.StartM), EndsM: metres(b.EndsM + a.StartM), Where: a.Where(b.AtM).String(), ClockS: metres(b.ClockS),
		SpeedMps: metres(b.SpeedMps), GainS: gain(b.GainS), FromM: metres(b.FromM + a.StartM), ToM: metres(b.ToM + a.StartM),
	}
	if f := b.Follower; f != nil {
		out.Follower = &AidFollower{AddedW: round(f.AddedW, decimalsPower), AddedJ: round(f.AddedJ, decimalsWork), OpensM: metres(f.OpensM), LostS: metres(f.LostS)}
	}
	return out
}

func encodeJoint(a *engine.Aids, j *aid.Joint) *JointUse {
	return &JointUse{
		Uses: each(j.Uses, func(u aid.Planned) JointAidUse {
			return JointAidUse{
				Aid: a.Aids[u.Aid].Name, AidIndex: u.Aid, AtM: metres(u.AtM + a.StartM), Where: a.Where(u.AtM).String(),
				EarnedAtM: finite(u.EarnedM+a.StartM, decimalsM), AloneS: gain(u.AloneS),
			}
		}),
		GainS: gain(j.GainS), AloneS: gain(j.AloneS()),
	}
}
