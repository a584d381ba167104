package terrain

import "parcours.example/analysis/course"

// Analyse dissects a course. What needs elevation is empty or NaN on a course that
// has none, bends and what counts them likewise without positions. It takes time
// n log n in the nodes and is deterministic.
func Analyse(c *course.Course) *Terrain {
	window := maxWindowM(c.Quality)
	bends := bendsOf(c)
	t := &Terrain{
		MaxWindowM: window,
		Bends:      bends,
		Marks:      marks(c, bends, window),
		Climbing:   withoutElevation(),
	}
	if !c.HasElevation() {
		return t
	}
	p := profile{s: c.S, z: c.Z}
	t.Climbs = climbs(c, p, window)
	t.Descents = descents(c, p, bends, window)
	t.Steepest = steepestWindows(p)
	t.Climbing = climbing(c, p, t.Climbs, window)
	t.GradientBands = gradientBands(p)
	return t
}
