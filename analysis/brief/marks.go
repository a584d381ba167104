package brief

import (
	"fmt"
	"strings"

	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// longestApproachM is the longest stretch before a sprint line that is told.
const longestApproachM = 500

// offCourseM is the distance from the line from which a mark's place is doubtful.
const offCourseM = 50

// marks tells every mark with every pass, kind by kind.
func (w writer) marks() block {
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
			if m.Kind == k.kind && len(m.Passes) > 0 {
				lines = append(lines, w.mark(i, k.word, k.rank))
			}
		}
	}
	return bullets("Lines and places", lines...)
}

// mark tells one mark; long lists of passes go before short ones.
func (w writer) mark(i int, kind string, rank int) []said {
	m := w.in.Terrain.Marks[i]
	if len(m.Passes) > mostInFull {
		rank += rankManyPasses
	}
	line := []said{{rank, say("{}: {}.", w.markLabel(i, kind), w.passes(m.ID, markPasses(m.Passes)))}}
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
