package api

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"

	"parcours.example/analysis"
)

// reference is what the reference page shows of the contract.
type reference struct {
	Style                         template.CSS
	Title, Version, EngineVersion string
	Description                   []template.HTML
	Operations                    []referenceCall
	Problems                      []referenceProblem
	Limits                        []referenceLimit
	Schemas                       []referenceSchema
}

type referenceCall struct {
	ID, Group, Method, Path, Summary, Example string
	Description                               []template.HTML
	Parameters                                []referenceField
	Bodies                                    []referenceBody
	Answers                                   []referenceAnswer
	Cost                                      int64 // units of a caller's quota; 0 where none is needed
}

type referenceField struct {
	Name, Type, Ref string
	Meaning         template.HTML
	Required        bool
}

type referenceBody struct{ MediaType, Schema string }

type referenceAnswer struct {
	Status  string
	Meaning template.HTML
	Bodies  []referenceBody
}

type referenceProblem struct {
	Type, Title string
	Status      int
}

type referenceLimit struct{ Name, Value string }

type referenceSchema struct {
	Name, Type  string
	Description []template.HTML
	Fields      []referenceField
}

// referenceOf gathers the page from the contract.
func referenceOf(doc *openapi3.T) reference {
	r := reference{
		Style: template.CSS(pageStyle), Title: doc.Info.Title, Version: doc.Info.Version, EngineVersion: analysis.EngineVersion,
		Description: paragraphs(doc.Info.Description), Limits: limitsOf(doc),
	}
	for _, path := range doc.Paths.InMatchingOrder() {
		for method, op := range doc.Paths.Value(path).Operations() {
			r.Operations = append(r.Operations, callOf(method, path, op))
		}
	}
	group := func(c referenceCall) int {
		return slices.IndexFunc(doc.Tags, func(tag *openapi3.Tag) bool { return tag.Name == c.Group })
	}
	slices.SortFunc(r.Operations, func(a, b referenceCall) int { // in the contract's order of tags
		return cmp.Or(cmp.Compare(group(a), group(b)), cmp.Compare(a.Path, b.Path), cmp.Compare(a.Method, b.Method))
	})
	for _, kind := range problemKinds() {
		r.Problems = append(r.Problems, referenceProblem{Type: kind.typeURI(), Title: kind.title, Status: kind.status})
	}
	for _, name := range slices.Sorted(maps.Keys(doc.Components.Schemas)) {
		r.Schemas = append(r.Schemas, schemaOf(name, doc.Components.Schemas[name].Value))
	}
	return r
}

func callOf(method, path string, op *openapi3.Operation) referenceCall {
	call := referenceCall{ID: op.OperationID, Group: op.Tags[0], Method: method, Path: path, Summary: op.Summary, Description: paragraphs(op.Description), Example: exampleOf(method, path, op)}
	call.Cost = costOf(op)
	for _, p := range op.Parameters {
		name := p.Value.Name
		if p.Value.In != openapi3.ParameterInQuery {
			name += " (" + p.Value.In + ")"
		}
		typ, _ := typeOf(p.Value.Schema)
		call.Parameters = append(call.Parameters, referenceField{Name: name, Type: typ, Meaning: inline(p.Value.Description)})
	}
	if op.RequestBody != nil {
		call.Bodies = referenceBodies(op.RequestBody.Value.Content)
	}
	for _, status := range slices.Sorted(maps.Keys(op.Responses.Map())) {
		answer := op.Responses.Map()[status].Value
		call.Answers = append(call.Answers, referenceAnswer{Status: status, Meaning: inline(*answer.Description), Bodies: referenceBodies(answer.Content)})
	}
	return call
}

// exampleOf writes the call's first exchange as a command line.
func exampleOf(method, path string, op *openapi3.Operation) string {
	exchanges, _ := op.Extensions["x-exchanges"].([]any)
	for _, each := range exchanges {
		exchange, _ := each.(map[string]any)
		if show, _ := exchange["show"].(bool); !show {
			continue
		}
		url := fmt.Sprint("http://localhost:8080", path)
		if query, ok := exchange["query"].(string); ok && query != "" {
			url += "?" + query
		}
		command := "curl -X " + method + " '" + url + "'"
		if file, ok := exchange["body_file"].(string); ok {
			return command + " --data-binary @" + file
		}
		if body, ok := exchange["body"].(string); ok {
			return command + " \\\n  -H 'Content-Type: application/json' -d '" + strings.TrimSpace(body) + "'"
		}
		return command
	}
	return ""
}

func referenceBodies(content openapi3.Content) []referenceBody {
	var bodies []referenceBody
	for _, mediaType := range slices.Sorted(maps.Keys(content)) {
		b := referenceBody{MediaType: mediaType}
		if schema := content[mediaType].Schema; schema != nil && isObject(schema.Value) {
			b.Schema = refName(schema.Ref)
		}
		bodies = append(bodies, b)
	}
	return bodies
}

func schemaOf(name string, s *openapi3.Schema) referenceSchema {
	typ, _ := typeOf(&openapi3.SchemaRef{Value: s})
	out := referenceSchema{Name: name, Type: typ, Description: paragraphs(s.Description)}
	fields, required := membersOf(s)
	for _, field := range slices.Sorted(maps.Keys(fields)) {
		ref := fields[field]
		typ, target := typeOf(ref)
		out.Fields = append(out.Fields, referenceField{
			Name: field, Type: typ, Ref: target, Meaning: inline(ref.Value.Description), Required: slices.Contains(required, field),
		})
	}
	return out
}

// membersOf returns an object's properties and the required ones among them, those of
// all that it is made of together.
func membersOf(s *openapi3.Schema) (properties openapi3.Schemas, required []string) {
	properties, required = maps.Clone(s.Properties), slices.Clone(s.Required)
	for _, part := range s.AllOf {
		more, always := membersOf(part.Value)
		if properties == nil {
			properties = openapi3.Schemas{}
		}
		maps.Copy(properties, more)
		required = append(required, always...)
	}
	return properties, required
}

// isObject reports whether a schema has properties, its own or those of its parts.
func isObject(s *openapi3.Schema) bool { return len(s.Properties) > 0 || len(s.AllOf) > 0 }

// typeOf says what values a schema takes, and which named schema it is or lists.
func typeOf(ref *openapi3.SchemaRef) (text, target string) {
	s := ref.Value
	if name := refName(ref.Ref); name != "" && isObject(s) {
		return name, name
	}
	switch {
	case s.Type.Is("array"):
		item, target := typeOf(s.Items)
		return "list of " + item, target
	case len(s.Enum) > 0:
		values := make([]string, len(s.Enum))
		for i, v := range s.Enum {
			values[i] = fmt.Sprint(v)
		}
		text = strings.Join(values, " | ")
	default:
		text = strings.Join(s.Type.Slice(), "")
	}
	return text + rangeOf(s), ""
}

// rangeOf writes a schema's bounds and default.
func rangeOf(s *openapi3.Schema) string {
	text := ""
	number := func(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }
	switch {
	case s.Min != nil && s.Max != nil:
		text = " " + number(*s.Min) + " … " + number(*s.Max)
	case s.Min != nil:
		text = " from " + number(*s.Min)
	}
	if s.Default != nil {
		text += fmt.Sprint(", default ", s.Default)
	}
	return text
}

// refName is the last segment of a reference.
func refName(ref string) string { return ref[strings.LastIndexByte(ref, '/')+1:] }

// paragraphs splits a description at empty lines.
func paragraphs(text string) []template.HTML {
	var out []template.HTML
	for _, p := range strings.Split(text, "\n\n") {
		if p = strings.Join(strings.Fields(p), " "); p != "" {
			out = append(out, inline(p))
		}
	}
	return out
}

// marks are the marks of code and emphasis in escaped text.
var (
	codeMark   = regexp.MustCompile("`([^`]*)`")
	strongMark = regexp.MustCompile(`\*\*([^*]*)\*\*`)
)

// inline escapes a text of the contract and turns its marks into elements.
func inline(text string) template.HTML {
	html := codeMark.ReplaceAllString(template.HTMLEscapeString(text), "<code>$1</code>")
	return template.HTML(strongMark.ReplaceAllString(html, "<strong>$1</strong>")) //nolint:gosec // escaped, from the contract
}

// limitsOf reads the contract's x-limits.
func limitsOf(doc *openapi3.T) []referenceLimit {
	limits, _ := doc.Extensions["x-limits"].(map[string]any)
	var out []referenceLimit
	for _, name := range slices.Sorted(maps.Keys(limits)) {
		value, _ := limits[name].(float64)
		out = append(out, referenceLimit{Name: name, Value: strconv.FormatFloat(value, 'f', -1, 64)})
	}
	return out
}
