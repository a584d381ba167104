package terrain

import (
	"cmp"
	"fmt"
	"slices"

	"parcours.example/analysis/course"
)

// descents returns the descents of a course: the climbs of its profile turned
// upside down.
func descents(c *course.Course, p profile, bends []Bend, window float64) []Descent {
	down := p.upsideDown()
	var all []Descent
	for i, g := range groupPasses(c, rises(down)) {
		first := g.passes[0]
		s := stretch(down, first, window)
		s.MeanGradientPct, s.MaxGradientPct = -s.MeanGradientPct, -s.MaxGradientPct
		top, bottom := p.at(first.start), p.at(first.end)
		all = append(all, Descent{
			ID:            fmt.Sprintf("descent-%d", i+1),
			Stretch:       s,
			DropM:         top - bottom,
			TopM:          top,
			BottomM:       bottom,
			Passes:        g.told(c),
			SharpestBends: sharpest(bends, first),
		})
	}
	return all
}

// sharpest returns the sharpest bends on a stretch, the sharpest first.
func sharpest(bends []Bend, on span) []Bend {
	in := slices.Clone(bendsOn(bends, on))
	slices.SortStableFunc(in, func(a, b Bend) int { return cmp.Compare(a.RadiusM, b.RadiusM) })
	return in[:min(len(in), sharpestBends)]
}
