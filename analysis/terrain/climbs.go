package terrain

import (
	"fmt"
	"slices"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// climbs returns the climbs of a course, each followed by the steep parts in it.
func climbs(c *course.Course, p profile, window float64) []Climb {
	groups := groupPasses(c, rises(p))
	ids := make([]string, len(groups))
	var all []Climb
	for i, g := range groups {
		outer := climb(c, p, g, window)
		outer.ID = fmt.Sprintf("climb-%d", len(all)+1)
		ids[i] = outer.ID
		all = append(all, outer)
		for _, steep := range innerRises(p.cut(g.passes[0].start, g.passes[0].end)) {
			inner := climb(c, p, group{passes: innerPasses(c, steep, g.passes)}, window)
			inner.ID = fmt.Sprintf("climb-%d", len(all)+1)
			inner.ParentID = outer.ID
			if inner.Name == outer.Name {
				inner.Name = "" // one summit is not two climbs
			}
			all = append(all, inner)
		}
	}
	nameWholes(c, all, groups, ids)
	return all
}

// nameWholes tells of each climb that is a part of another one which.
func nameWholes(c *course.Course, all []Climb, groups []group, ids []string) {
	for i, g := range groups {
		whole := partOf(c, g, groups)
		if whole < 0 {
			continue
		}
		k := slices.IndexFunc(all, func(c Climb) bool { return c.ID == ids[i] })
		all[k].PartOfID = ids[whole]
	}
}

// innerPasses returns the passes of a steep part that lie in passes of its climb.
func innerPasses(c *course.Course, steep span, climb []span) []span {
	passes := []span{steep}
	on := cover{}
	for _, p := range climb {
		on.add(p)
	}
	for _, p := range passesOf(c, steep) {
		if p.start >= steep.end && on.holds(p) {
			passes = append(passes, p)
		}
	}
	return passes
}

// climb measures a climb on its first pass.
func climb(c *course.Course, p profile, g group, window float64) Climb {
	first, last := g.passes[0], g.passes[len(g.passes)-1]
	in := p.cut(first.start, first.end)
	bottom, top := in.z[0], in.z[len(in.z)-1]
	return Climb{
		Name:         summitName(c, first.end),
		Stretch:      stretch(p, first, window),
		GainM:        top - bottom,
		BottomM:      bottom,
		TopM:         top,
		Difficulty:   difficulty(top-bottom, first.length(), top),
		Sections:     sections(in, window),
		Steepest:     steepestWindows(in),
		Passes:       g.told(c),
		EndsAtFinish: last.end >= c.LengthM()-finishSlackM,
	}
}

// summitName returns the name of the summit's mark nearest to a climb's top,
// empty if none is within reach.
func summitName(c *course.Course, top float64) string {
	name, nearest := "", summitReachM+indifferenceM
	for _, m := range c.Marks {
		if m.Kind != track.Summit {
			continue
		}
		for _, at := range m.At {
			if d := abs(at - top); d < nearest {
				name, nearest = m.Name, d
			}
		}
	}
	return name
}

// lastClimb returns the pass of a climb, not of a steep part, that ends last.
func lastClimb(climbs []Climb) (Pass, bool) {
	var last Pass
	found := false
	for _, cl := range climbs {
		for _, p := range cl.Passes {
			if cl.ParentID == "" && p.EndM > last.EndM {
				last, found = p, true
			}
		}
	}
	return last, found
}
