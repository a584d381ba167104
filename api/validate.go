package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"maps"
	"net/http"
	"net/url"
	"reflect"
	"regexp"
	"slices"
	"sort"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/gin-gonic/gin"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// validator holds requests against the contract.
type validator struct {
	router routers.Router
	paths  *openapi3.Paths
}

// validate is the middleware. Raw route files are checked by their readers; of
// them only the media type and the parameters are checked here.
func (v *validator) validate(c *gin.Context) {
	defer step(c, "validate")()
	route, params, err := v.router.FindRoute(c.Request)
	if err != nil { // what gin takes for a route and the contract doesn't
		writeProblem(c, v.unrouted(c.Request.URL.Path))
		return
	}
	if p := checkParameters(route, c.Request); p != nil {
		writeProblem(c, p)
		return
	}
	input := &openapi3filter.RequestValidationInput{
		Request: c.Request, PathParams: params, Route: route,
		Options: &openapi3filter.Options{
			MultiError: true, ExcludeRequestBody: true, SkipSettingDefaults: true,
			AuthenticationFunc:      openapi3filter.NoopAuthenticationFunc, // the gate has seen to keys
			SchemaValidationOptions: []openapi3.SchemaValidationOption{openapi3.DisableSchemaErrorDetails()},
		},
	}
	check := checkRequest
	if route.Operation.RequestBody != nil && mediaType(c.Request) == jsonMediaType { // others don't look at a body
		check = checkJSONRequest
	}
	if p := check(input, requestBody(c)); p != nil {
		writeProblem(c, p)
	}
}

// unrouted is the problem of a path that the contract doesn't have, or not with this
// method, like a GET of a path that one with a variable covers as well.
func (v *validator) unrouted(path string) *problem {
	item := v.paths.Value(path)
	if item == nil {
		return notFound()
	}
	return methodNotAllowed(strings.Join(slices.Sorted(maps.Keys(item.Operations())), ", "))
}

// checkRequest holds everything but the body against the contract.
func checkRequest(input *openapi3filter.RequestValidationInput, _ []byte) *problem {
	bodiless := *input.Request
	bodiless.Body = http.NoBody // where a call names keys the validator reads all of it, whatever it is told
	input.Request = &bodiless
	if err := openapi3filter.ValidateRequest(input.Request.Context(), input); err != nil {
		return contractProblem(err, nil)
	}
	return nil
}

// checkJSONRequest holds a request with a JSON body against the contract.
func checkJSONRequest(input *openapi3filter.RequestValidationInput, body []byte) *problem {
	seen, p := guardJSON(body)
	if p != nil {
		return p
	}
	long := seen.long
	schema := input.Route.Operation.RequestBody.Value.Content.Get(jsonMediaType).Schema.Value
	if p := checkCounts(schema, long); p != nil {
		return p
	}
	input.Options.ExcludeRequestBody = false
	input.Options.MultiError = seen.values <= engine.MostJSONValues // or there may be a million faults
	input.Request.Body = io.NopCloser(bytes.NewReader(shortened(body, long)))
	err := openapi3filter.ValidateRequest(input.Request.Context(), input)
	rest := checkTails(schema, body, long)
	if err == nil && rest == nil {
		return nil
	}
	p = contractProblem(err, rest)
	if !input.Options.MultiError {
		p.detail += " Of a request as large as this not all faults are looked for."
	}
	return p
}

// bodyCheck holds JSON that is part of a body against its schema.
type bodyCheck struct{ schema *openapi3.Schema }

func (b bodyCheck) check(body []byte) *problem {
	seen, p := guardJSON(body)
	if p != nil {
		return p
	}
	if p := checkCounts(b.schema, seen.long); p != nil {
		return p
	}
	var value any
	err := json.Unmarshal(shortened(body, seen.long), &value)
	if err == nil {
		options := []openapi3.SchemaValidationOption{openapi3.VisitAsRequest(), openapi3.DisableSchemaErrorDetails()}
		if seen.values <= engine.MostJSONValues {
			options = append(options, openapi3.MultiErrors())
		}
		err = b.schema.VisitJSON(value, options...)
	}
	rest := checkTails(b.schema, body, seen.long)
	if err == nil && rest == nil {
		return nil
	}
	return contractProblem(err, rest)
}

// checkParameters refuses query parameters that the contract doesn't have and
// single-valued ones that are given twice.
func checkParameters(route *routers.Route, r *http.Request) *problem {
	declared := map[string]bool{} // to whether it may be repeated
	for _, p := range route.Operation.Parameters {
		if p.Value.In == openapi3.ParameterInQuery {
			declared[p.Value.Name] = p.Value.Explode != nil && *p.Value.Explode && p.Value.Schema.Value.Type.Is("array")
		}
	}
	query, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return &problem{kind: kindMalformedRequest, detail: "The query can't be read; check its percent-encoding."}
	}
	var faults []contract.Fault
	for name, values := range query {
		repeatable, known := declared[name]
		shown := clip(name) // a name may be empty, and is named all the same
		switch {
		case !known:
			faults = append(faults, contract.Fault{Parameter: &shown, Code: "unknown", Detail: "this call has no such parameter"})
		case len(values) > 1 && !repeatable:
			faults = append(faults, contract.Fault{Parameter: &shown, Code: "repeated", Detail: "the parameter is given more than once"})
		}
	}
	if faults == nil {
		return nil
	}
	sort.Slice(faults, func(i, j int) bool { return *faults[i].Parameter < *faults[j].Parameter })
	return &problem{kind: kindInvalidRequest, detail: "The query doesn't fit the contract; see errors.", faults: faults}
}

// contractProblem turns the validator's findings, and what was found beside it, into
// a problem. Where nothing but lengths of lists is wrong, it is one of counts.
func contractProblem(err error, more []contract.Fault) *problem {
	p := &problem{kind: kindTooMany, detail: "A list is longer than its limit; see errors."}
	if err != nil {
		collectFaults(p, err, "")
	}
	p.faults = append(p.faults, more...)
	if p.limit == nil || slices.ContainsFunc(p.faults, func(f contract.Fault) bool { return f.Code != "too-many" }) {
		p.kind, p.limit, p.actual = kindInvalidRequest, nil, nil
		p.detail = "The request doesn't fit the contract; see errors."
	}
	return p
}

// collectFaults walks the tree of errors, depth first, until the problem is full.
func collectFaults(p *problem, err error, parameter string) {
	if len(p.faults) > engine.MostFaults {
		return
	}
	var (
		many    openapi3.MultiError
		request *openapi3filter.RequestError
		schema  *openapi3.SchemaError
		parse   *openapi3filter.ParseError
	)
	switch {
	case errors.As(err, &many) && isType[openapi3.MultiError](err):
		for _, each := range many {
			collectFaults(p, each, parameter)
		}
	case isType[*openapi3filter.RequestError](err) && errors.As(err, &request):
		if request.Parameter != nil {
			parameter = request.Parameter.Name
		}
		if request.Err == nil {
			p.faults = append(p.faults, contract.Fault{Parameter: optional(parameter), Code: "invalid", Detail: clip(request.Reason)})
			return
		}
		collectFaults(p, request.Err, parameter)
	case isType[*openapi3.SchemaError](err) && errors.As(err, &schema):
		addSchemaFault(p, schema, parameter)
	case errors.As(err, &parse):
		p.faults = append(p.faults, contract.Fault{Parameter: optional(parameter), Code: "wrong-type", Detail: clip(firstLine(parse.Reason))})
	default:
		p.faults = append(p.faults, contract.Fault{Parameter: optional(parameter), Code: "invalid", Detail: clip(firstLine(err.Error()))})
	}
}

// isType reports whether err itself, not something that it wraps, is a T.
func isType[T error](err error) bool {
	_, ok := err.(T) //nolint:errorlint // the outermost type is what is asked
	return ok
}

// quotedName finds the property that a reason is about.
var quotedName = regexp.MustCompile(`property "((?:[^"\\]|\\.)*)"`)

// schemaCodes gives the stable code for a failed keyword of a schema.
var schemaCodes = map[string]string{
	"nullable": "wrong-type", "required": "missing", "properties": "unknown", "additionalProperties": "unknown", "type": "wrong-type",
	"minimum": "out-of-range", "maximum": "out-of-range", "enum": "not-allowed", "pattern": "bad-format", "format": "bad-format",
	"minLength": "too-short", "maxLength": "too-long", "minItems": "too-few", "minProperties": "too-few", "maxItems": "too-many", "uniqueItems": "repeated",
}

// addSchemaFault adds one failed keyword.
func addSchemaFault(p *problem, e *openapi3.SchemaError, parameter string) {
	segments := e.JSONPointer()
	if m := quotedName.FindStringSubmatch(e.Reason); m != nil && (len(segments) == 0 || segments[len(segments)-1] != m[1]) {
		segments = append(segments[:len(segments):len(segments)], m[1])
	}
	code, known := schemaCodes[e.SchemaField]
	if !known {
		code = "invalid"
	}
	fault := contract.Fault{Code: code, Detail: clip(firstLine(e.Reason))}
	if parameter != "" {
		fault.Parameter = optional(parameter)
	} else {
		fault.Pointer = optional(pointer(segments))
	}
	p.faults = append(p.faults, fault)
	if e.SchemaField == "maxItems" && p.limit == nil && e.Schema.MaxItems != nil {
		limit, actual := float64(*e.Schema.MaxItems), float64(lengthOf(e.Value))
		p.limit, p.actual = &limit, &actual
	}
}

// lengthOf returns the length of a list of any kind.
func lengthOf(v any) int {
	if r := reflect.ValueOf(v); r.Kind() == reflect.Slice {
		return r.Len()
	}
	return 0
}

// clip bounds text that comes from the request or a library.
func clip(s string) string {
	const most = 300
	if len(s) <= most {
		return strings.ToValidUTF8(s, "\uFFFD")
	}
	return strings.ToValidUTF8(s[:most], "\uFFFD") + "…"
}

// firstLine returns s up to its first line break.
func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
