package api

import (
	"bytes"
	"slices"
	"strconv"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// maxItemsSeen is how many items of a list the general validator gets to see; it
// takes too long and too much memory over more. It is above every limit in the
// contract but those of the few long lists, of which the rest is checked here, by
// the same schema.
const maxItemsSeen = 300

// longList is an array in a JSON body with more than maxItemsSeen items.
type longList struct {
	segments []string
	count    int
	// tail is the position of the comma in front of the rest, end that of the
	// closing bracket.
	tail, end int
}

// shortened returns the body without the rests of its long lists.
func shortened(body []byte, long []longList) []byte {
	if len(long) == 0 {
		return body
	}
	var out []byte
	from := 0
	for _, l := range long {
		out = append(out, body[from:l.tail]...)
		from = l.end
	}
	return append(out, body[from:]...)
}

// checkCounts holds the lengths of long lists against the schema of the body.
func checkCounts(schema *openapi3.Schema, long []longList) *problem {
	for _, l := range long {
		list := schemaAt(schema, l.segments)
		if list == nil || list.MaxItems == nil || uint64(l.count) <= *list.MaxItems {
			continue
		}
		limit, actual := float64(*list.MaxItems), float64(l.count)
		return &problem{
			kind: kindTooMany, limit: &limit, actual: &actual, detail: "A list is longer than its limit; see errors.",
			faults: []contract.Fault{{Pointer: optional(pointer(l.segments)), Code: "too-many", Detail: "maximum number of items is " + strconv.FormatUint(*list.MaxItems, 10)}},
		}
	}
	return nil
}

// checkTails holds the rests of long lists against their schemas.
func checkTails(schema *openapi3.Schema, body []byte, long []longList) []contract.Fault {
	var check flatCheck
	for _, l := range long {
		list := schemaAt(schema, l.segments)
		if list == nil || list.Items == nil {
			continue // an unknown list, which the general validator refuses
		}
		check.at = append(l.segments[:len(l.segments):len(l.segments)], "")
		index := maxItemsSeen
		for raw := range items(body[l.tail+1 : l.end]) {
			check.at[len(l.segments)] = strconv.Itoa(index)
			check.value(list.Items.Value, raw)
			index++
			if len(check.faults) > engine.MostFaults {
				return check.faults
			}
		}
	}
	return check.faults
}

// schemaAt follows a pointer, through objects by their names and through the items of lists,
// into a schema; nil where it leads nowhere.
func schemaAt(s *openapi3.Schema, segments []string) *openapi3.Schema {
	for _, name := range segments {
		if s.Items != nil {
			s = s.Items.Value
			continue
		}
		property, known := s.Properties[name]
		if !known {
			return nil
		}
		s = property.Value
	}
	return s
}

// flatCheck holds numbers, strings and objects of these against their schemas. The
// codes of its faults are those of the general validator.
type flatCheck struct {
	at     []string
	faults []contract.Fault
}

func (c *flatCheck) fault(code, detail string, name ...string) {
	at := append(c.at[:len(c.at):len(c.at)], name...)
	c.faults = append(c.faults, contract.Fault{Pointer: optional(pointer(at)), Code: code, Detail: detail})
}

// value checks one value.
func (c *flatCheck) value(s *openapi3.Schema, raw []byte, name ...string) {
	switch {
	case s.Type.Is("number"):
		c.number(s, raw, name...)
	case s.Type.Is("string"):
		if raw[0] != '"' {
			c.fault("wrong-type", "value must be a string", name...)
		} else if s.MaxLength != nil && uint64(utf8.RuneCountInString(unquoted(raw))) > *s.MaxLength {
			c.fault("too-long", "maximum string length is "+strconv.FormatUint(*s.MaxLength, 10), name...)
		}
	case s.Type.Is("object"):
		c.object(s, raw)
	}
}

func (c *flatCheck) number(s *openapi3.Schema, raw []byte, name ...string) {
	if raw[0] != '-' && (raw[0] < '0' || raw[0] > '9') {
		c.fault("wrong-type", "value must be a number", name...)
		return
	}
	x, err := strconv.ParseFloat(string(raw), 64)
	switch {
	case err != nil:
		c.fault("out-of-range", "the number is too large", name...)
	case s.Min != nil && x < *s.Min:
		c.fault("out-of-range", "number must be at least "+strconv.FormatFloat(*s.Min, 'g', -1, 64), name...)
	case s.Max != nil && x > *s.Max:
		c.fault("out-of-range", "number must be at most "+strconv.FormatFloat(*s.Max, 'g', -1, 64), name...)
	}
}

func (c *flatCheck) object(s *openapi3.Schema, raw []byte) {
	if raw[0] != '{' {
		c.fault("wrong-type", "value must be an object")
		return
	}
	var names []string
	for member := range items(raw[1 : len(raw)-1]) {
		end := stringEnd(member, 0)
		name := unquoted(member[:end])
		property, known := s.Properties[name]
		if !known {
			c.fault("unknown", "there is no such property", name)
			continue
		}
		names = append(names, name)
		_, value, _ := bytes.Cut(member[end:], []byte(":"))
		c.value(property.Value, bytes.TrimSpace(value), name)
	}
	for _, name := range s.Required {
		if !slices.Contains(names, name) {
			c.fault("missing", "the property is missing", name)
		}
	}
}

// items yields the elements of an array or the members of an object, given without
// its brackets, without the white space around them.
func items(inside []byte) func(yield func([]byte) bool) {
	return func(yield func([]byte) bool) {
		depth, start := 0, 0
		for i := 0; i < len(inside); i++ {
			switch inside[i] {
			case '"':
				i = stringEnd(inside, i) - 1
			case '{', '[':
				depth++
			case '}', ']':
				depth--
			case ',':
				if depth == 0 {
					if !yield(bytes.TrimSpace(inside[start:i])) {
						return
					}
					start = i + 1
				}
			}
		}
		if rest := bytes.TrimSpace(inside[start:]); len(rest) > 0 {
			yield(rest)
		}
	}
}
