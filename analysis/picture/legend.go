package picture

import (
	"parcours.example/analysis/colour"
	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
)

// entry is one piece of the legend; draw draws it from a left edge and the middle of its
// line.
type entry struct {
	widthPx float64
	draw    func(x, y float64)
}

// gapPx is the room between entries.
const gapPx = 16

// legend is what explains a picture, set in lines at the paper's foot.
type legend [][]entry

// newLegend sets entries in as many lines as they need.
func (s *sheet) newLegend(entries []entry) (l legend) {
	x, right := s.padPx, float64(s.WidthPx)-s.padPx
	for i, e := range entries {
		if i == 0 || x+e.widthPx > right {
			l, x = append(l, nil), s.padPx
		}
		l[len(l)-1] = append(l[len(l)-1], e)
		x += e.widthPx + gapPx
	}
	return l
}

// legendLine is the height of a line in sizes of text.
const legendLine = 2.1

func (s *sheet) legendHeight(l legend) float64 {
	return s.entriesHeight(l) + float64(s.padPx/2)
}

// entriesHeight is the height of a legend's lines alone.
func (s *sheet) entriesHeight(l legend) float64 {
	return float64(legendLine * s.textPx * float64(len(l)))
}

// drawLegend draws a legend at the paper's foot.
func (s *sheet) drawLegend(l legend) { s.drawEntries(l, float64(s.HeightPx)-s.legendHeight(l)) }

// drawEntries draws a legend's lines from a height on the paper downwards.
func (s *sheet) drawEntries(l legend, y float64) {
	for _, line := range l {
		x := s.padPx
		for _, e := range line {
			e.draw(x, y+s.textPx)
			x += e.widthPx + gapPx
		}
		y += float64(legendLine * s.textPx)
	}
}

// exaggerationEntry says how the heights of a ground are drawn. Its room doesn't depend on
// the number in it.
func (s *sheet) exaggerationEntry(g *ground) []entry {
	if !s.Course.HasElevation() {
		return nil
	}
	return []entry{{s.face.width("heights drawn ×888", s.textPx), func(x, y float64) {
		s.write(s.ink.Muted, atStart, point{x, y + float64(0.3*s.textPx)}, s.exaggeration(g))
	}}}
}

// gradientEntry is the map of colours with the gradients at which they change.
func (s *sheet) gradientEntry(overM float64) []entry {
	if !s.Course.HasElevation() {
		return nil
	}
	const unit = "%"
	before := "gradient over " + s.Units.Length(overM)
	cell := float64(2.3 * s.textPx)
	lead := s.face.width(before, s.textPx) + 8
	return []entry{{lead + float64(cell*colour.StepCount) + s.face.width(unit, s.textPx) + 4, func(x, y float64) {
		s.write(s.ink.Muted, atStart, point{x, y + float64(0.3*s.textPx)}, before)
		s.gradientBar(x+lead, y, cell)
		s.write(s.ink.Muted, atStart, point{x + lead + float64(cell*colour.StepCount) + 4, y + float64(0.3*s.textPx)}, unit)
	}}}
}

// gradientBar draws the steps side by side, framed, with their edges below.
func (s *sheet) gradientBar(x, y, cell float64) {
	top, bottom := y-float64(0.7*s.textPx), y+float64(0.1*s.textPx)
	for i, step := range s.ink.Steps {
		s.d.fillBox(step, box{x + float64(cell*float64(i)), top, x + float64(cell*float64(i+1)), bottom})
	}
	frame := box{x, top, x + float64(cell*colour.StepCount), bottom}.ring()
	s.d.draw(s.ink.Muted, 1, append(frame, frame[0]))
	for i, edge := range colour.StepEdgesPct() {
		s.write(s.ink.Muted, atMiddle, point{x + float64(cell*float64(i+1)), bottom + float64(0.9*s.textPx)}, wording.Rounded(edge, 0))
	}
}

// kindWords are the kinds of marks in the order of the legend.
func kindWords() []struct {
	kind track.MarkKind
	word string
} {
	return []struct {
		kind track.MarkKind
		word string
	}{
		{track.Sprint, "sprint line"}, {track.Summit, "summit"}, {track.Gate, "timing gate"}, {track.Feed, "feed"}, {track.Other, "place"},
	}
}

// markEntries explain the signs of the kinds of marks that are shown.
func (s *sheet) markEntries(shown map[track.MarkKind]bool) (entries []entry) {
	for _, k := range kindWords() {
		if !shown[k.kind] {
			continue
		}
		lead := float64(1.2 * s.textPx)
		entries = append(entries, entry{lead + s.face.width(k.word, s.textPx), func(x, y float64) {
			s.sign(k.kind, point{x + float64(lead/2) - 2, y}, signPx)
			s.write(s.ink.Muted, atStart, point{x + lead, y + float64(0.3*s.textPx)}, k.word)
		}})
	}
	return entries
}

// signPx is the size of a sign that has room, from its middle to its edge.
const signPx = 4.0

// sign draws the sign of a kind of mark around a place.
func (s *sheet) sign(kind track.MarkKind, at point, sizePx float64) {
	s.d.fill(s.ink.Paper, signRing(kind, at, 1.45*sizePx))
	s.d.fill(s.ink.Mark, signRing(kind, at, sizePx))
}

// signRing is the outline of a sign that reaches a radius in px from its middle.
func signRing(kind track.MarkKind, at point, r float64) []point {
	around := func(offsets ...point) []point {
		ring := make([]point, len(offsets))
		for i, o := range offsets {
			ring[i] = point{at.x + float64(o.x*r), at.y + float64(o.y*r)}
		}
		return ring
	}
	switch kind {
	case track.Sprint: // a flag's two halves
		return around(point{-1, -1}, point{0, -0.45}, point{1, -1}, point{1, 1}, point{0, 0.45}, point{-1, 1})
	case track.Summit:
		return around(point{0, -1.1}, point{1.1, 0.9}, point{-1.1, 0.9})
	case track.Gate:
		return around(point{-0.45, -1.3}, point{0.45, -1.3}, point{0.45, 1.3}, point{-0.45, 1.3})
	case track.Feed:
		return around(point{-1, -0.9}, point{1, -0.9}, point{0.6, 1}, point{-0.6, 1})
	}
	return around(point{0, -1}, point{0.71, -0.71}, point{1, 0}, point{0.71, 0.71}, point{0, 1}, point{-0.71, 0.71}, point{-1, 0}, point{-0.71, -0.71})
}
