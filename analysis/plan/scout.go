package plan

import (
	"cmp"
	"context"
	"slices"

	"parcours.example/analysis/ride"
)

// scout is a search on a grid of long cells, which costs little. Where a stock recovers it
// can be worth about the same to spend it early, so that it recovers well, or to save it
// for where it gains most; between the two a search doesn't find its way, so that several
// are sent out.
type scout struct {
	*sweeper
	// powers are those to go on from at a barrier's weight of from.
	powers []float64
	from   float64
	// alternates tells to go on from powers that alternate from cell to cell instead.
	alternates bool
}

const (
	// scoutCells is the length of a scout's cells over those of a plan, scoutM the most.
	scoutCells, scoutM = 8.0, 120.0
	// scoutSweeps bounds a scout's sweeps.
	scoutSweeps = 65
	// alike is the difference in time, as a share, of scouts that have come to the same
	// place. Between the other two the long cells can't tell which of two is faster.
	alike, other, similar = 2e-4, 1e-3, 3e-3
)

// scouts searches from several starts and returns the scouts worth following, the most
// promising first.
func (t *task) scouts(ctx context.Context, constant *ride.Ride) ([]scout, error) {
	g := t.newProgram(min(scoutCells*cellM(t.road.LengthM()), scoutM))
	g.ease(t.limits.ChangeWPerS, constant.Trace)
	free, err := g.scout(ctx, g.constantly(blurOf(widest)), widest)
	if err != nil || g.stock.law == account || g.stock.rate == 0 {
		return []scout{free}, err
	}
	saving, err := g.scout(ctx, g.constantly(blurOf(narrow)), narrow)
	if err != nil {
		return nil, err
	}
	spending, err := g.scout(ctx, g.from(g.early(), blurOf(rough)), rough)
	if err != nil {
		return nil, err
	}
	kept := promising([]scout{free, saving, spending})
	if g.stock.rewardsChange() {
		kept = append(kept, scout{sweeper: kept[0].sweeper, from: rough, alternates: true})
	}
	return kept, nil
}

// rewardsChange tells whether a stock can recover faster than it is spent, so that it pays
// to alternate between much and little power rather than to be steady.
func (s *stock) rewardsChange() bool { return s.law == bartram || s.law == proportional && s.rate > 1 }

// alternating are powers well above the threshold and well below it, cell by cell.
func (g *program) alternating() []float64 {
	powers := make([]float64, len(g.cells))
	for k := range powers {
		powers[k] = g.stock.thresholdW * [...]float64{1.6, 0.3}[k%2]
	}
	return powers
}

// early are powers that fall from half above the threshold to half of it.
func (g *program) early() []float64 {
	powers := make([]float64, len(g.cells))
	for k := range powers {
		powers[k] = g.stock.thresholdW * (1.5 - float64(k)/float64(len(powers)))
	}
	return powers
}

// scout searches from a ride on, at a barrier's weight of from.
func (g *program) scout(ctx context.Context, x *point, from float64) (scout, error) {
	own := *g
	own.coasts, own.most = slices.Clone(g.coasts), slices.Clone(g.most)
	sc := scout{sweeper: newSweeper(&own, x), from: narrow}
	sc.begin(from)
	if from > rough {
		// Powers of a wide barrier are the best to go on from.
		if err := sc.run(ctx, rough, scoutSweeps); err != nil {
			return sc, err
		}
		sc.powers, sc.from = slices.Clone(x.p), rough
	}
	err := sc.settle(ctx, finest, scoutSweeps)
	if sc.powers == nil {
		sc.powers = sc.x.p
	}
	return sc, err
}

// promising returns the fastest scout, and those that are about as fast in another way.
func promising(all []scout) []scout {
	first := all[0]
	slices.SortStableFunc(all, func(a, b scout) int {
		return cmp.Compare(a.x.timeOf(), b.x.timeOf())
	})
	best := all[0]
	if first.x.timeOf() <= (1+alike)*best.x.timeOf() {
		best = first
	}
	kept := []scout{best}
	for _, sc := range all {
		if off := sc.x.timeOf()/best.x.timeOf() - 1; sc.converged && off > other && off < similar {
			return append(kept, sc)
		}
	}
	return kept
}
