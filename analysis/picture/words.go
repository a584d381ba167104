package picture

import (
	"strings"
	"unicode"
)

// plain makes a name from a file fit for a line of text: what isn't printed is a space or
// gone, spaces are single.
func plain(name string) string {
	shown := strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r), unicode.IsControl(r):
			return ' '
		case !unicode.IsPrint(r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	return strings.Join(strings.Fields(shown), " ")
}

// fitted cuts words, at a letter, to a width in px and shows that it did; empty where
// nothing fits.
func (f *typeface) fitted(words string, sizePx, widthPx float64) string {
	if f.width(words, sizePx) <= widthPx {
		return words
	}
	runes := []rune(words)
	for n := len(runes) - 1; n > 0; n-- {
		if cut := strings.TrimRight(string(runes[:n]), " ,.·") + "…"; f.width(cut, sizePx) <= widthPx {
			return cut
		}
	}
	return ""
}
