package api

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"reflect"
	"regexp"
	"sort"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/gin-gonic/gin"

	"parcours.example/api/contract"
)

// validator holds requests against the contract.
type validator struct {
	router routers.Router
}

// validate is the middleware. Raw route files are checked by their readers; of
// them only the media type and the parameters are checked here.
func (v *validator) validate(c *gin.Context) {
	route, params, err := v.router.FindRoute(c.Request)
	if err != nil { // gin knows the same routes: it answers 404 and 405 itself
		return
	}
	if p := checkParameters(route, c.Request); p != nil {
		writeProblem(c, p)
		return
	}
	body := requestBody(c)
	isJSON := mediaType(c.Request) == "application/json"
	if isJSON {
		if p := guardJSON(body); p != nil {
			writeProblem(c, p)
			return
		}
	}
	input := &openapi3filter.RequestValidationInput{
		Request: c.Request, PathParams: params, Route: route,
		Options: &openapi3filter.Options{
			MultiError: true, ExcludeRequestBody: !isJSON, SkipSettingDefaults: true,
			SchemaValidationOptions: []openapi3.SchemaValidationOption{openapi3.DisableSchemaErrorDetails()},
		},
	}
	c.Request.Body = io.NopCloser(bytes.NewReader(body))
	if err := openapi3filter.ValidateRequest(c.Request.Context(), input); err != nil {
		writeProblem(c, contractProblem(err))
		return
	}
	c.Request.Body = io.NopCloser(bytes.NewReader(body))
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
	query, err := parseQuery(r.URL.RawQuery)
	if err != nil {
		return &problem{kind: kindMalformedRequest, detail: "The query can't be read; check its percent-encoding."}
	}
	var faults []contract.Fault
	for name, values := range query {
		repeatable, known := declared[name]
		switch {
		case !known:
			faults = append(faults, contract.Fault{Parameter: optional(clip(name)), Code: "unknown", Detail: "this call has no such parameter"})
		case len(values) > 1 && !repeatable:
			faults = append(faults, contract.Fault{Parameter: optional(clip(name)), Code: "repeated", Detail: "the parameter is given more than once"})
		}
	}
	if faults == nil {
		return nil
	}
	sort.Slice(faults, func(i, j int) bool { return *faults[i].Parameter < *faults[j].Parameter })
	return &problem{kind: kindInvalidRequest, detail: "The query doesn't fit the contract; see errors.", faults: faults}
}

// contractProblem turns the validator's findings into a problem.
func contractProblem(err error) *problem {
	p := &problem{kind: kindInvalidRequest, detail: "The request doesn't fit the contract; see errors."}
	collectFaults(p, err, "", nil)
	if len(p.faults) == 0 {
		p.faults = []contract.Fault{{Code: "invalid", Detail: clip(firstLine(err.Error()))}}
	}
	return p
}

// collectFaults walks the tree of errors, depth first, until the problem is full.
func collectFaults(p *problem, err error, parameter string, prefix []string) {
	if len(p.faults) > maxFaults {
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
			collectFaults(p, each, parameter, prefix)
		}
	case isType[*openapi3filter.RequestError](err) && errors.As(err, &request):
		if request.Parameter != nil {
			parameter = request.Parameter.Name
		}
		if request.Err == nil {
			p.faults = append(p.faults, contract.Fault{Parameter: optional(parameter), Code: "invalid", Detail: clip(request.Reason)})
			return
		}
		collectFaults(p, request.Err, parameter, prefix)
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
	"required": "missing", "properties": "unknown", "additionalProperties": "unknown", "type": "wrong-type",
	"minimum": "out-of-range", "maximum": "out-of-range", "enum": "not-allowed", "pattern": "bad-format", "format": "bad-format",
	"minLength": "too-short", "maxLength": "too-long", "minItems": "too-few", "maxItems": "too-many", "uniqueItems": "repeated",
}

// addSchemaFault adds one failed keyword. A list that is too long makes the whole
// problem one of counts.
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
		p.kind, p.limit, p.actual = kindTooMany, &limit, &actual
		p.detail = "A list is longer than its limit; see errors."
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
