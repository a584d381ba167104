package picture

import (
	"math"

	"parcours.example/analysis/wording"
)

// scaleStep returns the least of 1, 2, 5 times a power of ten that is not below a least
// one, and the decimals that it takes to write its multiples.
func scaleStep(least float64) (step float64, decimals int) {
	power := 1e-2
	for range 12 {
		for _, k := range [...]float64{1, 2, 5} {
			if step = k * power; step >= least {
				return step, decimalsOf(step)
			}
		}
		power *= 10
	}
	return step, 0
}

func decimalsOf(step float64) int {
	switch {
	case step >= 1:
		return 0
	case step >= 0.1:
		return 1
	}
	return 2
}

// heightAxis writes the elevations left of a plot, and lines that lead across it.
func (s *sheet) heightAxis(g *ground) {
	if s.Course.HasElevation() {
		unit := s.Units.ShortM()
		// At the foot the words of the rows below begin.
		s.scaleAxis(scale{g.plot, g.lowM / unit, g.highM / unit, s.Units.Short()}, g.plot.y1-s.textPx/2)
	}
}

// scale is what the height of a plot stands for: from its foot to its top so much, in a
// unit.
type scale struct {
	plot      box
	low, high float64
	unit      string
}

// y returns the place of a value.
func (c scale) y(value float64) float64 {
	return c.plot.y1 - float64((value-c.low)/(c.high-c.low)*(c.plot.y1-c.plot.y0))
}

// leastStepSizes is how far apart the numbers of a scale stand at least, in sizes of text.
const leastStepSizes = 1.8

// scaleAxis writes the numbers of a scale left of its plot, none below a lowest place, and
// lines that lead across it.
func (s *sheet) scaleAxis(c scale, lowest float64) {
	perUnit := (c.plot.y1 - c.plot.y0) / (c.high - c.low)
	step, _ := scaleStep(max(float64(leastStepSizes*s.textPx)/perUnit, 1))
	var across [][]point
	last := math.Floor(c.high / step)
	for k := math.Ceil(c.low / step); k <= last; k++ {
		y := c.y(k * step)
		words := wording.Rounded(k*step, 0)
		if k == last {
			words += " " + c.unit
		}
		across = append(across, []point{{c.plot.x0, y}, {c.plot.x1, y}})
		if y <= lowest {
			s.write(s.ink.Muted, atEnd, point{c.plot.x0 - 6, y + float64(0.35*s.textPx)}, words)
		}
	}
	s.d.draw(s.ink.Faint, 1, across...)
}

// axisRow is a row of numbers below a plot: a word for it, and its value at a position
// along the course in metres.
type axisRow struct {
	head  string
	value func(m float64) float64
}

// distanceRows writes the distance covered since an origin and that to go from one
// position to another, below y.
func (s *sheet) distanceRows(g *ground, y, originM, fromM, toM float64, covered, toGo string) {
	unit := s.Units.LongM()
	perUnit := (g.x(toM) - g.x(fromM)) / (toM - fromM) * unit
	step, decimals := scaleStep(float64(4.2*s.textPx) / perUnit)
	rows := []axisRow{
		{covered, func(m float64) float64 { return (m - originM) / unit }},
		{toGo, func(m float64) float64 { return (toM - m) / unit }},
	}
	room := float64(s.WidthPx) - s.padPx/2
	for i, row := range rows {
		at := y + float64((1.1+float64(1.35*float64(i)))*s.textPx)
		last := s.write(s.ink.Muted, atStart, point{s.padPx, at}, row.head).x1 // where the words before end
		end := s.write(s.ink.Ink, atMiddle, point{min(g.x(toM), room-s.textPx), at}, wording.Rounded(row.value(toM), max(decimals, 1)))
		for k := math.Ceil((fromM - originM) / unit / step); originM+float64(k*step*unit) < toM; k++ {
			m := originM + float64(k*step*unit)
			words := wording.Rounded(row.value(m), max(decimals, i))
			if half := float64(s.face.width(words, s.textPx)/2) + float64(s.textPx/3); g.x(m)+half <= end.x0 && g.x(m)-half >= last+float64(s.textPx/3) {
				last = s.write(s.ink.Ink, atMiddle, point{g.x(m), at}, words).x1
			}
		}
	}
	s.distanceTicks(g, y, originM, fromM, toM, step*unit)
}

// distanceTicks draws the axis with a tick for each step in metres from an origin.
func (s *sheet) distanceTicks(g *ground, y, originM, fromM, toM, stepM float64) {
	lines := [][]point{{{g.plot.x0, y}, {g.plot.x1, y}}}
	for k := math.Ceil((fromM - originM) / stepM); originM+float64(k*stepM) <= toM; k++ {
		x := g.x(originM + float64(k*stepM))
		lines = append(lines, []point{{x, y}, {x, y + 4}})
	}
	s.d.draw(s.ink.Muted, 1, lines...)
}

// axisHeight is the height of the rows of distance in px.
func (s *sheet) axisHeight() float64 { return float64(3.1 * s.textPx) }

// gutter is the room for numbers and words left of a plot.
func (s *sheet) gutter(heads ...string) float64 {
	widest := s.face.width("8888 "+s.Units.Short(), s.textPx)
	for _, h := range heads {
		widest = max(widest, s.face.width(h, s.textPx))
	}
	return widest + 6 + s.padPx/2
}
