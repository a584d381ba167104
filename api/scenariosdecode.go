package api

import (
	"fmt"

	"parcours.example/analysis/field"
	"parcours.example/analysis/race"
	"parcours.example/analysis/ride"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// decodeOwnEffort reads an effort that may be left out.
func decodeOwnEffort(at string, e *Effort) (*ride.Effort, error) {
	if e == nil {
		return nil, nil //nolint:nilnil // left out
	}
	effort, err := decodeEffort(at, *e)
	return &effort, err
}

// plainRider is what of a rider a prediction takes as well.
func plainRider(r ScenarioRider) Rider {
	out := Rider{
		Name: r.Name, MassKg: r.MassKg, HeightM: r.HeightM, CdaM2: r.CdaM2, PowerW: r.PowerW, CriticalPowerW: &r.CriticalPowerW, WPrimeJ: &r.WPrimeJ,
		MaxPowerW: r.MaxPowerW, RecoveryRate: r.RecoveryRate, GrossEfficiency: r.GrossEfficiency,
	}
	if r.RecoveryLaw != nil {
		law := RiderRecoveryLaw(*r.RecoveryLaw)
		out.RecoveryLaw = &law
	}
	return out
}

// decodeContender reads a rider of a field.
func decodeContender(at string, r ScenarioRider) (engine.Contender, error) {
	out := engine.Contender{Rider: decodeRider(plainRider(r)), Team: valueOr(r.Team, ""), Setup: valueOr(r.Setup, "")}
	var err error
	if out.Effort, err = decodeOwnEffort(at+"/effort", r.Effort); err != nil {
		return out, err
	}
	out.Orders, err = decodeAll(at+"/orders", r.Orders, decodeOrder)
	return out, err
}

// decodeDrawn reads riders to be drawn.
func decodeDrawn(at string, g DrawnGroup) (engine.DrawnGroup, error) {
	like, err := decodeContender(at, ScenarioRider{HeightM: g.HeightM, Team: g.Team, Setup: g.Setup, Effort: g.Effort, Orders: g.Orders})
	out := engine.DrawnGroup{Group: engine.UnstatedGroup(), Count: g.Count, Like: like}
	out.Name = g.Name
	if n := g.MassKg; n != nil {
		out.MassKg = field.Normal{Mean: n.Mean, SD: n.Sd}
	}
	if n := g.WPerKg; n != nil {
		out.WPerKg = field.Normal{Mean: n.Mean, SD: n.Sd}
	}
	if n := g.WPrimeJ; n != nil {
		out.WPrimeJ = field.Normal{Mean: n.Mean, SD: n.Sd}
	}
	if n := g.MaxWPerKg; n != nil {
		out.MaxWPerKg = field.Normal{Mean: n.Mean, SD: n.Sd}
	}
	out.Correlations.MassWPerKg = number(g.MassWPerKgCorrelation)
	out.Correlations.MassWPrime = number(g.MassWPrimeCorrelation)
	out.Correlations.WPerKgWPrime = number(g.WPerKgWPrimeCorrelation)
	return out, err
}

// orderFields gives the fields that each order needs and may have.
var orderFields = map[RaceOrderDo]struct{ needs, may []string }{
	RaceOrderDoShareWork: {},
	RaceOrderDoSitIn:     {},
	RaceOrderDoAttack:    {needs: []string{"at"}, may: []string{"for_s"}},
	RaceOrderDoLeadOut:   {needs: []string{"at", "for_rider"}, may: []string{"from_m"}},
	RaceOrderDoSave:      {needs: []string{"at"}},
	RaceOrderDoSprint:    {needs: []string{"at"}},
}

// decodeOrder reads an order: the fields of its kind, and no other.
func decodeOrder(at string, o RaceOrder) (engine.Order, error) {
	out := engine.Order{Do: race.OrderKind(o.Do), ForS: number(o.ForS), FromM: number(o.FromM), ForRider: valueOr(o.ForRider, "")}
	given := map[string]bool{"at": o.At != nil, "for_s": o.ForS != nil, "for_rider": o.ForRider != nil, "from_m": o.FromM != nil}
	fields := orderFields[o.Do]
	for _, name := range fields.needs {
		if !given[name] {
			return out, invalidField(at+"/"+name, "missing", fmt.Sprintf("the order %s needs %s", o.Do, name))
		}
		delete(given, name)
	}
	for _, name := range fields.may {
		delete(given, name)
	}
	for _, name := range []string{"at", "for_s", "for_rider", "from_m"} {
		if given[name] {
			return out, invalidField(at+"/"+name, "not-allowed", fmt.Sprintf("the order %s takes no %s", o.Do, name))
		}
	}
	if o.At == nil {
		return out, nil
	}
	place, err := decodePlace(at+"/at", *o.At)
	out.At = &place
	return out, err
}

// decodeContest reads a contest.
func decodeContest(at string, c Contest) (engine.Contest, error) {
	scores, err := decodeAll(at+"/scores", &c.Scores, decodeScore)
	return engine.Contest{Name: c.Name, Scores: scores, BestOfTeam: valueOr(c.BestOfTeam, 0)}, err
}

// decodeScore reads what gives points.
func decodeScore(at string, s Score) (engine.Score, error) {
	out := engine.Score{By: engine.ScoreBy(s.By), Points: s.Points}
	switch {
	case s.By == ScoreByFinish && s.At != nil:
		return out, invalidField(at+"/at", "not-allowed", "points by finish are given at the finish; leave at out")
	case s.By == ScoreByFinish:
		return out, nil
	case s.At == nil:
		return out, invalidField(at+"/at", "missing", fmt.Sprintf("points by %s need at", s.By))
	}
	place, err := decodePlace(at+"/at", *s.At)
	out.At = &place
	return out, err
}

// decodeRules reads the rules of a race.
func decodeRules(p *RaceRules) engine.RaceRules {
	r, out := valueOr(p, RaceRules{}), engine.UnstatedRules()
	for _, given := range []struct {
		value *float64
		into  *float64
	}{
		{r.StepS, &out.StepS},
		{r.Abreast, &out.Abreast},
		{r.FormPct, &out.FormPct},
		{r.LaunchS, &out.LaunchS},
		{r.MishapsPerH, &out.MishapsPerH},
		{r.MishapS, &out.MishapS},
	} {
		*given.into = number(given.value)
	}
	out.Seed, out.Runs = valueOr(r.Seed, out.Seed), valueOr(r.Runs, out.Runs)
	out.Alone, out.Echelons, out.VaryOrders = !valueOr(r.Shelter, !out.Alone), valueOr(r.Echelons, out.Echelons), valueOr(r.VaryOrders, out.VaryOrders)
	return out
}
