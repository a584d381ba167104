package picture

import (
	"math"
	"strings"

	"parcours.example/analysis/terrain"
	"parcours.example/analysis/wording"
)

// aroundShare is how much of the road before and after a climb is shown, as a share of the
// climb's length.
const aroundShare = 0.08

// steepestM is the window of the steepest pitch that is pointed out, where the climb is
// long enough for it.
const steepestM = 100

// climb draws one climb on its first pass.
func (s *sheet) climb() (*Drawing, error) {
	c, err := s.findClimb()
	if err != nil {
		return nil, err
	}
	first := c.Passes[0]
	around := float64(aroundShare * c.LengthM())
	top := s.header(climbName(c)+", "+s.title(), []string{s.climbLine(c)}, s.passLines(c))
	g := s.ground(max(first.StartM-around, 0), min(first.EndM+around, s.Course.LengthM()), closeWindowM)
	labels := append(s.climbEnds(c), s.markLabels(g)...)
	steepest, some := pitch(c)
	if some {
		words := "steepest " + s.Units.Height(steepest.WindowM) + ": " + wording.Gradient(steepest.GradientPct)
		labels = append(labels, s.label([]string{words}, steepest.StartM+float64(steepest.WindowM/2), rankClimb, 0))
	}
	below := s.lay(g, top, s.sectionsHeight(), len(labels))
	s.heightAxis(g)
	s.closeRidge(g, first)
	s.sections(g, c.Sections)
	s.distanceRows(g, below, first.StartM, first.StartM, first.EndM, s.Units.Long(), "to top")
	if some {
		s.d.draw(s.ink.Ink, 1.5, bracket(g.piece(steepest.StartM, steepest.StartM+steepest.WindowM)))
	}
	leftOut := s.place(g, labels, top)
	s.signs(g)
	s.drawLegend(s.profileLegend(g))
	s.describeClimb(c, g, leftOut)
	return s.d, nil
}

// pitch returns the steepest stretch of steepestM, or of the longest window below it.
func pitch(c terrain.Climb) (w terrain.Window, some bool) {
	for _, x := range c.Steepest {
		if x.WindowM <= steepestM && x.WindowM > w.WindowM {
			w, some = x, true
		}
	}
	return w, some
}

// bracket returns a line a little above another, with its ends turned down.
func bracket(line []point) []point {
	const above, end = 6, 4
	over := make([]point, 0, len(line)+2)
	over = append(over, point{line[0].x, line[0].y - above + end})
	for _, p := range line {
		over = append(over, point{p.x, p.y - above})
	}
	last := line[len(line)-1]
	return append(over, point{last.x, last.y - above + end})
}

// climbLine writes a climb's numbers.
func (s *sheet) climbLine(c terrain.Climb) string {
	return sentence([]string{
		s.Units.Length(c.LengthM()), s.Units.Height(c.GainM) + " up", wording.Gradient(c.MeanGradientPct) + " on average",
		wording.Gradient(c.MaxGradientPct) + " at most over " + s.Units.Height(s.Terrain.MaxWindowM),
	})
}

// passLines say where each pass of a climb starts, and what follows the last; the shorter
// form gives the first pass only.
func (s *sheet) passLines(c terrain.Climb) []string {
	last := c.Passes[len(c.Passes)-1]
	after := "ends " + s.Units.Length(s.Course.LengthM()-last.EndM) + " before the finish"
	if c.EndsAtFinish {
		after = "ends at the finish"
	}
	if len(c.Passes) == 1 {
		return []string{sentence([]string{s.from(last.StartM), after})}
	}
	starts := make([]string, len(c.Passes))
	for i, p := range c.Passes {
		starts[i] = s.Units.Bare(p.StartM)
	}
	often := wording.Count(len(starts)) + " times, "
	return []string{
		sentence([]string{often + "from " + wording.List(starts...) + " " + s.Units.Long(), "the last " + after}),
		sentence([]string{often + "first " + s.from(c.StartM), "the last " + after}),
	}
}

// climbEnds label the foot and the top with their elevations.
func (s *sheet) climbEnds(c terrain.Climb) []label {
	return []label{
		s.label([]string{"foot " + s.Units.Height(c.BottomM)}, c.StartM, rankLine, 0),
		s.label([]string{"top " + s.Units.Height(c.TopM)}, c.EndM, rankLine, 0),
	}
}

// closeRidge draws the ground of a climb in its colours, and the road around it without.
func (s *sheet) closeRidge(g *ground, p terrain.Pass) {
	from, to := g.column(g.x(p.StartM)), g.column(g.x(p.EndM))
	last := len(g.steps)
	for _, outside := range [][2]int{{0, from}, {to, last}} {
		if outside[0] < outside[1] {
			s.d.fill(s.ink.Faint, g.below(outside[0], outside[1]))
		}
	}
	for step, rings := range g.runs(from, to) {
		s.d.fill(s.ink.Steps[step], rings...)
	}
	s.d.draw(s.ink.Ink, ridgePx, g.piece(g.fromM, g.toM))
	s.d.draw(s.ink.Ink, climbPx, g.piece(p.StartM, p.EndM))
}

func (s *sheet) sectionsHeight() float64 { return math.Round(3 * s.textPx) }

// sections parts a climb's ground, and writes the mean gradient and the length of each
// part below it where they have room.
func (s *sheet) sections(g *ground, sections []terrain.Stretch) {
	y := g.plot.y1
	s.write(s.ink.Muted, atStart, point{s.padPx, y + float64(1.2*s.textPx)}, "mean")
	s.write(s.ink.Muted, atStart, point{s.padPx, y + float64(2.5*s.textPx)}, "length")
	var edges [][]point
	for i, section := range sections {
		x0, x1 := g.x(section.StartM), g.x(section.EndM)
		for row, words := range []string{wording.Gradient(section.MeanGradientPct), s.Units.Length(section.LengthM())} {
			if s.fits(words, x1-x0-4) {
				s.write(s.ink.Ink, atMiddle, point{(x0 + x1) / 2, y + float64((1.2+float64(1.3*float64(row)))*s.textPx)}, words)
			}
		}
		edges = append(edges, []point{{x0, g.on(section.StartM).y}, {x0, y + s.sectionsHeight()}})
		if i == len(sections)-1 {
			edges = append(edges, []point{{x1, g.on(section.EndM).y}, {x1, y + s.sectionsHeight()}})
		}
	}
	s.d.draw(s.ink.Ink, 1, edges...)
}

// describeClimb tells a climb in words.
func (s *sheet) describeClimb(c terrain.Climb, g *ground, leftOut int) {
	s.d.Title = s.title() + ": " + climbName(c)
	told := make([]string, len(c.Sections))
	for i, section := range c.Sections {
		told[i] = s.Units.Length(section.LengthM()) + " at " + wording.Gradient(section.MeanGradientPct)
	}
	s.d.describe(strings.ReplaceAll(s.climbLine(c), " · ", ", ")+".", capital(strings.ReplaceAll(s.passLines(c)[0], " · ", ", "))+".",
		capital(s.exaggeration(g))+".", s.listed("Sections: ", told), leftOutTold(leftOut))
}
