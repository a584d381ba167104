package picture

import (
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// typeface measures and outlines texts in Go Regular, which comes with the program. What
// it has no letter for takes the room of its box for missing ones.
type typeface struct {
	outlines *sfnt.Font
	buffer   sfnt.Buffer
	// advances are those of letters that were asked for, in units of the em.
	advances map[rune]float64
}

func newTypeface() (*typeface, error) {
	outlines, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	return &typeface{outlines: outlines, advances: map[rune]float64{}}, nil
}

// width returns the width in px of a text of a size in px, without kerning.
func (f *typeface) width(words string, sizePx float64) float64 {
	sum := 0.0
	for _, r := range words {
		sum += f.advance(r)
	}
	return float64(sum * sizePx)
}

// advance returns how far a letter moves the pen, in units of the em.
func (f *typeface) advance(r rune) float64 {
	if a, ok := f.advances[r]; ok {
		return a
	}
	em := fixed.I(int(f.outlines.UnitsPerEm()))
	a := 0.5
	if i, err := f.outlines.GlyphIndex(&f.buffer, r); err == nil {
		if units, err := f.outlines.GlyphAdvance(&f.buffer, i, em, font.HintingNone); err == nil {
			a = float64(units) / float64(em)
		}
	}
	f.advances[r] = a
	return a
}

// outline returns the outline of a letter in px around the pen at (0, 0); nil where there
// is none, as of a space.
func (f *typeface) outline(r rune, sizePx float64) sfnt.Segments {
	i, err := f.outlines.GlyphIndex(&f.buffer, r)
	if err != nil {
		return nil
	}
	segments, err := f.outlines.LoadGlyph(&f.buffer, i, fixed.Int26_6(sizePx*64), nil)
	if err != nil {
		return nil
	}
	return segments
}
