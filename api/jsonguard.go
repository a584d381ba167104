package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"strings"

	"parcours.example/api/contract"
)

// maxJSONDepth bounds the nesting of a request. The contract's x-limits say so.
const maxJSONDepth = 32

// frame is an object or an array that the guard is inside of.
type frame struct {
	object bool
	// keys seen so far, the last of them, and the count of elements.
	keys  map[string]struct{}
	key   string
	index int
	// wantKey holds in an object in front of a key.
	wantKey bool
}

// guardJSON checks what a schema can't see and what decoders let pass: that the
// body is exactly one JSON value, no deeper than maxJSONDepth, without a name twice
// in one object. It runs before any schema, so that hostile nesting never reaches
// one.
func guardJSON(body []byte) *problem {
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.UseNumber()
	var stack []frame
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) && len(stack) == 0 && len(bytes.TrimSpace(body)) > 0 {
			return nil
		}
		if err != nil {
			return malformedJSON(stack, jsonFault(err, body, dec.InputOffset()), "syntax")
		}
		if p := guardToken(&stack, token); p != nil {
			return p
		}
		if len(stack) == 0 {
			return guardEnd(body[dec.InputOffset():])
		}
	}
}

// guardEnd refuses anything but white space after the value.
func guardEnd(rest []byte) *problem {
	if len(bytes.TrimLeft(rest, " \t\r\n")) > 0 {
		return malformedJSON(nil, "there is data after the JSON value", "trailing-data")
	}
	return nil
}

// guardToken follows the decoder by one token.
func guardToken(stack *[]frame, token json.Token) *problem {
	top := len(*stack) - 1
	if top >= 0 && (*stack)[top].wantKey {
		if key, ok := token.(string); ok {
			return guardKey(*stack, key)
		}
	}
	switch token {
	case json.Delim('{'), json.Delim('['):
		if len(*stack) == maxJSONDepth {
			return malformedJSON(*stack, "the JSON nests deeper than "+strconv.Itoa(maxJSONDepth)+" levels", "too-deep")
		}
		object := token == json.Delim('{')
		*stack = append(*stack, frame{object: object, wantKey: object})
		return nil
	case json.Delim('}'), json.Delim(']'):
		*stack = (*stack)[:top]
	}
	if top = len(*stack) - 1; top >= 0 { // a value has ended
		(*stack)[top].index++
		(*stack)[top].wantKey = (*stack)[top].object
	}
	return nil
}

// guardKey takes a name of the innermost object.
func guardKey(stack []frame, key string) *problem {
	f := &stack[len(stack)-1]
	if _, twice := f.keys[key]; twice {
		f.key = key
		return malformedJSON(stack, "the name stands twice in one object", "duplicate-name")
	}
	if f.keys == nil {
		f.keys = make(map[string]struct{})
	}
	f.keys[key] = struct{}{}
	f.key, f.wantKey = key, false
	return nil
}

// malformedJSON is the problem at the guard's place.
func malformedJSON(stack []frame, detail, code string) *problem {
	fault := contract.Fault{Detail: detail, Code: code, Pointer: optional(stackPointer(stack))}
	return &problem{kind: kindMalformedRequest, detail: "The JSON can't be read: " + detail + ".", faults: []contract.Fault{fault}}
}

// stackPointer is the pointer to the value that the guard is about to read.
func stackPointer(stack []frame) string {
	segments := make([]string, 0, len(stack))
	for _, f := range stack {
		switch {
		case !f.object:
			segments = append(segments, strconv.Itoa(f.index))
		case f.key != "":
			segments = append(segments, f.key)
		}
	}
	return pointer(segments)
}

// pointer writes an RFC 6901 pointer in fragment form, each segment cut at 100
// characters.
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

// jsonFault says what broke the syntax and on which line.
func jsonFault(err error, body []byte, offset int64) string {
	var syntax *json.SyntaxError
	detail := "it breaks off"
	if errors.As(err, &syntax) {
		detail, offset = syntax.Error(), syntax.Offset
	}
	offset = min(max(offset, 0), int64(len(body)))
	return detail + " (line " + strconv.Itoa(1+bytes.Count(body[:offset], []byte("\n"))) + ")"
}
