package brief

import (
	"strings"
	"unicode"
)

// maxName is the most code points of a name that a brief shows.
const maxName = 60

// name makes an untrusted name harmless and shortens it. The result reads the same
// in Markdown, in plain text and in a chat, and needs no escaping:
//
//   - whatever isn't printed (line breaks, controls, direction marks) is a space or
//     gone, spaces are single;
//   - characters that open emphasis, code, headings, tables or escapes are spaces,
//     brackets of every kind are round, ";" is "," so that no entity closes;
//   - "@" is "(at)", so that nobody is mentioned; "#3" is "no. 3";
//   - a full stop or colon is followed by a space unless it stands between digits,
//     so that nothing becomes an address or a link;
//   - punctuation in front, where it would start a list or a command, is gone.
func name(s string) phrase {
	var b strings.Builder
	runes := []rune(s)
	for i, r := range runes {
		var before, after rune
		if i > 0 {
			before = runes[i-1]
		}
		if i+1 < len(runes) {
			after = runes[i+1]
		}
		b.WriteString(harmless(before, r, after))
	}
	clean := strings.Join(strings.Fields(b.String()), " ")
	return words(shorten(strings.TrimLeft(clean, "-+/!?.,:%&) ")))
}

// harmless returns what a character of a name becomes between its neighbours.
func harmless(before, r, after rune) string {
	switch r {
	case '@', '＠':
		return "(at) "
	case '<', '[', '{':
		return "("
	case '>', ']', '}':
		return ")"
	case ';':
		return ","
	case '`':
		return "'"
	case '#':
		if unicode.IsDigit(after) {
			return "no. "
		}
		return " "
	case '*', '_', '~', '|', '\\', '^', '=', '$':
		return " "
	case '.', ':':
		if !unicode.IsDigit(before) || !unicode.IsDigit(after) {
			return string(r) + " "
		}
	}
	if unicode.IsSpace(r) || unicode.IsControl(r) {
		return " "
	}
	if !unicode.IsPrint(r) {
		return ""
	}
	return string(r)
}

// shorten cuts a long name at its last word and shows that it did.
func shorten(s string) string {
	runes := []rune(s)
	if len(runes) <= maxName {
		return s
	}
	cut := string(runes[:maxName-1])
	if i := strings.LastIndexByte(cut, ' '); i > len(cut)/2 {
		cut = cut[:i]
	}
	return strings.TrimRight(cut, " .,:-/(") + "…"
}
