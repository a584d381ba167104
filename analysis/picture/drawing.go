package picture

import (
	"math"

	"parcours.example/analysis/colour"
)

// point is a place on the paper in px, from the upper left corner.
type point struct{ x, y float64 }

// anchor says which end of a text stands at its place.
type anchor int

const (
	atStart anchor = iota
	atMiddle
	atEnd
)

// area is filled ground, stroke a line, letters a text. Each lies over those before it.
type (
	area struct {
		rings [][]point
		ink   colour.RGB
	}
	stroke struct {
		lines [][]point
		ink   colour.RGB
		width float64
		// dash holds the lengths in px of a line's dashes and gaps, by turns; nil for a
		// line without gaps.
		dash []float64
	}
	letters struct {
		at     point
		words  string
		sizePx float64
		anchor anchor
		ink    colour.RGB
		// widthPx is the width that words take.
		widthPx float64
	}
)

// element is exactly one of its fields.
type element struct {
	area    *area
	stroke  *stroke
	letters *letters
}

// Drawing is a picture that can be written in several formats.
type Drawing struct {
	// Title and Description tell the picture in words, for those who can't see it.
	Title, Description string
	// WidthPx and HeightPx are its size in px.
	WidthPx, HeightPx int

	paper    colour.RGB
	elements []element
	face     *typeface
	// plot is nil where a position along the course has no single place across.
	plot *plot
}

// plot is where a drawing shows a stretch of the course from left to right, evenly: the
// box of it, and the positions along the course in metres at its left and right edge.
type plot struct {
	box
	fromM, toM float64
}

// tenth rounds to a tenth of a pixel: all formats draw the same places, and the last bits
// of a number don't show.
func tenth(v float64) float64 { return math.Round(v*10) / 10 }

func (p point) tenths() point { return point{tenth(p.x), tenth(p.y)} }

func tenths(lines [][]point) [][]point {
	for _, line := range lines {
		for i := range line {
			line[i] = line[i].tenths()
		}
	}
	return lines
}

// fill adds closed rings.
func (d *Drawing) fill(ink colour.RGB, rings ...[]point) {
	if len(rings) > 0 {
		d.elements = append(d.elements, element{area: &area{tenths(rings), ink}})
	}
}

// fillBox adds a rectangle.
func (d *Drawing) fillBox(ink colour.RGB, b box) { d.fill(ink, b.ring()) }

// draw adds lines of a width in px.
func (d *Drawing) draw(ink colour.RGB, widthPx float64, lines ...[]point) {
	d.drawDashed(ink, widthPx, nil, lines...)
}

// drawDashed adds lines of a width and with dashes and gaps in px.
func (d *Drawing) drawDashed(ink colour.RGB, widthPx float64, dash []float64, lines ...[]point) {
	if len(lines) > 0 {
		d.elements = append(d.elements, element{stroke: &stroke{tenths(lines), ink, widthPx, dash}})
	}
}

// write adds a text and returns the room that it takes.
func (d *Drawing) write(ink colour.RGB, sizePx float64, a anchor, at point, words string) box {
	l := letters{at: point{tenth(at.x), math.Round(at.y)}, words: words, sizePx: sizePx, anchor: a, ink: ink, widthPx: tenth(d.face.width(words, sizePx))}
	d.elements = append(d.elements, element{letters: &l})
	return l.box()
}

// texts returns the room of the texts that are written.
func (d *Drawing) texts() (boxes []box) {
	for _, e := range d.elements {
		if e.letters != nil {
			boxes = append(boxes, e.letters.box())
		}
	}
	return boxes
}

// left returns where a text starts.
func (l letters) left() float64 {
	switch l.anchor {
	case atMiddle:
		return l.at.x - l.widthPx/2
	case atEnd:
		return l.at.x - l.widthPx
	}
	return l.at.x
}

// Of a text's size, this much lies above and below its base line, accents included.
const ascentShare, descentShare = 0.96, 0.24

// box returns the room that a text takes.
func (l letters) box() box {
	return box{l.left(), l.at.y - float64(ascentShare*l.sizePx), l.left() + l.widthPx, l.at.y + float64(descentShare*l.sizePx)}
}

// box is a rectangle with its upper left and lower right corners.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) ring() []point { return []point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}} }

// meets reports whether two boxes have room in common.
func (b box) meets(c box) bool { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }

// within reports whether b lies in c.
func (b box) within(c box) bool { return b.x0 >= c.x0 && b.x1 <= c.x1 && b.y0 >= c.y0 && b.y1 <= c.y1 }

// grown returns the box with a margin on each side.
func (b box) grown(x, y float64) box { return box{b.x0 - x, b.y0 - y, b.x1 + x, b.y1 + y} }
