package terrain

import (
	"cmp"
	"slices"
	"sort"

	"parcours.example/analysis/course"
)

// sighting is a stretch that was detected on its own, with the other times that
// its ground is ridden.
type sighting struct {
	span
	passes  []span
	support int
}

// group is a distinct stretch with the times that it is ridden.
type group struct {
	passes []span
	// again are all times that the ground of the stretch that stands for the group
	// is ridden.
	again []span
	// cut says that the last pass is cut short by the end of the course.
	cut bool
}

// groupPasses gathers stretches detected along the course, in order, into the
// passes of each distinct stretch; groups and passes are in course order.
//
// Noise makes the same climb come out a little different on each lap. The version
// that most laps agree on, then the longest, then the earliest, stands for all of
// them, and every time its ground is ridden is a pass, whether it was detected
// there or not. What is left is told on its own only where the passes told so far
// cover less than 80 % of it. A stretch that the end of the course cuts short is
// the last pass of the stretch whose lower part it is.
func groupPasses(c *course.Course, detected []span) []group {
	var groups []group
	var told []span
	for _, s := range sightings(c, detected) {
		if covered(s.span, told) {
			continue
		}
		if g := cutShort(c, s, groups); g >= 0 {
			groups[g].passes = append(groups[g].passes, s.span)
			groups[g].cut = true
			told = append(told, s.span)
			continue
		}
		g := group{passes: []span{s.span}, again: s.passes}
		for _, p := range s.passes {
			if p.overlap(s.span) == 0 && !covered(p, told) {
				g.passes = append(g.passes, p)
			}
		}
		groups = append(groups, g)
		told = append(told, g.passes...)
	}
	for _, g := range groups {
		slices.SortFunc(g.passes, byStart)
	}
	slices.SortFunc(groups, func(a, b group) int { return byStart(a.passes[0], b.passes[0]) })
	return groups
}

// partOf returns the index of the group of whose ground a group is a part and no
// more, −1 if there is none.
func partOf(g group, groups []group) int {
	for i, whole := range groups {
		if g.passes[0].length() >= sameGround*whole.passes[0].length() {
			continue
		}
		for _, p := range whole.passes {
			if slices.ContainsFunc(g.again, func(s span) bool { return s.within(p) }) {
				return i
			}
		}
	}
	return -1
}

func byStart(a, b span) int {
	return cmp.Or(cmp.Compare(a.start, b.start), cmp.Compare(b.end, a.end))
}

// sightings returns the detected stretches with their passes, the best witness
// first.
func sightings(c *course.Course, detected []span) []sighting {
	all := make([]sighting, len(detected))
	for i, d := range detected {
		all[i] = sighting{span: d, passes: passesOf(c, d), support: 1}
		for _, p := range all[i].passes {
			if p.overlap(d) == 0 && seen(p, detected) {
				all[i].support++
			}
		}
	}
	slices.SortStableFunc(all, func(a, b sighting) int {
		if a.support != b.support {
			return b.support - a.support
		}
		if abs(a.length()-b.length()) > 1 {
			return cmp.Compare(b.length(), a.length())
		}
		return 0
	})
	return all
}

// seen reports whether a pass was detected on its own. Detected stretches don't
// overlap and are in order.
func seen(p span, detected []span) bool {
	i := sort.Search(len(detected), func(i int) bool { return detected[i].end > p.start })
	for ; i < len(detected) && detected[i].start < p.end; i++ {
		if p.same(detected[i]) {
			return true
		}
	}
	return false
}

func passesOf(c *course.Course, s span) []span {
	var passes []span
	for _, p := range c.PassesOf(s.start, s.end) {
		passes = append(passes, span{p[0], p[1]})
	}
	return passes
}

// covered reports whether nearly all of a stretch lies in the given ones.
func covered(s span, by []span) bool {
	var sum float64
	for _, b := range by {
		sum += s.overlap(b)
	}
	return sum >= sameGround*s.length()
}

// cutShort returns the group of which a stretch that ends at the end of the
// course is a cut pass, −1 if none.
func cutShort(c *course.Course, s sighting, groups []group) int {
	if s.end < c.LengthM()-finishSlackM {
		return -1
	}
	for g, group := range groups {
		for _, p := range s.passes {
			for _, whole := range group.passes {
				if p.overlap(s.span) == 0 && p.within(whole) {
					return g
				}
			}
		}
	}
	return -1
}

// told turns a group into passes with their laps and what is left to ride.
func (g group) told(c *course.Course) []Pass {
	passes := passesAt(c, g.passes)
	passes[len(passes)-1].Partial = g.cut
	return passes
}

// passesAt turns spans into passes with their laps and what is left to ride.
func passesAt(c *course.Course, spans []span) []Pass {
	passes := make([]Pass, len(spans))
	for i, s := range spans {
		// Not beyond the middle of a short stretch.
		slack := min(lapSlackM, s.length()/2)
		passes[i] = Pass{Lap: c.LapAt(s.start + slack), StartM: s.start, EndM: s.end, ToFinishM: c.LengthM() - s.start}
	}
	return passes
}
