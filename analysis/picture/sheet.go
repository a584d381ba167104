package picture

import (
	"strings"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/wording"
)

// sheet is a picture under way.
type sheet struct {
	Input
	d    *Drawing
	ink  colour.Palette
	face *typeface
	// textPx is the size of texts in px, padPx the margin of the paper.
	textPx, padPx float64
}

func newSheet(in Input) (*sheet, error) {
	face, err := newTypeface()
	if err != nil {
		return nil, err
	}
	ink := in.Theme.Palette()
	// 11 px on a phone's width, 14 on a screen's.
	text := 11 + tenth(3*float64(in.WidthPx-LeastWidthPx)/(MostWidthPx-LeastWidthPx))
	return &sheet{
		Input: in, ink: ink, face: face, textPx: text, padPx: text,
		d: &Drawing{WidthPx: in.WidthPx, HeightPx: in.HeightPx, paper: ink.Paper, face: face},
	}, nil
}

// write is Drawing.write in the sheet's size.
func (s *sheet) write(ink colour.RGB, a anchor, at point, words string) box {
	return s.d.write(ink, s.textPx, a, at, words)
}

// fits reports whether words have room in a width in px.
func (s *sheet) fits(words string, widthPx float64) bool {
	return s.face.width(words, s.textPx) <= widthPx
}

// header writes a title and lines below it, and returns where they end. Of a line's forms
// the first that has room is written, the last one cut where none has.
func (s *sheet) header(title string, lines ...[]string) (bottom float64) {
	size, room := s.titlePx(), s.widthWithin()
	y := s.padPx + float64(ascentShare*size)
	if t := s.face.fitted(title, size, room); t != "" {
		s.d.write(s.ink.Ink, size, atStart, point{s.padPx, y}, t)
	}
	for _, forms := range lines {
		y += float64(headerLine * s.textPx)
		s.write(s.ink.Muted, atStart, point{s.padPx, y}, s.firstFitting(forms, room))
	}
	return y + float64(headerFoot*s.textPx)
}

// headerLine is the height of a header's line, headerFoot the room below the last, both in
// sizes of text.
const headerLine, headerFoot = 1.45, 0.8

// headerHeight is the height of a header with so many lines.
func (s *sheet) headerHeight(lines int) float64 {
	return s.padPx + float64(ascentShare*s.titlePx()) + float64((float64(headerLine*float64(lines))+headerFoot)*s.textPx)
}

// titlePx is the size of the title.
func (s *sheet) titlePx() float64 { return tenth(1.5 * s.textPx) }

// widthWithin is the width between the paper's margins.
func (s *sheet) widthWithin() float64 { return float64(s.WidthPx) - 2*s.padPx }

// firstFitting returns the first of some forms of words that has room in a width in px, or
// the last of them cut.
func (s *sheet) firstFitting(forms []string, widthPx float64) string {
	for _, words := range forms {
		if s.fits(words, widthPx) {
			return words
		}
	}
	return s.face.fitted(forms[len(forms)-1], s.textPx, widthPx)
}

// title is the course's name.
func (s *sheet) title() string {
	if n := plain(s.Course.Name); n != "" {
		return n
	}
	return "Course"
}

// summary tells a course in one line.
func (s *sheet) summary() string {
	told := []string{s.Units.Length(s.Course.LengthM())}
	if s.Course.HasElevation() {
		told = append(told, s.Units.Height(s.Course.AscentM(0, s.Course.LengthM()))+" of ascent")
	} else {
		told = append(told, "no elevations in the file")
	}
	if l := s.Course.Laps; l.Count > 1 {
		told = append(told, wording.Count(l.Count)+" laps of "+s.Units.Length(l.LengthM))
	}
	return sentence(told)
}

// from says where something starts.
func (s *sheet) from(m float64) string {
	if m < atStartM {
		return "from the start"
	}
	return "from " + s.Units.Length(m)
}

// sentence sets what is told beside each other.
func sentence(told []string) string { return strings.Join(told, " · ") }

// exaggeration says how the heights of a ground are drawn.
func (s *sheet) exaggeration(g *ground) string {
	if !s.Course.HasElevation() {
		return ""
	}
	decimals := 0
	if g.exaggeration() < 9.95 {
		decimals = 1
	}
	return "heights drawn ×" + wording.Rounded(g.exaggeration(), decimals)
}
