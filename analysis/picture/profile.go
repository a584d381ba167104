package picture

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/track"
)

// gradientWindowM is the least length that colours take a gradient over on whole courses,
// closeWindowM on a climb.
const (
	gradientWindowM = 100.0
	closeWindowM    = 50.0
)

// Widths of lines in px: the ridge, and where it is a climb's.
const (
	ridgePx = 1.4
	climbPx = 3.0
)

// course draws the whole course.
func (s *sheet) course() (*Drawing, error) {
	length := s.Course.LengthM()
	top := s.header(s.title(), []string{s.summary()})
	g := s.ground(0, length, gradientWindowM)
	labels := append(s.climbLabels(g), s.markLabels(g)...)
	below := s.lay(g, top, s.partsHeight(), len(labels))
	s.bands(g, top)
	s.heightAxis(g)
	s.ridge(g)
	s.parts(g)
	s.distanceRows(g, below, 0, 0, length, s.Units.Long(), toGo)
	leftOut := s.place(g, labels, top)
	s.signs(g)
	s.drawLegend(s.profileLegend(g))
	s.describeCourse(g, leftOut)
	return s.d, nil
}

// toGo is the word for the distance that is left.
const toGo = "to go"

// ground takes a stretch of the course over the width of the paper.
func (s *sheet) ground(fromM, toM, windowM float64) *ground {
	g := newGround(s.Course, math.Round(s.gutter(toGo)), math.Round(float64(s.WidthPx)-float64(1.8*s.padPx)), fromM, toM, windowM)
	g.settle()
	return g
}

// lay gives a ground its height between the header and what stands below it: a strip of a
// height, the rows of distance and the legend. There is room over it for as many labels. It
// returns where the rows start.
func (s *sheet) lay(g *ground, top, stripPx float64, labels int) (below float64) {
	below = math.Round(float64(s.HeightPx) - s.legendHeight(s.profileLegend(g)) - s.axisHeight())
	foot := below - stripPx
	lines := min(2+labels/8, 8)
	g.rise(math.Round(top+min(float64(1.3*s.textPx*float64(lines)), float64(mostLabelShare*(foot-top)))), foot)
	s.d.plot = &plot{g.plot, g.fromM, g.toM}
	return below
}

// mostLabelShare is the most of the height above the axis that is kept for labels.
const mostLabelShare = 0.45

// place writes the labels over the ground, below top, and returns how many found no room.
func (s *sheet) place(g *ground, labels []label, top float64) (leftOut int) {
	for i := range labels {
		labels[i].at = g.on(labels[i].atM)
	}
	p := &placer{
		bounds: box{s.padPx / 2, top, float64(s.WidthPx) - s.padPx/2, g.plot.y1},
		sizePx: s.textPx, face: s.face,
	}
	for _, b := range s.d.texts() {
		p.taken = append(p.taken, b.grown(besideLabelPx, 0))
	}
	p.above(s.d, labels, g.top, s.ink.Muted)
	return p.leftOut
}

// profileLegend explains colours, heights and signs.
func (s *sheet) profileLegend(g *ground) legend {
	entries := append(s.gradientEntry(g.overM), s.exaggerationEntry(g)...)
	return s.newLegend(append(entries, s.markEntries(s.kindsOn(g.fromM, g.toM))...))
}

// ridge draws the ground in its colours, and the line on top of it, broad on climbs.
func (s *sheet) ridge(g *ground) {
	if s.Course.HasElevation() {
		for step, rings := range g.runs(0, len(g.steps)) {
			s.d.fill(s.ink.Steps[step], rings...)
		}
	}
	s.d.draw(s.ink.Ink, ridgePx, g.piece(g.fromM, g.toM))
	var climbs [][]point
	for _, c := range s.Terrain.Climbs {
		for _, p := range c.Passes {
			if from, to := max(p.StartM, g.fromM), min(p.EndM, g.toM); c.ParentID == "" && from < to {
				climbs = append(climbs, g.piece(from, to))
			}
		}
	}
	s.d.draw(s.ink.Ink, climbPx, climbs...)
}

// signs draws every pass of every mark that lies on the ground, smaller where they crowd;
// of passes in the same place it draws one.
func (s *sheet) signs(g *ground) {
	type signed struct {
		kind track.MarkKind
		at   point
	}
	var all []signed
	for _, m := range s.Terrain.Marks {
		for _, p := range m.Passes {
			if p.AtM >= g.fromM && p.AtM <= g.toM {
				all = append(all, signed{m.Kind, g.on(p.AtM)})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b signed) int { return cmp.Compare(a.at.x, b.at.x) })
	const least, share, samePlacePx = 2.0, 0.3, 1.5
	size := min(max(share*(g.plot.x1-g.plot.x0)/float64(max(len(all), 1)), least), signPx)
	last := math.Inf(-1)
	for _, m := range all {
		if m.at.x > last+samePlacePx {
			s.sign(m.kind, m.at, size)
			last = m.at.x
		}
	}
}

// kindsOn are the kinds of marks with a pass on a stretch.
func (s *sheet) kindsOn(fromM, toM float64) map[track.MarkKind]bool {
	shown := map[track.MarkKind]bool{}
	for _, m := range s.Terrain.Marks {
		for _, p := range m.Passes {
			shown[m.Kind] = shown[m.Kind] || p.AtM >= fromM && p.AtM <= toM
		}
	}
	return shown
}
