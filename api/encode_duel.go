package api

import (
	"parcours.example/analysis/duel"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// encodeDuel writes a duel whose road begins at startM of the course.
func encodeDuel(d *engine.Duel, startM float64) *Duel {
	out := &Duel{
		Heavier: encodeDuellist(d.Heavier, d.HeavierIndex), Lighter: encodeDuellist(d.Lighter, d.LighterIndex), GapS: metres(d.GapS),
		Stretches: eachIndex(d.Spans, func(i int, span engine.Span) DuelStretch { return encodeDuelStretch(span, d.Stretches[i]) }),
		Ground:    each(d.Ground[:], encodeDuelGround),
		Power:     encodeDuelPower(d.Power), Mass: encodeDuelMass(d.Mass), Words: d.Words(),
	}
	for _, g := range d.Gaps {
		out.Gaps.AtM = append(out.Gaps.AtM, metres(g.AtM+startM))
		out.Gaps.GapS = append(out.Gaps.GapS, metres(g.GapS))
	}
	if d.LastClimb != nil {
		out.LastClimb = encodeDuelClimb(*d.LastClimb, d.Answer.LastClimb)
	}
	return out
}

func encodeDuellist(r duel.Rider, index int) DuelRider {
	return DuelRider{
		Rider: r.Name, RiderIndex: index, MassKg: metres(r.MassKg), WPerKg: round(r.WPerKg, decimalsRatio), TimeS: metres(r.TimeS), Feasible: r.Feasible,
	}
}

func encodeDuelStretch(span engine.Span, s duel.Stretch) DuelStretch {
	return DuelStretch{
		Of: DuelStretchOf(span.Of), ID: optional(span.ID), Name: optional(span.Name), Kind: optional(span.Kind),
		Lap: optional(span.Lap), Pass: optional(span.Pass), StartM: metres(span.StartM), EndM: metres(span.EndM),
		HeavierS: metres(s.HeavierS), LighterS: metres(s.LighterS), GainS: metres(s.GainS()),
		HeavierClockS: metres(s.HeavierClockS), LighterClockS: metres(s.LighterClockS),
		StartGapS: metres(s.StartGapS), EndGapS: metres(s.EndGapS),
	}
}

func encodeDuelGround(g duel.Ground) DuelGround {
	return DuelGround{
		Slope: DuelGroundSlope(g.Slope), LengthM: metres(g.LengthM), HeavierS: metres(g.HeavierS), LighterS: metres(g.LighterS), GainS: metres(g.GainS()),
	}
}

func encodeDuelClimb(span engine.Span, c *duel.LastClimb) *DuelClimb {
	return &DuelClimb{
		ID: span.ID, Name: optional(span.Name), Pass: span.Pass, StartM: metres(span.StartM), EndM: metres(span.EndM),
		StartGapS: metres(c.StartGapS), EndGapS: metres(c.EndGapS), GainS: metres(c.GainS()), ClosableS: metres(c.ClosableS()),
		WPerKg: round(c.WPerKg, decimalsRatio), Needed: encodeDuelPower(c.Needed),
	}
}

func encodeDuelPower(t duel.Tipping) DuelPower {
	out := DuelPower{Found: t.Found, LowWPerKg: round(t.Low, decimalsRatio), HighWPerKg: round(t.High, decimalsRatio)}
	if t.Found {
		out.WPerKg, out.ChangePct, out.Feasible = finite(t.Value, decimalsRatio), finite(100*(t.Factor-1), decimalsRatio), &t.Feasible
	}
	return out
}

func encodeDuelMass(t duel.Tipping) DuelMass {
	out := DuelMass{Found: t.Found, LowKg: metres(t.Low), HighKg: metres(t.High)}
	if t.Found {
		out.MassKg, out.ChangePct = finite(t.Value, decimalsM), finite(100*(t.Factor-1), decimalsRatio)
	}
	return out
}
