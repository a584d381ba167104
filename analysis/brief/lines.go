package brief

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// longestApproachM is the longest stretch before a sprint line that is told.
const longestApproachM = 500

// offCourseM is the distance from the line from which a mark's place is doubtful.
const offCourseM = 50

// lines tells the marks kind by kind, but those that are told elsewhere.
func (w writer) lines() block {
	kinds := [...]struct {
		kind track.MarkKind
		word string
		rank int
	}{
		{track.Sprint, "sprint", rankSprint},
		{track.Summit, "summit", rankSummit},
		{track.Gate, "timing gate", rankGate},
		{track.Feed, "feed", rankFeed},
		{track.Other, "", rankOther},
	}
	var lines [][]said
	for _, k := range kinds {
		for i, m := range w.in.Terrain.Marks {
			if m.Kind == k.kind && len(m.Passes) > 0 && !w.toldElsewhere(m) {
				lines = append(lines, w.mark(i, k.word, k.rank))
			}
		}
	}
	return bullets("Lines and places", lines...)
}

// toldElsewhere reports whether a mark says nothing of its own: the summit that a climb
// has its name from, the lap line, which stands with the laps, or a gate that is
// just the start and the finish, as any place may be that is both.
func (w writer) toldElsewhere(m terrain.Mark) bool {
	switch m.Kind {
	case track.Summit:
		return w.isTopOfClimb(m)
	case track.Gate, track.Other:
		return w.isLapLine(m) || w.isTurn(m) || w.onlyAtEnds(m) && (m.Kind == track.Gate || len(m.Passes) > 1)
	}
	return false
}

// isTopOfClimb reports whether a summit is that of a climb of its name, on each pass.
func (w writer) isTopOfClimb(m terrain.Mark) bool {
	const near = 100
	return slices.ContainsFunc(w.in.Terrain.Climbs, func(c terrain.Climb) bool {
		if c.Name != m.Name || len(c.Passes) != len(m.Passes) {
			return false
		}
		for i, p := range m.Passes {
			if math.Abs(p.AtM-c.Passes[i].EndM) > near {
				return false
			}
		}
		return true
	})
}

// isLapLine reports whether a mark is passed at each start or at each end of a lap, and
// nowhere else.
func (w writer) isLapLine(m terrain.Mark) bool {
	return len(m.Passes) >= w.in.Course.Laps.Count && w.onLapLine(markPasses(m.Passes))
}

// onlyAtEnds reports whether a mark is nothing but the start or the line.
func (w writer) onlyAtEnds(m terrain.Mark) bool {
	return !slices.ContainsFunc(m.Passes, func(p terrain.MarkPass) bool { return p.AtM >= nearEndM && p.ToFinishM >= nearEndM })
}

// nearEndM is how near to the start or the line a mark counts as that.
const nearEndM = 20

// mark tells one mark; long lists of passes go before short ones.
func (w writer) mark(i int, kind string, rank int) []said {
	m := w.in.Terrain.Marks[i]
	passes := markPasses(m.Passes)
	if _, _, regular := w.onceALap(passes); !regular && !w.onLapLine(passes) && len(passes) > mostInFull {
		rank += rankManyPasses
	}
	line := []said{{rank, say("{}: {}.", w.markLabel(i, kind), w.passes(m.ID, passes))}}
	if m.Kind == track.Sprint {
		line = append(line, said{rank + rankApproach, w.approach(m)})
	}
	if m.OffCourseM >= offCourseM {
		line = append(line, said{rank + rankApproach, say("In the file it lies {} off the line.", w.length(m.ID+".off_course_m", m.OffCourseM))})
	}
	return line
}

// markLabel is a mark's name with its kind, unless the name says it.
func (w writer) markLabel(i int, kind string) phrase {
	label := w.markName(i)
	if strings.Contains(strings.ToLower(label.text), kind) {
		return strong(label)
	}
	return say("{} ({})", strong(label), words(kind))
}

// markName is a mark's own name, or its number as the analysis gives it.
func (w writer) markName(i int) phrase {
	m := w.in.Terrain.Marks[i]
	if own := name(m.Name); !own.empty() {
		return own
	}
	return say("Mark {}", w.ordinal(m.ID+".number", i+1))
}

// approach tells the road in front of a sprint line on its first pass.
func (w writer) approach(m terrain.Mark) phrase {
	if !w.in.Course.HasElevation() {
		return phrase{}
	}
	var told []phrase
	before := ""
	if w.isFinish(m) {
		before = w.finishRuns().text // the opening has told it
	}
	for i, a := range m.Passes[0].Approach {
		fact := fmt.Sprintf("%s.approach-%d", m.ID, i+1)
		runs := w.runs(fact+".mean_gradient_pct", a.MeanGradientPct)
		if a.DistanceM <= longestApproachM && runs.text != before {
			told = append(told, say("the last {} {}", w.length(fact+".distance_m", a.DistanceM), runs))
			before = runs.text
		}
	}
	if bends := w.approachBends(m); !bends.empty() {
		told = append(told, bends)
	}
	if len(told) == 0 {
		return phrase{}
	}
	return capital(say("{}.", join("; ", told...)))
}

// isFinish reports whether a mark is the line, on the last pass and on those before.
func (w writer) isFinish(m terrain.Mark) bool {
	last := len(m.Passes) - 1
	return m.Passes[last].ToFinishM < atEndM && (last == 0 || w.onLapLine(markPasses(m.Passes)))
}

// approachBends tells the bends nearest to a line, within the shortest approach
// that has any.
func (w writer) approachBends(m terrain.Mark) phrase {
	nearest := -1
	for i, a := range m.Passes[0].Approach {
		if a.Bends > 0 && a.DistanceM <= longestApproachM && (nearest < 0 || a.DistanceM < m.Passes[0].Approach[nearest].DistanceM) {
			nearest = i
		}
	}
	if nearest < 0 || w.in.Indoor {
		return phrase{}
	}
	a, fact := m.Passes[0].Approach[nearest], fmt.Sprintf("%s.approach-%d", m.ID, nearest+1)
	radius := say("about {} in radius", w.radius(fact+".sharpest_radius_m", a.SharpestRadiusM))
	if a.Bends > 1 {
		radius = say("the tightest {}", radius)
	}
	return say("{} {} within {} of it, {}", w.count(fact+".bends", a.Bends), plural("bend", a.Bends), w.length(fact+".distance_m", a.DistanceM), radius)
}
