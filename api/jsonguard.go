package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"strconv"
	"strings"
	"unicode/utf8"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// guardJSON checks what a schema can't see and what decoders let pass: that the
// body is exactly one JSON value in UTF-8, no deeper than engine.MostJSONDepth, without a
// name twice in one object, or more or longer names than the limits. It runs before any
// schema, so that hostile nesting never reaches one. It returns what it saw: the lists that
// are too long to be looked at item by item, and how many values there are beside them.
func guardJSON(body []byte) (*jsonScan, *problem) {
	if !utf8.Valid(body) {
		return nil, malformedJSON(nil, "it isn't in UTF-8", "not-utf8")
	}
	end := len(body)
	var syntax *json.SyntaxError
	err := json.Unmarshal(body, new(json.RawMessage))
	if errors.As(err, &syntax) {
		end = min(max(int(syntax.Offset)-1, 0), end)
	}
	var s jsonScan
	if p := s.scan(body[:end]); p != nil { // stands before the syntax error
		return nil, p
	}
	if err != nil {
		return nil, s.syntaxProblem(err, body[:end])
	}
	return &s, nil
}

// syntaxProblem says what broke the syntax, on which line and in which value.
func (s *jsonScan) syntaxProblem(err error, before []byte) *problem {
	detail, code := err.Error(), "syntax"
	switch {
	case strings.HasSuffix(detail, "after top-level value"):
		detail, code = "there is data after the JSON value", "trailing-data"
	case strings.HasPrefix(detail, "unexpected end"):
		detail = "it breaks off"
	}
	line := 1 + bytes.Count(before, []byte("\n"))
	return malformedJSON(s.stack, detail+" (line "+strconv.Itoa(line)+")", code)
}

// frame is an object or an array that the scan is inside of.
type frame struct {
	object bool
	// keys are those seen so far, all of them in many once they are many; key is the
	// last of them.
	keys []string
	many map[string]bool
	key  string
	// names counts them.
	names int
	// index counts the commas.
	index int
	// wantKey holds in an object in front of a key.
	wantKey bool
	// tail is where an array's item of number maxItemsSeen begins, 0 before it.
	tail int
}

// jsonScan walks over JSON whose syntax is known to be right.
type jsonScan struct {
	stack []frame
	long  []longList
	// inTail counts the arrays around the place whose tail has begun.
	inTail int
	// values counts, roughly, those outside the tails.
	values int
}

// scan walks over the bytes; it stops at the first fault.
func (s *jsonScan) scan(body []byte) *problem {
	for i := 0; i < len(body); i++ {
		switch body[i] {
		case '"':
			end := stringEnd(body, i)
			if top := s.top(); top != nil && top.wantKey && end <= len(body) {
				if p := s.name(top, body[i:end]); p != nil {
					return p
				}
			}
			i = end - 1
		case '{', '[':
			if len(s.stack) == engine.MostJSONDepth {
				return malformedJSON(s.stack, "the JSON nests deeper than "+strconv.Itoa(engine.MostJSONDepth)+" levels", "too-deep")
			}
			s.push(body[i] == '{')
		case '}', ']':
			s.pop(i)
		case ',':
			if top := s.top(); top != nil {
				s.comma(top, i)
			}
		}
	}
	return nil
}

// name takes a quoted name of the innermost object.
func (s *jsonScan) name(top *frame, quoted []byte) *problem {
	if len(quoted)-2 > engine.MostJSONNameBytes {
		return malformedJSON(s.stack, "a name is longer than "+strconv.Itoa(engine.MostJSONNameBytes)+" bytes", "name-too-long")
	}
	if top.names++; top.names > engine.MostJSONNames {
		return malformedJSON(s.stack[:len(s.stack)-1], "an object has more than "+strconv.Itoa(engine.MostJSONNames)+" names", "too-many-names")
	}
	if !top.take(unquoted(quoted)) {
		return malformedJSON(s.stack, "the name stands twice in one object", "duplicate-name")
	}
	return nil
}

// top returns the innermost frame, nil outside all.
func (s *jsonScan) top() *frame {
	if len(s.stack) == 0 {
		return nil
	}
	return &s.stack[len(s.stack)-1]
}

// push enters an object or an array; it uses the memory of the one before again.
func (s *jsonScan) push(object bool) {
	if s.inTail == 0 {
		s.values++
	}
	var keys []string
	if n := len(s.stack); n < cap(s.stack) {
		keys = s.stack[: n+1 : cap(s.stack)][n].keys[:0]
	}
	s.stack = append(s.stack, frame{object: object, wantKey: object, keys: keys})
}

// pop leaves the innermost frame at position i.
func (s *jsonScan) pop(i int) {
	top := s.top()
	if top == nil {
		return
	}
	if top.tail > 0 {
		s.inTail--
		if s.inTail == 0 {
			s.long = append(s.long, longList{
				segments: stackSegments(s.stack[:len(s.stack)-1]), count: top.index + 1, tail: top.tail, end: i,
			})
		}
	}
	s.stack = s.stack[:len(s.stack)-1]
}

// comma ends an element at position i.
func (s *jsonScan) comma(top *frame, i int) {
	if s.inTail == 0 {
		s.values++
	}
	top.index++
	top.wantKey = top.object
	if !top.object && top.index == maxItemsSeen {
		top.tail = i
		s.inTail++
	}
}

// take notes a name of an object; false where it has been there before.
func (f *frame) take(key string) bool {
	const few = 16
	f.key, f.wantKey = key, false
	for _, k := range f.keys[:min(len(f.keys), few)] {
		if k == key {
			return false
		}
	}
	if len(f.keys) < few {
		f.keys = append(f.keys, key)
		return true
	}
	if f.many == nil {
		f.many = map[string]bool{}
	}
	known := f.many[key]
	f.many[key] = true
	return !known
}

// stringEnd returns the position after the string that begins at i.
func stringEnd(body []byte, i int) int {
	for i++; i < len(body); i++ {
		switch body[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return len(body) + 1
}

// unquoted returns what a JSON string stands for.
func unquoted(raw []byte) string {
	if bytes.IndexByte(raw, '\\') < 0 {
		return string(raw[1 : len(raw)-1])
	}
	var s string
	if err := json.Unmarshal(raw, &s); err != nil { // the syntax is right
		return string(raw)
	}
	return s
}

// malformedJSON is the problem at the scan's place.
func malformedJSON(stack []frame, detail, code string) *problem {
	fault := contract.Fault{Detail: detail, Code: code, Pointer: optional(pointer(stackSegments(stack)))}
	return &problem{kind: kindMalformedRequest, detail: "The JSON can't be read: " + detail + ".", faults: []contract.Fault{fault}}
}

// stackSegments leads to the value that the scan is in or about to read.
func stackSegments(stack []frame) []string {
	segments := make([]string, 0, len(stack))
	for _, f := range stack {
		switch {
		case !f.object:
			segments = append(segments, strconv.Itoa(f.index))
		case f.key != "":
			segments = append(segments, f.key)
		}
	}
	return segments
}

// pointer writes an RFC 6901 pointer in fragment form, each segment cut at about
// 100 bytes.
func pointer(segments []string) string {
	var b strings.Builder
	b.WriteByte('#')
	for _, s := range segments {
		if len(s) > 100 {
			s = s[:100]
		}
		b.WriteByte('/')
		b.WriteString(strings.NewReplacer("~", "~0", "/", "~1").Replace(strings.ToValidUTF8(s, "\uFFFD")))
	}
	return b.String()
}
