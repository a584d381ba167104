package track

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// decimals is what a number tells about how the file writes decimals.
type decimals int

const (
	noDecimals decimals = iota
	decimalPoint
	decimalComma
	// pointOrGroups and commaOrGroups are numbers like 1.234 and 1,234, whose sign may
	// set off thousands.
	pointOrGroups
	commaOrGroups
)

// decimalsIn returns what the number in a cell tells.
func decimalsIn(cell []byte) decimals {
	dots, commas := bytes.Count(cell, []byte(".")), bytes.Count(cell, []byte(","))
	dot, com := bytes.LastIndexByte(cell, '.'), bytes.LastIndexByte(cell, ',')
	switch {
	case dots+commas == 0:
		return noDecimals
	case dots > 0 && commas > 0 && dot > com, commas > 1:
		return decimalPoint
	case dots > 0 && commas > 0, dots > 1:
		return decimalComma
	case dots == 1 && mayGroup(cell, dot):
		return pointOrGroups
	case dots == 1:
		return decimalPoint
	case mayGroup(cell, com):
		return commaOrGroups
	}
	return decimalComma
}

// mayGroup says whether the sign at i could set off thousands: up to three digits before
// it, of which the first is not 0, and three after it.
func mayGroup(cell []byte, i int) bool {
	before, after := 0, 0
	for i-before > 0 && isDigit(cell[i-before-1]) {
		before++
	}
	for i+after+1 < len(cell) && isDigit(cell[i+after+1]) {
		after++
	}
	return 1 <= before && before <= 3 && cell[i-before] != '0' && after == 3
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// findDecimals finds out how the numbers of the table write decimals.
func (t *table) findDecimals() error {
	var in []int
	for _, r := range numberColumns {
		if c := t.columns[r]; c.present {
			in = append(in, c.index)
		}
	}
	t.cursor = t.start
	err := t.decimalsOf(in)
	t.cursor = t.start
	return err
}

// decimalsOf sets whether decimals have commas by the first number of the columns, nil
// for all of them, that tells for certain. Where none does, a single sign is a decimal
// one, with a warning.
func (t *table) decimalsOf(in []int) error {
	var seen [commaOrGroups + 1]string
	for {
		ok, err := t.next()
		if err != nil {
			return err
		}
		if !ok {
			break
		}
		for i, cell := range t.cells {
			if in != nil && !slices.Contains(in, i) || len(cell) > maxNumber {
				continue
			}
			d := decimalsIn(cell)
			if _, _, ok := parseCell(cell, d == decimalComma || d == commaOrGroups); !ok {
				continue
			}
			if d == decimalPoint || d == decimalComma {
				t.comma = d == decimalComma
				return nil
			}
			if seen[d] == "" {
				seen[d] = clean(string(cell), 40)
			}
		}
	}
	dots, commas := seen[pointOrGroups], seen[commaOrGroups]
	switch {
	case dots != "" && commas != "":
		return &Error{Code: CodeMalformed, Detail: fmt.Sprintf(
			"The table has numbers like %q and like %q, of which either may have decimals or thousands; write them all alike, without signs for thousands.", dots, commas)}
	case dots+commas != "" && in != nil:
		t.comma = commas != ""
		sign := "point"
		if t.comma {
			sign = "comma"
		}
		t.notes.addFile("decimals-assumed", fmt.Sprintf(
			"Numbers like %q were read with a decimal %s; if the sign sets off thousands, remove it.", dots+commas, sign))
	default:
		t.comma = commas != ""
	}
	return nil
}

// parseCell returns the number in a cell, with decimal commas or points and with groups of
// thousands set off by the other sign, spaces or apostrophes, and what letters and signs
// follow it.
func parseCell(cell []byte, comma bool) (v float64, suffix string, ok bool) {
	var buf [2 * maxNumber]byte
	number, rest := plainNumber(buf[:0], cell, comma)
	v, ok = parseDecimal(string(number))
	if ok && len(rest) > 0 {
		suffix, ok = suffixOf(rest)
	}
	return v, suffix, ok
}

// plainNumber appends the number at the start of a cell as parseDecimal reads it, and
// returns what follows it. Groups of thousands that are none leave no number.
func plainNumber(into, cell []byte, comma bool) (number, rest []byte) {
	g := grouping{decimal: '.'}
	if comma {
		g.decimal = ','
	}
	for len(cell) > 0 && len(into) <= maxNumber {
		r, n := utf8.DecodeRune(cell)
		next := cell[n:]
		switch {
		case '0' <= r && r <= '9':
			into = append(into, byte(r))
			g.digits++
		case len(into) == 0 && (r == '-' || r == '+'):
			into = append(into, byte(r))
		case len(into) == 0 && r == '\u2212': // the minus sign
			into = append(into, '-')
		case r == g.decimal && !g.fraction && (startsWithDigit(next) || !comma):
			if !g.whole() {
				return nil, cell
			}
			into = append(into, '.')
			g.fraction = true
		case g.separates(r) && startsWithDigit(next):
			if g.digits > 3 || !g.whole() {
				return nil, cell
			}
			g.digits = 0
			g.groups++
		case (r == 'e' || r == 'E') && exponent(next) > 0:
			n += exponent(next)
			return append(into, cell[:min(n, maxNumber)]...), cell[n:]
		default:
			return g.checked(into), cell
		}
		cell = next
	}
	return g.checked(into), cell
}

// grouping follows the groups of a number's whole digits.
type grouping struct {
	decimal  rune
	digits   int // in the current group
	groups   int // before it
	fraction bool
}

// whole says whether the current group may end.
func (g *grouping) whole() bool { return g.fraction || g.groups == 0 || g.digits == 3 }

// separates says whether a sign may set off groups here.
func (g *grouping) separates(r rune) bool {
	if g.fraction || g.digits == 0 {
		return false
	}
	switch r {
	case '.', ',':
		return r != g.decimal
	case ' ', '\u00a0', '\u202f', '\u2009', '\'', '\u2019': // spaces and apostrophes
		return true
	}
	return false
}

func (g *grouping) checked(number []byte) []byte {
	if !g.whole() {
		return nil
	}
	return number
}

func startsWithDigit(s []byte) bool { return len(s) > 0 && isDigit(s[0]) }

// exponent returns the length of the exponent, without its letter, at the start of s.
func exponent(s []byte) int {
	n := 0
	if n < len(s) && (s[n] == '-' || s[n] == '+') {
		n++
	}
	sign := n
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	if n == sign {
		return 0
	}
	return n
}

// suffixOf returns what follows a number if it is no further number.
func suffixOf(rest []byte) (string, bool) {
	text := strings.TrimSpace(string(rest))
	for _, r := range text {
		if !unicode.IsLetter(r) && r != '%' && r != '°' && r != '.' && r != ' ' {
			return "", false
		}
	}
	return text, true
}

// isNothing tells the ways to write that a cell has no value.
func isNothing(cell []byte) bool {
	if len(cell) > 4 || len(cell) > 0 && isDigit(cell[0]) {
		return false
	}
	switch string(bytes.ToLower(cell)) {
	case "", "-", "–", "—", "n/a", "na", "nan", "null", "none", "?":
		return true
	}
	return false
}
