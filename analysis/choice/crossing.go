package choice

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"parcours.example/analysis/ride"
)

// Crossing is where the better of an ambition's two best set-ups changes.
type Crossing struct {
	Quantity Quantity
	// Against is the second place's set-up.
	Against int
	// Own is the rider's own value, NaN for Gradient; At the crossing point nearest to it,
	// NaN where there is none between From and To. A value at which a rider comes to a halt on
	// either set-up is beyond From or To.
	Own, At, From, To float64
	// Refined is false where the pair's rides ran out before At had settled to a thousandth of
	// the range.
	Refined bool
	// BetterBelow and BetterAbove are the faster set-ups on either side of At; without one
	// both are the one that is faster all over the range.
	BetterBelow, BetterAbove int
}

// MostRides bounds the rides that a pair of set-ups is given for its crossing points.
const MostRides = 50

// settled is how near, in shares of the range, the last estimate lies to where the
// difference is known; with no rides left it is the last one there was. Gradients take no
// rides.
const (
	settled         = 1e-3
	settledGradient = 1e-6
)

// pair is two set-ups, low before high, that are the two best of some ambitions.
type pair struct {
	*table
	low, high int
	left      int
	curves    []*curve
}

// curve is how much longer the low set-up takes than the high one, by a quantity.
type curve struct {
	axis
	// nodes are in order of x.
	nodes []node
}

// node is a value with each ambition's difference in s.
type node struct {
	x     float64
	gapsS []float64
}

// cross finds the crossing points of all ambitions.
func (t *table) cross(ctx context.Context, rankings []Ranking) error {
	pairs := map[[2]int]*pair{}
	for i := range rankings {
		if len(rankings[i].Places) < 2 {
			continue
		}
		first, second := rankings[i].Places[0].Setup, rankings[i].Places[1].Setup
		key := [2]int{min(first, second), max(first, second)}
		p := pairs[key]
		if p == nil {
			p = &pair{table: t, low: key[0], high: key[1], left: MostRides}
			if err := p.explore(ctx); err != nil {
				return err
			}
			pairs[key] = p
		}
		for _, c := range p.curves {
			found, err := p.find(ctx, c, i, first)
			if err != nil {
				return err
			}
			found.Against = second
			rankings[i].Crossings = append(rankings[i].Crossings, found)
		}
	}
	return nil
}

// explore lays the first nodes of every quantity's curve.
func (p *pair) explore(ctx context.Context) error {
	for _, q := range p.Quantities {
		c := &curve{axis: p.axis(q)}
		p.curves = append(p.curves, c)
		if q == Gradient {
			p.exploreGradients(c)
			continue
		}
		if err := p.exploreRides(ctx, c); err != nil {
			return err
		}
	}
	return nil
}

// exploreGradients lays nodes a point apart. The difference is one for all ambitions.
func (p *pair) exploreGradients(c *curve) {
	for x := c.from; x <= c.to; x++ {
		c.nodes = append(c.nodes, node{x, p.allAlike(p.steady(x))})
	}
}

// steady is how much slower the low set-up is on a steady road of a gradient.
func (p *pair) steady(gradientPct float64) float64 {
	return steadier(&p.Rides[p.high].Bike, &p.Rides[p.low].Bike, gradientPct, p.power(), p.Road.Pieces[0].AirDensityKgM3)
}

func (p *pair) allAlike(gap float64) []float64 {
	return slices.Repeat([]float64{gap}, len(p.Ambitions))
}

// The first nodes are the rider's own value and thirds of the range, without those within
// closeBy of it.
const (
	thirds  = 3
	closeBy = 0.05
)

// exploreRides lays the first nodes from the rider's own value outwards, on either side up to
// the first at which the rider comes to a halt.
func (p *pair) exploreRides(ctx context.Context, c *curve) error {
	low, high := p.measures(p.low), p.measures(p.high)
	c.nodes = []node{{c.own, apart(low, high)}}
	span := c.to - c.from
	below := int(math.Floor((c.own - c.from) / span * thirds))
	for _, side := range [...]struct{ first, step int }{{below, -1}, {below + 1, 1}} {
		for k := side.first; k >= 0 && k <= thirds; k += side.step {
			x := (float64(c.from*float64(thirds-k)) + float64(c.to*float64(k))) / thirds
			if math.Abs(x-c.own) < closeBy*span {
				continue
			}
			rides, err := p.visit(ctx, c, x)
			if err != nil {
				return err
			}
			if !rides {
				break
			}
		}
	}
	c.from, c.to = c.nodes[0].x, c.nodes[len(c.nodes)-1].x
	return nil
}

// visit adds the node at a value, unless the rider comes to a halt there.
func (p *pair) visit(ctx context.Context, c *curve, x float64) (rides bool, err error) {
	at, _ := slices.BinarySearchFunc(c.nodes, x, func(n node, x float64) int { return cmp.Compare(n.x, x) })
	if c.quantity == Gradient {
		c.nodes = slices.Insert(c.nodes, at, node{x, p.allAlike(p.steady(x))})
		return true, nil
	}
	p.left -= 2
	v := c.axis.at(x, p.Road, p.Rider)
	var measures [2][]float64
	for i, setup := range [...]int{p.low, p.high} {
		r, err := ride.Simulate(ctx, v.road, v.rider, v.setup(p.Setups[setup]), scaled(p.Rides[setup].Asked(), v.share), Spans(p.Ambitions, nil, 0))
		var halt *ride.Error
		if errors.As(err, &halt) && halt.Code == ride.CodeCannotClimb {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		measures[i] = p.means(r.Splits)
	}
	c.nodes = slices.Insert(c.nodes, at, node{x, apart(measures[0], measures[1])})
	return true, nil
}

// measures are a set-up's of all ambitions.
func (p *pair) measures(setup int) []float64 {
	measures := make([]float64, len(p.Ambitions))
	for i := range measures {
		measures[i] = p.of(setup, i).timeS
	}
	return measures
}

// means are each ambition's measure in a ride's splits.
func (t *table) means(splits []ride.Split) []float64 {
	means := make([]float64, len(t.Ambitions))
	for i := range means {
		first, end := t.first[i], t.first[i+1]
		for _, s := range splits[first:end] {
			means[i] += float64(s.TimeS / float64(end-first))
		}
	}
	return means
}

func apart(a, b []float64) []float64 {
	gaps := make([]float64, len(a))
	for i := range gaps {
		gaps[i] = a[i] - b[i]
	}
	return gaps
}

// find returns an ambition's crossing point on a curve. first is the ambition's first
// place.
func (p *pair) find(ctx context.Context, c *curve, ambition, first int) (Crossing, error) {
	if c.quantity == Gradient { // where another may be the faster one
		switch gap := c.nodes[0].gapsS[ambition]; {
		case gap < 0:
			first = p.low
		case gap > 0:
			first = p.high
		}
	}
	found := Crossing{Quantity: c.quantity, Own: c.own, At: unknown, Refined: true, From: c.from, To: c.to, BetterBelow: first, BetterAbove: first}
	last := unknown
	for visits := 0; ; visits++ {
		i := c.bracket(ambition)
		if i < 0 {
			return found, nil
		}
		found.At = c.estimate(i, ambition)
		found.BetterBelow, found.BetterAbove = p.low, p.high
		if c.falls(i, ambition) {
			found.BetterBelow, found.BetterAbove = p.high, p.low
		}
		found.Refined = c.settled(i, found.At)
		if found.Refined || (p.left < 2 && c.quantity != Gradient) {
			return found, nil
		}
		x := found.At
		if visits >= straightVisits {
			x = c.beyond(i, x, last)
		}
		if rides, err := p.visit(ctx, c, x); err != nil || !rides {
			return found, err
		}
		last = x
	}
}

// straightVisits is how often an estimate is tried as it is. Where a curve has kinks, as from
// freewheeling, estimates come from one side, each a little further; from then on every one is
// passed by half of its last move, so that the crossing is enclosed.
const straightVisits = 2

// beyond returns a value somewhat further than an estimate than the last one that was
// tried, within the bracket.
func (c *curve) beyond(i int, x, last float64) float64 {
	if further := x + float64((x-last)/2); further > c.nodes[i].x && further < c.nodes[i+1].x {
		return further
	}
	return x
}

// settled tells whether a value in a bracket is as near to one of its ends as is wanted.
func (c *curve) settled(i int, x float64) bool {
	near := settled
	if c.quantity == Gradient {
		near = settledGradient
	}
	return min(x-c.nodes[i].x, c.nodes[i+1].x-x) <= near*(c.to-c.from)
}

// falls tells whether the low set-up becomes the faster one in a bracket.
func (c *curve) falls(i, ambition int) bool {
	return c.nodes[i].gapsS[ambition] > 0 || c.nodes[i+1].gapsS[ambition] < 0
}

// bracket returns the node after which an ambition's difference changes its sign, nearest
// to the rider's own value; −1 for none.
func (c *curve) bracket(ambition int) int {
	best, nearest := -1, math.Inf(1)
	for i := range len(c.nodes) - 1 {
		a, b := c.nodes[i].gapsS[ambition], c.nodes[i+1].gapsS[ambition]
		if a == b || a*b > 0 {
			continue
		}
		off := max(c.nodes[i].x-c.own, c.own-c.nodes[i+1].x, 0)
		if math.IsNaN(c.own) {
			off = math.Abs(c.nodes[i].x)
		}
		if off < nearest {
			best, nearest = i, off
		}
	}
	return best
}

// estimate returns where the cubic through the nodes around a bracket is zero in it.
func (c *curve) estimate(i, ambition int) float64 {
	near := c.nodes[max(i-1, 0):min(i+3, len(c.nodes))]
	low, high := c.nodes[i].x, c.nodes[i+1].x
	falls := c.falls(i, ambition)
	for range 60 {
		mid := float64((low + high) / 2)
		if (through(near, ambition, mid) > 0) == falls {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// through evaluates the polynomial through some nodes, by Neville's scheme.
func through(nodes []node, ambition int, x float64) float64 {
	var y [4]float64
	for i, n := range nodes {
		y[i] = n.gapsS[ambition]
	}
	for order := 1; order < len(nodes); order++ {
		for i := range len(nodes) - order {
			a, b := nodes[i].x, nodes[i+order].x
			y[i] = (float64((x-b)*y[i]) - float64((x-a)*y[i+1])) / (a - b)
		}
	}
	return y[0]
}
