package brief

import (
	"regexp"
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
//     brackets of every kind are round, ";" is "," and "&" stands apart from a letter
//     behind it, so that no entity forms, not with a ";" of ours either;
//   - "@" is "(at)", so that nobody is mentioned; "#3" is "no. 3";
//   - a full stop or colon is followed by a space unless it stands between digits,
//     so that nothing becomes an address, a link or a picture;
//   - a slash that would start a command, and punctuation in front, where it would start
//     a list, is gone;
//   - a name with letters that are written from right to left ends with a mark that turns
//     the direction back (Unicode Standard Annex 9), so that it doesn't pull the numbers
//     behind it to its other side.
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
	clean := strings.Join(strings.Fields(picture.ReplaceAllString(b.String(), ": $1: ")), " ")
	clean = shorten(strings.TrimLeft(clean, "-+/!?.,:%&) "))
	if strings.ContainsFunc(clean, rightToLeft) {
		clean += leftToRightMark
	}
	return words(clean)
}

// picture is a number between colons that chats show as a picture; clocks have two digits.
var picture = regexp.MustCompile(`:([0-9]{3,}):`)

const leftToRightMark = "\u200e"

// rightToLeft reports whether a letter's script is written from right to left.
func rightToLeft(r rune) bool {
	return unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko, unicode.Adlam)
}

// harmless returns what a character of a name becomes between its neighbours.
func harmless(before, r, after rune) string {
	switch r {
	case '@', '＠', '﹫':
		return "(at) "
	case '<', '[', '{':
		return "("
	case '>', ']', '}':
		return ")"
	case ';':
		return ","
	case '`':
		return "'"
	case '&':
		if unicode.IsLetter(after) || after == '#' || !unicode.IsPrint(after) { // what becomes a letter, or leaves one next
			return "& "
		}
	case '#':
		if unicode.IsDigit(after) {
			return "no. "
		}
		return " "
	case '*', '_', '~', '|', '\\', '^', '=', '$':
		return " "
	case '/':
		if !unicode.IsLetter(before) && !unicode.IsDigit(before) {
			return " "
		}
	case '.', ':', '．', '。', '｡', '：':
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
