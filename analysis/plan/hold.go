package plan

import (
	"context"
	"math"

	"parcours.example/analysis/ride"
)

// holdCellM is the length of the cells over which powers are held.
const holdCellM = 20.0

// held finds the powers, each held up to one of the ends in metres, that take the least
// time within the limits. The last end is the course's. wanted are powers to start from.
func (t *task) held(ctx context.Context, bike *ride.Bike, ends, wanted []float64) ([]ride.Step, error) {
	g := t.newProgram(bike, holdCellM, ends)
	powers := make([]float64, len(g.cells))
	i := 0
	for k := range g.cells {
		g.change[k] = 0
		if k == 0 || g.cells[k-1].endM >= ends[i]-tinyM {
			g.change[k] = math.Inf(1)
			if k > 0 {
				i++
			}
		}
		powers[k] = wanted[i]
	}
	s := newSweeper(g, g.from(powers, blurOf(rough)))
	if err := s.optimise(ctx, rough, finest); err != nil {
		return nil, err
	}
	steps := make([]ride.Step, len(ends))
	i = 0
	for k := range g.cells {
		if k > 0 && !g.held(k) {
			i++
		}
		steps[i] = ride.Step{EndM: ends[i], PowerW: s.x.p[k]}
	}
	return steps, nil
}
