package choice

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/ride"
)

var allQuantities = []Quantity{RiderMass, Power, Shelter, Gradient}

// drawCase is a flat, a climb and a descent with three ambitions and some set-ups.
func drawCase(t *rapid.T, setups int) Case {
	flat, climb := rapid.Float64Range(500, 9000).Draw(t, "flat"), rapid.Float64Range(500, 5000).Draw(t, "climb")
	gradient := rapid.Float64Range(0.02, 0.1).Draw(t, "gradient")
	s := []float64{0, flat, flat + climb, flat + climb + 1500}
	z := []float64{100, 100, 100 + gradient*climb, 60 + gradient*climb}
	road := mustRoad(t, profile(s, z), conditions())
	c := Case{
		Road: road, Rider: rider(rapid.Float64Range(48, 100).Draw(t, "mass")), Doubt: doubtful(road), Quantities: allQuantities,
		Ambitions: []Ambition{{"the weir", []Pass{{flat / 2, flat / 2}, {flat, flat}}}, {"the climb", []Pass{{flat, flat + climb}}}, finish(road)},
	}
	for i := range setups {
		c.Setups = append(c.Setups, setup(string(rune('A'+i)), rapid.Float64Range(6, 12).Draw(t, "kg"), rapid.Float64Range(-0.06, 0.03).Draw(t, "m²")))
	}
	return c.at(t, rapid.Float64Range(160, 420).Draw(t, "power"))
}

// reordered is a case with its set-ups in another order: the i-th is order[i] of the given.
func reordered(c Case, order []int) Case {
	setups, rides := c.Setups, c.Rides
	c.Setups, c.Rides = nil, nil
	for _, k := range order {
		c.Setups, c.Rides = append(c.Setups, setups[k]), append(c.Rides, rides[k])
	}
	return c
}

// Whatever order the set-ups are given in, each has the same numbers under its name.
func TestTheOrderOfSetupsDecidesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, 3)
		order := rapid.Permutation([]int{0, 1, 2}).Draw(t, "order")
		there, back := decide(t, c), decide(t, reordered(c, order))
		for i := range there.Rankings {
			a, b := there.Rankings[i], back.Rankings[i]
			if !slices.Equal(a.Costs, b.Costs) {
				t.Fatalf("costs %v, %v", a.Costs, b.Costs)
			}
			for k := range a.Places {
				if p, q := a.Places[k], b.Places[k]; p.Setup != order[q.Setup] || p.TimeS != q.TimeS || p.Behind != q.Behind {
					t.Fatalf("place %d: %+v, in another order %+v", k, p, q)
				}
			}
			for k := range a.Crossings {
				x, y := a.Crossings[k], b.Crossings[k]
				y.Against, y.BetterBelow, y.BetterAbove = order[y.Against], order[y.BetterBelow], order[y.BetterAbove]
				same := math.IsNaN(x.At) && math.IsNaN(y.At) || math.Abs(x.At-y.At) <= 1e-9*math.Abs(x.At)
				if x.At, y.At, x.Own, y.Own = 0, 0, 0, 0; x != y || !same {
					t.Fatalf("crossing %+v, in another order %+v", x, y)
				}
			}
		}
	})
}

func TestTheSameSetupTwiceIsATie(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, 1)
		c = reordered(c, []int{0, 0})
		c.Setups[1].Name = "B"
		for _, r := range decide(t, c).Rankings {
			p := r.Places[1]
			if c.Setups[r.Places[0].Setup].Name != "A" || p.Behind != (Gap{Tied: true}) {
				t.Fatalf("%+v", r.Places)
			}
			for _, x := range r.Crossings {
				if !math.IsNaN(x.At) {
					t.Fatalf("%+v", x)
				}
			}
		}
	})
}

// At a crossing point both set-ups take the same time, and on either side the one that is
// named is faster.
func TestCrossingsAreWhereTimesMeet(t *testing.T) {
	const same, off = 0.02, 0.004 // s, and shares of the range
	found, refined := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, 2)
		for i, r := range decide(t, c).Rankings {
			for _, x := range r.Crossings {
				span := x.To - x.From
				lo, hi := x.At-float64(off*span), x.At+float64(off*span)
				if x.Quantity == Gradient || !(lo >= x.From && hi <= x.To) {
					continue
				}
				found++
				if !x.Refined {
					continue
				}
				refined++
				apart := func(v float64) float64 { return c.apartAt(t, x.Quantity, v, x.BetterBelow, x.BetterAbove)[i] }
				if below, above := apart(lo), apart(hi); below > same || above < -same {
					t.Fatalf("%s of %v: %v s below, %v s above", x.Quantity, x.At, below, above)
				}
			}
		}
	})
	t.Logf("of %d crossings %d are refined", found, refined)
	if found == 0 || refined < found*9/10 {
		t.Errorf("of %d crossings %d are refined", found, refined)
	}
}

// apartAt is how much longer one set-up takes than the other at a value of a quantity.
func (c Case) apartAt(t rapid.TB, q Quantity, x float64, a, b int) []float64 {
	tab, err := c.table(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	p := pair{table: tab, low: a, high: b, left: 2}
	curve := curve{axis: p.axis(q)}
	if rides, err := p.visit(context.Background(), &curve, x); err != nil || !rides {
		t.Fatalf("%s of %v: %v", q, x, err)
	}
	return curve.nodes[0].gapsS
}

// A pair of set-ups is ridden no more often than is promised, however many its ambitions.
func TestRidesOfAPairAreBounded(t *testing.T) {
	road := mustRoad(t, profile([]float64{0, 4000, 8000, 12000}, []float64{0, 0, 250, 260}), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("light", 6.5, 0), setup("smooth", 9.5, -0.03)}, Doubt: doubtless(), Quantities: allQuantities}
	for x := 4200.0; x < 12000; x += 200 {
		c.Ambitions = append(c.Ambitions, Ambition{"a line", []Pass{{x, x}}})
	}
	c.Ambitions = append(c.Ambitions, finish(road))
	c = c.at(t, 250)
	tab, err := c.table(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	p := &pair{table: tab, low: 0, high: 1, left: MostRides}
	if err := p.explore(context.Background()); err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, curve := range p.curves {
		for i := range c.Ambitions {
			x, err := p.find(context.Background(), curve, i, 0)
			if err != nil {
				t.Fatal(err)
			}
			if !math.IsNaN(x.At) {
				found++
			}
		}
	}
	if p.left < 0 || p.left > 1 || found < 20 {
		t.Errorf("%d rides left, %d crossings", p.left, found)
	}
}

// Where the rider can't climb is no part of the range.
func TestRangesEndWhereRidersHalt(t *testing.T) {
	road := mustRoad(t, slope(3000, 0.14), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("light", 6.5, 0), setup("smooth", 9.5, -0.03)}, Doubt: doubtless(), Quantities: []Quantity{Power}, Ambitions: []Ambition{finish(road)}}
	x := decide(t, c.at(t, 110)).Rankings[0].Crossings[0]
	if !(x.From > 55 && x.From <= 110 && x.To == 220) {
		t.Errorf("from %v W to %v W", x.From, x.To)
	}
}

func TestDecisionsEndWithTheirCaller(t *testing.T) {
	road := mustRoad(t, slope(3000, 0.04), conditions())
	c := Case{Road: road, Rider: rider(70), Setups: []ride.Setup{setup("light", 6.5, 0), setup("smooth", 9.5, -0.03)}, Doubt: doubtless(), Quantities: []Quantity{Power}, Ambitions: []Ambition{finish(road)}}
	c = c.at(t, 250)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Decide(ctx, c); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
