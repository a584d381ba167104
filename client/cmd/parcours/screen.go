package main

import (
	"io"
	"os"
	"strings"
	"unicode"

	"github.com/rivo/uniseg"
	"golang.org/x/term"
)

// screen is what a stream leads to.
type screen struct {
	// terminal is whether a person looks at it, width its columns, 0 for no bound.
	terminal bool
	width    int
	// styled allows weight and colour, which never tell anything alone.
	styled bool
}

// unstyled is the variable that asks programs for no styles (no-color.org).
const unstyled = "NO_COLOR" //nolint:misspell // its name

// screenOf looks at a stream.
func screenOf(out io.Writer) screen {
	f, ok := out.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return screen{}
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width <= 0 {
		width = 80
	}
	dumb := os.Getenv("TERM") == "dumb" || os.Getenv(unstyled) != ""
	return screen{terminal: true, width: width, styled: !dumb}
}

// The styles of SGR (ECMA-48).
const (
	bold = "1"
	red  = "31"
	dim  = "2"
)

// style sets a text in a style where that can be seen.
func (s screen) style(style, text string) string {
	if !s.styled || text == "" {
		return text
	}
	return "\x1b[" + style + "m" + text + "\x1b[0m"
}

// wrap sets a text in lines of the screen's width; later lines are indented.
func (s screen) wrap(text, indent string) string {
	if s.width == 0 {
		return text
	}
	var b strings.Builder
	column := 0
	for i, word := range strings.Fields(text) {
		w := wide(word)
		switch {
		case i == 0:
		case column+1+w > s.width:
			b.WriteString("\n" + indent)
			column = wide(indent)
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += w
	}
	return b.String()
}

// wide is how many columns of a terminal a text takes.
func wide(text string) int { return uniseg.StringWidth(text) }

// plain is a text from a stranger's file as a terminal may show it: without characters that
// command it or turn its direction.
func plain(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r), r == unicode.ReplacementChar:
			return -1
		}
		return r
	}, text)
}

// cut shortens a text to so many columns.
func cut(text string, most int) string {
	if wide(text) <= most {
		return text
	}
	var b strings.Builder
	left := most - 1
	state := -1
	for rest := text; rest != ""; {
		var cluster string
		var w int
		cluster, rest, w, state = uniseg.FirstGraphemeClusterInString(rest, state)
		if left -= w; left < 0 {
			break
		}
		b.WriteString(cluster)
	}
	return b.String() + "…"
}
