package api_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// piece is a part of a JSON text: a number 'n', a string 's', a name 'k', a literal 'l', an
// object '{' or an array '['.
type piece struct {
	kind     byte
	from, to int
}

// values are the kinds of pieces that are values.
const values = "nsl{["

// pieces takes JSON apart, as far as it is JSON.
func pieces(body []byte) []piece {
	var all, open []piece
	for i := 0; i < len(body); i++ {
		from := i
		switch b := body[i]; {
		case b == '"':
			for i++; i < len(body) && body[i] != '"'; i++ {
				if body[i] == '\\' {
					i++
				}
			}
			i = min(i, len(body)-1)
			kind := byte('s')
			if rest := bytes.TrimLeft(body[i+1:], " \n"); len(rest) > 0 && rest[0] == ':' {
				kind = 'k'
			}
			all = append(all, piece{kind, from, i + 1})
		case b == '{' || b == '[':
			open = append(open, piece{b, from, 0})
		case (b == '}' || b == ']') && len(open) > 0:
			last := open[len(open)-1]
			open = open[:len(open)-1]
			all = append(all, piece{last.kind, last.from, i + 1})
		case b == '-' || b >= '0' && b <= '9' || b >= 'a' && b <= 'z':
			kind := byte('n')
			if b >= 'a' {
				kind = 'l'
			}
			for i+1 < len(body) && !strings.ContainsRune(" \n,:]}", rune(body[i+1])) {
				i++
			}
			all = append(all, piece{kind, from, i + 1})
		}
	}
	return all
}

// onPiece makes a mutation of one that changes a piece of one of some kinds.
func onPiece(kinds string, change func(r *rand.Rand, text string) string) func(*rand.Rand, []byte) []byte {
	return func(r *rand.Rand, body []byte) []byte {
		fit := slices.DeleteFunc(pieces(body), func(p piece) bool { return strings.IndexByte(kinds, p.kind) < 0 })
		if len(fit) == 0 {
			return body
		}
		p := fit[r.IntN(len(fit))]
		return slices.Concat(body[:p.from], []byte(change(r, string(body[p.from:p.to]))), body[p.to:])
	}
}

// oneOf makes a change to one of some texts.
func oneOf(texts ...string) func(*rand.Rand, string) string {
	return func(r *rand.Rand, _ string) string { return pick(r, texts) }
}

// jsonMutations damage JSON requests.
var jsonMutations = []mutation{
	{"an odd JSON number", onPiece("n", oneOf(
		"1e400", "-1e400", "1e-400", "1e306", "-1.7e308", "-0", "-0.0", "0.1e1", "1E+2", "00", "01", ".5", "5.", "+1", "0x10", "1_000", "NaN", "Infinity", "-", "1e", "99999999999999999999",
		"9007199254740993", "2147483648", "-1", "0", "1e6", "1e-9", `"70"`, "7 0", "1,5",
	))},
	{"another number", onPiece("n", func(r *rand.Rand, text string) string {
		i := r.IntN(len(text))
		return text[:i] + string(rune('0'+r.IntN(10))) + text[i+r.IntN(2):]
	})},
	{"an odd string", onPiece("s", func(r *rand.Rand, text string) string {
		odd := []string{
			`""`, `"` + strings.Repeat("x", 1<<r.IntN(18)) + `"`, `"\ud800"`, `"\udc00\ud800"`, `"\u0000"`, `"\u202eabc"`, `"\x41"`, "\"\n\"", `"\u00"`, `"`,
			`"00000000000000000000000000000000"`, `"../../etc/passwd"`, `"NaN"`, `"Ａ"`, `"ß"`, "\"\u0130\"", `'x'`,
		}
		return pick(r, odd)
	})},
	{"an odd character in a string", onPiece("s", func(r *rand.Rand, text string) string {
		i := min(1+r.IntN(len(text)), len(text)-1)
		return text[:i] + pick(r, oddText) + text[i:]
	})},
	{"another value", onPiece(values, oneOf("null", "true", "false", "[]", "{}", "[[]]", `""`, "0", "[null]", `{"": 1}`, `[{}]`, `"null"`, "nul", ""))},
	{"a value in a list", onPiece(values, func(_ *rand.Rand, text string) string { return "[" + text + "]" })},
	{"a name twice", onPiece("k", func(r *rand.Rand, text string) string {
		again := text
		if len(text) > 2 && text[1] >= 'a' && r.IntN(2) == 0 {
			again = fmt.Sprintf(`"\u%04x%s`, text[1], text[2:])
		}
		return pick(r, []string{text + ":0," + again, text + ":null," + again, strings.ToUpper(text) + ":0," + text})
	})},
	{"another name", onPiece("k", func(r *rand.Rand, text string) string {
		names := []string{
			`""`, `"__proto__"`, `"course"`, `"riders"`, `"mass_kg"`, `"a/b~c"`, `"\u0000"`, `"\ud800"`, `"` + strings.Repeat("k", 1<<r.IntN(15)) + `"`, strings.ToUpper(text), "kind", "1",
			text[:len(text)-1] + ` "`, text[:len(text)-1] + pick(r, oddText) + `"`,
		}
		return pick(r, names)
	})},
	{"a member removed", withoutMember},
	{"items many times", onPiece("[", func(r *rand.Rand, text string) string {
		inside := strings.TrimSuffix(strings.TrimPrefix(text, "["), "]")
		n := min(1<<r.IntN(12), 1+200_000/(len(inside)+1))
		return "[" + strings.TrimSuffix(strings.Repeat(inside+",", n), ",") + "]"
	})},
	{"many members", onPiece("{", func(r *rand.Rand, text string) string {
		var b strings.Builder
		b.WriteString("{")
		for i := range r.IntN(300) {
			b.WriteString(`"k` + strings.Repeat("0", i) + `":1,`)
		}
		return b.String() + strings.TrimPrefix(text, "{")
	})},
	{"a JSON depth bomb", onPiece(values, func(r *rand.Rand, text string) string {
		depth := 1 << r.IntN(15)
		open, shut := pick(r, []string{"[", `{"a":`, `{"course":`}), "]"
		if open != "[" {
			shut = "}"
		}
		return strings.Repeat(open, depth) + text + strings.Repeat(shut, r.IntN(2)*depth)
	})},
	{"values swapped", func(r *rand.Rand, body []byte) []byte {
		fit := slices.DeleteFunc(pieces(body), func(p piece) bool { return strings.IndexByte("nsl", p.kind) < 0 })
		if len(fit) < 2 {
			return body
		}
		i := r.IntN(len(fit) - 1)
		a, b := fit[i], fit[i+1+r.IntN(len(fit)-i-1)]
		return slices.Concat(body[:a.from], body[b.from:b.to], body[a.to:b.from], body[a.from:a.to], body[b.to:])
	}},
	{"more than a value", func(r *rand.Rand, body []byte) []byte {
		return append(body, pick(r, []string{"{}", "]", "}", ",", "//", "\x00", "null", strings.Repeat(" ", 1<<r.IntN(16)), "\n\n", "\u2028", string(body)})...)
	}},
	{"what JSON doesn't have", func(r *rand.Rand, body []byte) []byte {
		switch r.IntN(4) {
		case 0:
			return bytes.ReplaceAll(body, []byte(`"`), []byte("'"))
		case 1:
			return bytes.ReplaceAll(body, []byte("}"), []byte(",}"))
		case 2:
			return bytes.ReplaceAll(body, []byte(","), []byte("/* , */,"))
		}
		return bytes.ReplaceAll(body, []byte(":"), []byte("="))
	}},
	{"other white space", func(r *rand.Rand, body []byte) []byte {
		return bytes.ReplaceAll(body, []byte(" "), []byte(pick(r, []string{"", "\n", "\t", "\r\n", "  ", "\u00a0", "\v"})))
	}},
}

// withoutMember removes a name and what stands under it.
func withoutMember(r *rand.Rand, body []byte) []byte {
	all := pieces(body)
	names := slices.DeleteFunc(slices.Clone(all), func(p piece) bool { return p.kind != 'k' })
	if len(names) == 0 {
		return body
	}
	name := names[r.IntN(len(names))]
	value := piece{from: len(body), to: name.to}
	for _, p := range all {
		if p.kind != 'k' && p.from >= name.to && p.from < value.from {
			value = p
		}
	}
	return cutMember(body, name.from, value.to)
}

// cutMember cuts a member out with one of the commas beside it.
func cutMember(body []byte, from, to int) []byte {
	if rest := bytes.TrimLeft(body[to:], " \n"); len(rest) > 0 && rest[0] == ',' {
		to = len(body) - len(rest) + 1
	} else if before := bytes.TrimRight(body[:from], " \n"); len(before) > 0 && before[len(before)-1] == ',' {
		from = len(before) - 1
	}
	return slices.Delete(body, from, to)
}
