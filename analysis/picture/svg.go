package picture

import (
	"bytes"
	"encoding/xml"
	"math"
	"strconv"

	"parcours.example/analysis/wording"
)

// families are the fonts that a text is shown in: the viewer's own, stretched to the width
// that was measured for it, so that labels stay apart in any of them.
const families = "Helvetica, Arial, 'Liberation Sans', sans-serif"

// SVG writes the drawing as SVG 1.1. Texts stay texts; there is no style sheet, script,
// font or address in it. Where positions along the course lie evenly from left to right,
// the root's data-plot-x0 to data-plot-y1 tell their box in px, data-from-m and data-to-m
// the positions in metres at its left and right edge.
func (d *Drawing) SVG() []byte {
	w := svgWriter{}
	size := strconv.Itoa(d.WidthPx) + " " + strconv.Itoa(d.HeightPx)
	w.put(`<svg xmlns="http://www.w3.org/2000/svg" width="`, strconv.Itoa(d.WidthPx), `" height="`, strconv.Itoa(d.HeightPx),
		`" viewBox="0 0 `, size, `" role="img" font-family="`, families, `"`).plotted(d.plot).put(">\n")
	w.put("<title>").escaped(d.Title).put("</title>\n<desc>").escaped(d.Description).put("</desc>\n")
	w.put(`<path fill="`, d.paper.Hex(), `" d="M0 0h`, strconv.Itoa(d.WidthPx), "v", strconv.Itoa(d.HeightPx), "H0z\"/>\n")
	for _, e := range d.elements {
		switch {
		case e.area != nil:
			w.put(`<path fill="`, e.area.ink.Hex(), `" d="`).paths(e.area.rings, "z").put("\"/>\n")
		case e.stroke != nil:
			w.put(`<path fill="none" stroke="`, e.stroke.ink.Hex(), `" stroke-width="`, decimal(e.stroke.width),
				`" stroke-linejoin="round`).dashes(e.stroke.dash).put(`" d="`).paths(e.stroke.lines, "").put("\"/>\n")
		case e.letters != nil:
			w.letters(*e.letters)
		}
	}
	w.put("</svg>\n")
	return w.Bytes()
}

type svgWriter struct{ bytes.Buffer }

func (w *svgWriter) put(texts ...string) *svgWriter {
	for _, t := range texts {
		w.WriteString(t)
	}
	return w
}

// escaped writes words that may be anything.
func (w *svgWriter) escaped(words string) *svgWriter {
	_ = xml.EscapeText(&w.Buffer, []byte(words)) // writing to memory doesn't fail
	return w
}

// plotted writes where a plot is, and what of the course it shows; nothing for nil.
func (w *svgWriter) plotted(p *plot) *svgWriter {
	if p == nil {
		return w
	}
	w.put(` data-plot-x0="`, decimal(p.x0), `" data-plot-x1="`, decimal(p.x1), `" data-plot-y0="`, decimal(p.y0), `" data-plot-y1="`, decimal(p.y1))
	return w.put(`" data-from-m="`, wording.Number(p.fromM, 2), `" data-to-m="`, wording.Number(p.toM, 2), `"`)
}

// decimal writes a number in tenths.
func decimal(v float64) string { return strconv.FormatFloat(tenth(v)+0, 'f', -1, 64) }

// dashes goes on after an attribute with that of dashes, where there are any.
func (w *svgWriter) dashes(dash []float64) *svgWriter {
	for i, length := range dash {
		if i == 0 {
			w.put(`" stroke-dasharray="`)
		} else {
			w.put(" ")
		}
		w.put(decimal(length))
	}
	return w
}

// paths writes lines in steps from point to point, in tenths, and closes each with an end.
func (w *svgWriter) paths(lines [][]point, end string) *svgWriter {
	for _, line := range lines {
		var x, y int
		for i, p := range line {
			px, py := int(math.Round(p.x*10)), int(math.Round(p.y*10))
			switch i {
			case 0:
				w.put("M")
			case 1:
				w.put("l")
			}
			w.tenths(px-x, i > 1)
			w.tenths(py-y, true)
			x, y = px, py
		}
		w.put(end)
	}
	return w
}

// tenths writes a number of tenths as short as can be, apart from a number before it.
func (w *svgWriter) tenths(n int, apart bool) {
	if apart && n >= 0 {
		w.WriteByte(' ')
	}
	if n < 0 {
		w.WriteByte('-')
		n = -n
	}
	if n >= 10 || n%10 == 0 {
		w.put(strconv.Itoa(n / 10))
	}
	if n%10 != 0 {
		w.WriteByte('.')
		w.WriteByte(byte('0' + n%10))
	}
}

func (w *svgWriter) letters(l letters) {
	anchors := [...]string{atStart: "", atMiddle: ` text-anchor="middle"`, atEnd: ` text-anchor="end"`}
	w.put(`<text x="`, decimal(l.at.x), `" y="`, decimal(l.at.y), `" font-size="`, decimal(l.sizePx), `" fill="`, l.ink.Hex(), `"`,
		anchors[l.anchor], ` textLength="`, decimal(l.widthPx), `" lengthAdjust="spacingAndGlyphs">`).escaped(l.words).put("</text>\n")
}
