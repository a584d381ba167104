// Package choice compares a rider's set-ups by what the rider wants to be good at, and
// judges changes of bike on the way.
//
// An ambition is a line to be early at or a stretch to be fast over. For each, the
// set-ups are ranked by their times, with what the choice costs elsewhere, and with the
// rider mass, power, shelter and gradient at which the runner-up becomes the better one.
// All times are those of the motion model of package ride. What both set-ups share, the
// rider, the power, the road and the weather, errs alike for both: their difference is
// known far better than either time.
package choice

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"

	"parcours.example/analysis/ride"
)

// Ambition is a line to be early at, or a stretch to be fast over. Its measure is the
// time to the line or through the stretch, the mean over its passes.
type Ambition struct {
	// Name is how a sentence calls it: "the finish", "Mill Lane".
	Name string
	// Passes are on the road, one at least.
	Passes []Pass
}

// Pass is one time that an ambition is ridden, in metres on the road; a line's start is
// its end.
type Pass struct{ StartM, EndM float64 }

// IsLine tells lines from stretches.
func (a *Ambition) IsLine() bool { return a.Passes[0].StartM == a.Passes[0].EndM }

// Case is one rider's choice.
type Case struct {
	Road  *ride.Road
	Rider ride.Rider
	// Setups are named, and Rides the rider's on each of them over the Spans of the ambitions and
	// changes, with their traces; nil where there is none. All ask for the same effort.
	Setups []ride.Setup
	Rides  []*ride.Ride
	// Ambitions hold the finish, at the index Finish.
	Ambitions []Ambition
	Finish    int
	Changes   []Change
	Doubt     Doubt
	// Quantities are those whose crossing points are looked for.
	Quantities []Quantity
}

// Spans returns the stretches and lines that the rides of a case must time.
func Spans(ambitions []Ambition, changes []Change, lengthM float64) []ride.Span {
	var spans []ride.Span
	add := func(startM, endM float64) {
		spans = append(spans, ride.Span{ID: strconv.Itoa(len(spans)), StartM: startM, EndM: endM})
	}
	for _, a := range ambitions {
		for _, p := range a.Passes {
			add(p.StartM, p.EndM)
		}
	}
	for _, c := range changes {
		for _, spot := range c.Spots {
			add(spot.AtM, lengthM)
		}
	}
	return spans
}

// Verdict is what a case comes to.
type Verdict struct {
	// Rankings stand in the order of the ambitions. They are empty where no set-up has a ride.
	Rankings []Ranking
	// Changes stand in the order of the case's.
	Changes []Changed
}

// Ranking is an ambition's.
type Ranking struct {
	// Places are the set-ups that have a ride, the fastest first.
	Places []Place
	// Costs are what the first place gives away at each ambition, in their order: behind the
	// fastest there.
	Costs []Gap
	// Crossings are where the second place becomes the better one; nil with one set-up.
	Crossings []Crossing
}

// Place is a set-up in a ranking.
type Place struct {
	Setup int
	// TimeS is the ambition's measure, PassesS the time at each pass.
	TimeS   float64
	PassesS []float64
	// Behind is the gap to the first place, 0 for itself.
	Behind Gap
}

// Decide answers a case. Errors are the context's and *ride.Error with CodeInvalid.
func Decide(ctx context.Context, c Case) (*Verdict, error) {
	t, err := c.table(ctx)
	if err != nil {
		return nil, err
	}
	v := &Verdict{Rankings: make([]Ranking, len(c.Ambitions)), Changes: make([]Changed, len(c.Changes))}
	for i := range c.Ambitions {
		v.Rankings[i].Places = t.places(i)
	}
	if len(v.Rankings[0].Places) > 0 {
		for i := range v.Rankings {
			v.Rankings[i].Costs = t.costs(v.Rankings, i)
		}
		if err = t.cross(ctx, v.Rankings); err != nil {
			return nil, err
		}
	}
	for i := range c.Changes {
		if v.Changes[i], err = t.change(ctx, i); err != nil {
			return nil, err
		}
	}
	return v, nil
}

// measure is a time and what it depends on.
type measure struct {
	timeS float64
	by    ride.Sensitivity
}

// table holds every set-up's measures.
type table struct {
	*Case
	// spans are those of each set-up, in the order of Spans.
	spans [][]measure
	// first is each ambition's first span; the changes' spans follow the last.
	first []int
	// z is the quantile of the doubt's coverage.
	z float64
}

func (c *Case) table(ctx context.Context) (*table, error) {
	t := &table{Case: c, spans: make([][]measure, len(c.Setups)), first: make([]int, len(c.Ambitions)+1), z: ride.CentralQuantile(c.Doubt.CoveragePct / 100)}
	for i, a := range c.Ambitions {
		t.first[i+1] = t.first[i] + len(a.Passes)
	}
	for i, r := range c.Rides {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if r == nil {
			continue
		}
		s := r.Sensitivities(c.Road)
		for k := range r.Splits {
			t.spans[i] = append(t.spans[i], measure{r.Splits[k].TimeS, s.Splits[k]})
		}
	}
	return t, nil
}

// of returns a set-up's measure of an ambition.
func (t *table) of(setup, ambition int) measure {
	passes := t.spans[setup][t.first[ambition]:t.first[ambition+1]]
	var m measure
	share := 1 / float64(len(passes))
	for _, p := range passes {
		m.timeS += float64(p.timeS * share)
		m.by = plus(m.by, p.by, share)
	}
	return m
}

// places ranks the set-ups. Of two that take the same time the one whose name is first
// stands first, so that the order in which they were given doesn't decide.
func (t *table) places(ambition int) []Place {
	var places []Place
	for i, r := range t.Rides {
		if r == nil {
			continue
		}
		p := Place{Setup: i, TimeS: t.of(i, ambition).timeS}
		for _, pass := range t.spans[i][t.first[ambition]:t.first[ambition+1]] {
			p.PassesS = append(p.PassesS, pass.timeS)
		}
		places = append(places, p)
	}
	slices.SortStableFunc(places, func(a, b Place) int {
		return cmp.Or(cmp.Compare(a.TimeS, b.TimeS), cmp.Compare(t.Setups[a.Setup].Name, t.Setups[b.Setup].Name))
	})
	for i := range places {
		places[i].Behind = t.gap(places[0].Setup, places[i].Setup, ambition)
	}
	return places
}

// gap is how far a set-up is behind another at an ambition.
func (t *table) gap(ahead, behind, ambition int) Gap {
	return t.between(t.of(ahead, ambition), t.of(behind, ambition), ahead, behind)
}

// costs is what the first place of an ambition gives away at each.
func (t *table) costs(rankings []Ranking, ambition int) []Gap {
	costs := make([]Gap, len(rankings))
	chosen := rankings[ambition].Places[0].Setup
	for i := range rankings {
		costs[i] = t.gap(rankings[i].Places[0].Setup, chosen, i)
	}
	return costs
}

// power is what stands for a ride's power in W: the asked one where it is constant, else
// the mean.
func power(r *ride.Ride) float64 {
	if steps := r.Asked().Steps; len(steps) == 1 {
		return steps[0].PowerW
	}
	return r.MeanPowerW
}

// unknown is what isn't known.
var unknown = math.NaN()
