package terrain

import (
	"cmp"
	"slices"
	"sort"

	"parcours.example/analysis/course"
)

// sighting is a stretch that was detected on its own, with all times that its ground
// is ridden, nil if they were not looked up.
type sighting struct {
	span
	passes  []span
	support int
	// loose says that the start or the finish of the course may have cut it.
	loose bool
}

// group is a distinct stretch with the times that it is ridden.
type group struct {
	passes []span
	// cut says that the last pass is cut short by the end of the course.
	cut bool
}

// groupPasses gathers stretches detected along the course, in order, into the
// passes of each distinct stretch; groups and passes are in course order.
//
// Noise makes the same climb come out a little different on each lap. Of those that
// neither the start nor the finish may have cut, the version that most laps agree
// on, then the longest, then the earliest, stands for all of them, and every time its
// ground is ridden is a pass, whether it was detected there or not. What is left is
// told on its own only where the passes told so far cover less than 80 % of it. A
// stretch that the end of the course cuts short is the last pass of the stretch
// whose lower part it is.
func groupPasses(c *course.Course, detected []span) []group {
	var groups []group
	told := cover{}
	for _, s := range sightings(c, detected) {
		if told.holds(s.span) {
			continue
		}
		passes := s.passes
		if passes == nil {
			passes = passesOf(c, s.span)
		}
		if g := cutShort(c, s.span, passes, groups); g >= 0 {
			groups[g].passes = append(groups[g].passes, s.span)
			groups[g].cut = true
			told.add(s.span)
			continue
		}
		g := group{passes: []span{s.span}}
		for _, p := range passes {
			if p.overlap(s.span) == 0 && !told.holds(p) {
				g.passes = append(g.passes, p)
			}
		}
		groups = append(groups, g)
		for _, p := range g.passes {
			told.add(p)
		}
	}
	for _, g := range groups {
		slices.SortFunc(g.passes, byStart)
	}
	slices.SortFunc(groups, func(a, b group) int { return byStart(a.passes[0], b.passes[0]) })
	return groups
}

// partOf returns the index of the group of whose ground a group is a part and no
// more, −1 if there is none. Its ends, where roads come together, don't count.
func partOf(c *course.Course, g group, groups []group) int {
	s := g.passes[0]
	var places [][]float64
	for _, share := range []float64{0.2, 0.5, 0.8} {
		at := c.Passes(s.start + float64(share*s.length()))
		if len(at) < 2 {
			return -1
		}
		places = append(places, at)
	}
	for i, whole := range groups {
		for _, p := range whole.passes {
			if s.length() < sameGround*p.length() && p.overlap(s) == 0 && p.holdsOneOfEach(places) {
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
// first. What some have seen again is no witness itself: a hundred laps would only
// say it a hundred times.
func sightings(c *course.Course, detected []span) []sighting {
	all := make([]sighting, len(detected))
	witnesses := make([]int, len(detected))
	for i, d := range detected {
		all[i] = sighting{span: d, loose: d.start <= finishSlackM || d.end >= c.LengthM()-finishSlackM}
		if witnesses[i] >= enoughWitnesses {
			continue
		}
		all[i].passes, all[i].support = passesOf(c, d), 1
		for _, p := range all[i].passes {
			if p.overlap(d) > 0 {
				continue
			}
			if k := seen(p, detected); k >= 0 {
				all[i].support++
				witnesses[k]++
			}
		}
	}
	slices.SortStableFunc(all, func(a, b sighting) int {
		if a.loose != b.loose {
			if a.loose {
				return 1
			}
			return -1
		}
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

// seen returns which of the detected stretches a pass is, −1 if it was not detected
// on its own. Detected stretches don't overlap and are in order.
func seen(p span, detected []span) int {
	i := sort.Search(len(detected), func(i int) bool { return detected[i].end > p.start })
	for ; i < len(detected) && detected[i].start < p.end; i++ {
		if p.same(detected[i]) {
			return i
		}
	}
	return -1
}

// passesOf returns, in order, all times that a stretch is ridden. Where the road
// turns sharply or others join it at one end, as at the foot of a climb in a village,
// that end alone can't be recognised on another pass: there the stretch without its
// ends is sought and the ends are added.
func passesOf(c *course.Course, s span) []span {
	var passes []span
	for _, p := range c.PassesOf(s.start, s.end) {
		passes = append(passes, span{p[0], p[1]})
	}
	inset := min(endReachM, s.length()/4)
	for _, p := range c.PassesOf(s.start+inset, s.end-inset) {
		q := span{p[0] - inset, p[1] + inset}
		if q.start < -lapSlackM || q.end > c.LengthM()+lapSlackM || overlapsAny(q, passes) {
			continue
		}
		passes = append(passes, span{max(q.start, 0), min(q.end, c.LengthM())})
	}
	slices.SortFunc(passes, byStart)
	return passes
}

func overlapsAny(s span, others []span) bool {
	return slices.ContainsFunc(others, func(o span) bool { return s.overlap(o) > 0 })
}

// cutShort returns the group of which a stretch that ends at the end of the
// course is a cut pass, −1 if none.
func cutShort(c *course.Course, s span, again []span, groups []group) int {
	if s.end < c.LengthM()-finishSlackM {
		return -1
	}
	for g, group := range groups {
		for _, p := range again {
			for _, whole := range group.passes {
				if p.overlap(s) == 0 && p.within(whole) {
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
