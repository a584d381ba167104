package track

import (
	"bytes"
	"encoding/json"
	"fmt"
	"unicode/utf8"
)

// jsonText reads JSON (RFC 8259) from a file's text value by value, as a scanner
// does: after the first error nothing more is read, and err says what and where.
type jsonText struct {
	data   []byte
	pos    int
	limits Limits
	err    error
	// abandoned says why nobody waits for the file any more; nil while somebody does.
	abandoned func() error

	depth    int // objects and arrays around pos
	elements int // objects and arrays so far
}

// lineNumber returns the 1-based line at pos.
func (j *jsonText) lineNumber() int { return 1 + bytes.Count(j.data[:j.pos], []byte("\n")) }

// fail stops the reading with an error at pos, unless there is one already.
func (j *jsonText) fail(e Error) {
	if j.err == nil {
		e.Line = j.lineNumber()
		j.err = &e
		j.pos = len(j.data)
	}
}

// malformed stops the reading because what stands at pos is not JSON.
func (j *jsonText) malformed(expected string) {
	if j.pos >= len(j.data) {
		j.fail(Error{Code: CodeMalformed, Detail: "The file breaks off here, before it is complete; export it or send it again."})
		return
	}
	r, _ := utf8.DecodeRune(j.data[j.pos:])
	j.fail(Error{Code: CodeMalformed, Detail: fmt.Sprintf(
		"The file is not well-formed JSON here: there is %q where %s must stand; mend this line or export the file again.", r, expected)})
}

// peek returns the next byte that is not white space, 0 at the end.
func (j *jsonText) peek() byte {
	for ; j.pos < len(j.data); j.pos++ {
		switch c := j.data[j.pos]; c {
		case ' ', '\t', '\r', '\n':
		default:
			return c
		}
	}
	return 0
}

// take reads the byte c if it comes next.
func (j *jsonText) take(c byte) bool {
	if j.peek() != c || j.pos >= len(j.data) {
		return false
	}
	j.pos++
	return true
}

// open reads the start of an object or an array and counts it.
func (j *jsonText) open(c byte) bool {
	if !j.take(c) {
		return false
	}
	j.depth++
	j.elements++
	switch {
	case j.depth > j.limits.Depth:
		j.tooMany("levels of objects and lists inside each other", "export it without what is not the course", j.limits.Depth, j.depth)
	case j.elements > j.limits.Elements:
		j.tooMany("objects and lists", "export it without what is not the course", j.limits.Elements, j.elements)
	}
	j.look()
	return j.err == nil
}

// look stops the reading once nobody waits for the file any more.
func (j *jsonText) look() {
	if j.elements%checkEvery != 0 || j.err != nil {
		return
	}
	if err := j.abandoned(); err != nil {
		j.err, j.pos = err, len(j.data)
	}
}

func (j *jsonText) tooMany(what, advice string, limit, actual int) {
	j.fail(Error{Code: CodeTooMany, Limit: limit, Actual: actual, Detail: fmt.Sprintf(
		"The file has %d %s, at most %d can be read; %s.", actual, what, limit, advice)})
}

// next reads what stands between the values of an object or array that ends with c,
// and reports whether there is another value.
func (j *jsonText) next(c byte, first bool) bool {
	switch {
	case j.err != nil:
		return false
	case j.take(c):
		j.depth--
		return false
	case first || j.take(','):
		return true
	}
	j.malformed(fmt.Sprintf("a comma or %q", rune(c)))
	return false
}

// object reads an object. The function is called at each member's value and must
// read it.
func (j *jsonText) object(member func(key string)) {
	if !j.open('{') {
		j.malformed(`"{"`)
		return
	}
	for first := true; j.next('}', first); first = false {
		key := j.text()
		if !j.take(':') {
			j.malformed("a colon")
			return
		}
		member(key)
	}
}

// array reads an array. The function is called at each value and must read it.
func (j *jsonText) array(value func()) {
	if !j.open('[') {
		j.malformed(`"["`)
		return
	}
	for first := true; j.next(']', first); first = false {
		value()
	}
}

// text reads a string.
func (j *jsonText) text() string {
	raw := j.rawText()
	if !bytes.ContainsAny(raw, "\\\n") {
		return string(raw[min(1, len(raw)):max(1, len(raw)-1)])
	}
	var s string
	if json.Unmarshal(raw, &s) != nil {
		j.fail(Error{Code: CodeMalformed, Detail: "A text before here is not well-formed JSON: it has a wrong escape or runs over the end of its line."})
	}
	return s
}

// rawText reads a string and returns it as it stands in the file, with its
// quotation marks.
func (j *jsonText) rawText() []byte {
	if j.peek() != '"' {
		j.malformed("a text in quotation marks")
		return []byte(`""`)
	}
	start := j.pos
	for j.pos++; j.pos < len(j.data); j.pos++ {
		switch j.data[j.pos] {
		case '\\':
			j.pos++
		case '"':
			j.pos++
			return j.data[start:j.pos]
		}
	}
	j.pos = len(j.data)
	j.malformed("a quotation mark")
	return []byte(`""`)
}

// word reads a number or one of true, false, null, and what else is written without
// quotation marks.
func (j *jsonText) word() []byte {
	j.peek()
	start := j.pos
	for ; j.pos < len(j.data); j.pos++ {
		c := j.data[j.pos]
		if (c < '0' || c > '9') && (c < 'a' || c > 'z') && (c < 'A' || c > 'Z') && c != '-' && c != '+' && c != '.' && c != '_' {
			break
		}
	}
	if j.pos == start {
		j.malformed("a value")
	}
	return j.data[start:j.pos]
}

// startsNumber tells what a number starts with; the point and the plus are not JSON, but
// leave no doubt.
func startsNumber(c byte) bool { return c == '-' || c == '+' || c == '.' || '0' <= c && c <= '9' }

// scalar reads a value and returns a text's content or a number as it is written;
// empty for any other.
func (j *jsonText) scalar() string {
	switch c := j.peek(); {
	case c == '"':
		return j.text()
	case startsNumber(c):
		return string(j.word())
	}
	j.skip()
	return ""
}

// skip reads over a value.
func (j *jsonText) skip() {
	switch j.peek() {
	case '{':
		j.object(func(string) { j.skip() })
	case '[':
		j.array(j.skip)
	case '"':
		j.rawText()
	default:
		j.plain()
	}
}

// plain reads over a number or one of true, false, null; NaN and infinities are not
// JSON, but widely written.
func (j *jsonText) plain() {
	start := j.pos
	w := j.word()
	if _, ok := parseDecimal(string(w)); ok {
		return
	}
	switch string(w) {
	case "true", "false", "null", "NaN", "Infinity", "-Infinity":
	default:
		if j.err == nil {
			j.pos = start
		}
		j.malformed("a value")
	}
}
