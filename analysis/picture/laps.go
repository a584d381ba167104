package picture

import (
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
)

// mostPassesTold is the most passes whose places a label lists.
const mostPassesTold = 6

// laps draws the first lap with the others laid over it, each from its own start.
func (s *sheet) laps() (*Drawing, error) {
	laps := s.lapParts()
	switch {
	case len(laps) < 2:
		return nil, &Error{CodeNoLaps, "The course has no two laps to lay over each other."}
	case !s.Course.HasElevation():
		return nil, &Error{CodeNoElevation, "The course has no elevations, so its laps have no profile."}
	}
	first, others := laps[0], laps[1:]
	top := s.header(s.title(), []string{s.lapsLine()}, []string{s.apartLine(laps)})
	g := newGround(s.Course, math.Round(s.gutter(toLine)), math.Round(float64(s.WidthPx)-float64(1.8*s.padPx)), first.StartM, first.EndM, closeWindowM)
	for _, lap := range others {
		for _, z := range s.lapHeights(lap, g) {
			g.include(z)
		}
	}
	g.settle()
	labels := append(s.lapClimbLabels(first), s.lapMarkLabels(first)...)
	below := s.lay(g, top, 0, len(labels))
	s.heightAxis(g)
	s.ridge(g)
	for _, lap := range others {
		s.d.draw(s.ink.Muted, 1, g.line(s.lapHeights(lap, g)))
	}
	s.distanceRows(g, below, first.StartM, first.StartM, first.EndM, s.Units.Long(), toLine)
	leftOut := s.place(g, labels, top)
	s.signs(g)
	s.drawLegend(s.profileLegend(g))
	s.d.Title = s.title() + ": laps laid over each other"
	s.d.describe(s.lapsLine()+".", capital(s.apartLine(laps))+".", capital(s.exaggeration(g))+".", leftOutTold(leftOut))
	return s.d, nil
}

// toLine is the word for the distance that is left of a lap.
const toLine = "to line"

func (s *sheet) lapParts() (laps []course.Part) {
	for _, p := range s.Course.Parts {
		if p.Kind == course.Lap {
			laps = append(laps, p)
		}
	}
	return laps
}

// lapHeights returns the elevations of a lap at the columns of the first, as far as it
// reaches.
func (s *sheet) lapHeights(lap course.Part, first *ground) (z []float64) {
	columnM := (first.toM - first.fromM) / float64(len(first.steps))
	for i := range first.z {
		if at := lap.StartM + float64(columnM*float64(i)); at <= lap.EndM {
			z = append(z, s.Course.ElevationAt(at))
		}
	}
	return z
}

// line returns elevations at the columns, from the first on, as a line.
func (g *ground) line(z []float64) []point {
	line := make([]point, len(z))
	for i := range z {
		line[i] = point{g.ridge[i].x, g.y(z[i])}.tenths()
	}
	return straightened(line)
}

// lapsLine tells the laps.
func (s *sheet) lapsLine() string {
	l := s.Course.Laps
	return wording.Count(l.Count) + " laps of " + s.Units.Length(l.LengthM) + ", " + s.Units.Height(l.AscentM) + " of ascent on each, the first " + s.from(l.StartM)
}

// apartLine tells how far the laps' profiles lie apart at most, each from its own start.
func (s *sheet) apartLine(laps []course.Part) string {
	const samples = 500
	apart := 0.0
	for i := range samples + 1 {
		low, high := math.Inf(1), math.Inf(-1)
		for _, lap := range laps {
			z := s.Course.ElevationAt(lap.StartM + float64((lap.EndM-lap.StartM)*float64(i)/samples))
			low, high = min(low, z), max(high, z)
		}
		apart = max(apart, high-low)
	}
	if apart < s.Units.ShortM()/2 {
		return "laid over each other, the laps are equally high throughout"
	}
	return "laid over each other, the laps' elevations differ by up to " + s.Units.Height(apart)
}

// lapClimbLabels are those of the climbs whose first pass in the laps tops out on a lap.
func (s *sheet) lapClimbLabels(lap course.Part) (labels []label) {
	for _, c := range s.Terrain.Climbs {
		for _, p := range c.Passes {
			if c.ParentID == "" && p.EndM > lap.StartM && p.EndM <= lap.EndM {
				forms := []string{climbName(c) + ", " + s.climbNumbers(c), climbName(c)}
				labels = append(labels, s.label(forms, p.EndM, rankClimb, 0))
			}
		}
	}
	return labels
}

// lapMarkLabels are those of the marks on a lap, with the places of all their passes.
func (s *sheet) lapMarkLabels(lap course.Part) (labels []label) {
	for _, m := range s.Terrain.Marks {
		if m.Kind == track.Summit && s.namesClimb(m.Name) {
			continue
		}
		for _, p := range m.Passes {
			if p.AtM >= lap.StartM && p.AtM <= lap.EndM {
				labels = append(labels, s.label([]string{markName(m) + s.passesTold(m), markName(m)}, p.AtM, markRank(m.Kind), 0))
			}
		}
	}
	return labels
}

// passesTold lists the places of a mark's passes, unless there are many.
func (s *sheet) passesTold(m terrain.Mark) string {
	if len(m.Passes) > mostPassesTold {
		return ""
	}
	at := make([]string, len(m.Passes))
	for i, p := range m.Passes {
		at[i] = s.Units.Bare(p.AtM)
	}
	return ": " + wording.List(at...) + " " + s.Units.Long()
}
