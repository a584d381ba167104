package terrain

import (
	"context"

	"parcours.example/analysis/course"
)

// Analyse dissects a course. What needs elevation is empty or NaN on a course that
// has none, bends and what counts them likewise without positions. It takes time
// n log n in the nodes and is deterministic. The only error is the context's, soon after it
// has ended.
func Analyse(ctx context.Context, c *course.Course) (*Terrain, error) {
	window := maxWindowM(c.Quality)
	bends := bendsOf(c)
	t := &Terrain{
		MaxWindowM: window,
		Bends:      bends,
		Marks:      marks(c, bends, window),
		Climbing:   withoutElevation(),
	}
	if !c.HasElevation() {
		return t, ctx.Err()
	}
	p := profile{s: c.S, z: c.Z}
	for _, step := range []func(){
		func() { t.Climbs = climbs(c, p, window) },
		func() { t.Descents = descents(c, p, bends, window) },
		func() { t.Steepest = steepestWindows(p) },
		func() { t.Climbing = climbing(c, p, t.Climbs, window) },
		func() { t.GradientBands = gradientBands(p) },
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		step()
	}
	return t, nil
}
