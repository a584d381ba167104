package brief

import (
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// columnsOf is how many columns a character takes where all characters are as wide as
// their class says (Unicode Standard Annex 11): none for marks that sit on others, two for
// wide ones.
func columnsOf(r rune) int {
	if unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf) {
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// columns is how many columns a text takes.
func columns(s string) int {
	n := 0
	for _, r := range s {
		n += columnsOf(r)
	}
	return n
}

// narrowed cuts a phrase to a width in columns, at least 1, and shows that it did. Numbers
// that are cut off are no facts any more.
func narrowed(p phrase, most int) phrase {
	if columns(p.text) <= most {
		return p
	}
	n, end := 1, 0 // one for the dots
	for i, r := range p.text {
		if n += columnsOf(r); n > most {
			break
		}
		end = i + len(string(r))
	}
	out := words(strings.TrimRight(p.text[:end], " .,:-/(") + "…")
	rest := out.text
	for _, f := range p.facts {
		_, after, found := strings.Cut(rest, f.Text)
		if !found {
			break
		}
		out.facts, rest = append(out.facts, f), after
	}
	return out
}

// The isolates of the Unicode Bidirectional Algorithm (Unicode Standard Annex 9).
const firstStrongIsolate, popIsolate = "\u2068", "\u2069"

// isolated keeps a name that is written from right to left from turning a row around: the
// numbers before it have no direction of their own, so that the mark at its end comes too
// late.
func isolated(p phrase) phrase {
	if strings.ContainsFunc(p.text, rightToLeft) {
		return join("", words(firstStrongIsolate), p, words(popIsolate))
	}
	return p
}
