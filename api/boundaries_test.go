package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	measured "parcours.example/internal/figures"
	"parcours.example/internal/seeded"
	"parcours.example/service/engine"
)

// bound is one bound of one schema of what one call is sent.
type bound struct {
	call string
	// parameter is a parameter, in the query or the header; where it is nil, at leads to the
	// schema in the body: names, and 0 for the items of a list.
	parameter *openapi3.Parameter
	at        []string
	schema    *openapi3.Schema
	keyword   string
	limit     float64
}

// boundCodes are the codes of faults beyond bounds.
var boundCodes = map[string]string{
	"minimum": "out-of-range", "maximum": "out-of-range", "minLength": "too-short", "maxLength": "too-long",
	"minItems": "too-few", "maxItems": "too-many", "minProperties": "too-few",
}

// String names it.
func (b bound) String() string {
	place := "#/" + strings.Join(b.at, "/")
	if b.parameter != nil {
		place = b.parameter.In + " " + strings.Join(append([]string{b.parameter.Name}, b.at...), "/")
	}
	return fmt.Sprintf("%s %s %s %v", b.call, place, b.keyword, b.limit)
}

// neverBeyond are the bounds that nothing can be sent beyond, and why.
var neverBeyond = map[string]string{
	"brief query speed_mps minItems 1": "a list in the query has no values where it isn't given at all",
}

// bounds lists those of every call's parameters and JSON bodies.
func bounds(t testing.TB) []bound {
	t.Helper()
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	var all []bound
	add := func(b bound) {
		for _, of := range b.below() {
			if _, never := neverBeyond[of.String()]; !never {
				all = append(all, of)
			}
		}
	}
	for _, path := range slices.Sorted(maps.Keys(doc.Paths.Map())) {
		item := doc.Paths.Value(path)
		for _, method := range slices.Sorted(maps.Keys(item.Operations())) {
			op := item.Operations()[method]
			for _, p := range op.Parameters {
				add(bound{call: op.OperationID, parameter: p.Value, schema: p.Value.Schema.Value})
			}
			if op.RequestBody == nil {
				continue
			}
			if body := op.RequestBody.Value.Content["application/json"]; body != nil && !strings.HasSuffix(body.Schema.Ref, "/RouteFile") {
				add(bound{call: op.OperationID, schema: body.Schema.Value})
			}
		}
	}
	return all
}

// below lists the bounds of a place and of those in it.
func (b bound) below() []bound {
	var all []bound
	add := func(keyword string, limit float64) {
		b.keyword, b.limit = keyword, limit
		all = append(all, b)
	}
	s := b.schema
	for keyword, p := range map[string]*float64{"minimum": s.Min, "maximum": s.Max} {
		if p != nil {
			add(keyword, *p)
		}
	}
	for keyword, p := range map[string]*uint64{"maxLength": s.MaxLength, "maxItems": s.MaxItems} {
		if p != nil {
			add(keyword, float64(*p))
		}
	}
	for keyword, n := range map[string]uint64{"minLength": s.MinLength, "minItems": s.MinItems, "minProperties": s.MinProps} {
		if n > 0 {
			add(keyword, float64(n))
		}
	}
	slices.SortFunc(all, func(a, b bound) int { return strings.Compare(a.keyword, b.keyword) })
	step := func(name string, s *openapi3.SchemaRef) {
		in := b
		in.at, in.schema = append(slices.Clone(b.at), name), s.Value
		all = append(all, in.below()...)
	}
	for _, name := range slices.Sorted(maps.Keys(s.Properties)) {
		step(name, s.Properties[name])
	}
	if s.Items != nil {
		step("0", s.Items)
	}
	return all
}

// value returns a value at the bound, or the next one beyond it.
func (b bound) value(beyond bool) any {
	limit := b.limit
	above := strings.HasPrefix(b.keyword, "max")
	if beyond {
		switch {
		case b.schema.Type.Is("number") && above:
			limit = math.Nextafter(limit, math.Inf(1))
		case b.schema.Type.Is("number"):
			limit = math.Nextafter(limit, math.Inf(-1))
		case above:
			limit++
		default:
			limit--
		}
	}
	switch b.schema.Type.Slice()[0] {
	case "string":
		if limit > engine.MostBodyBytes {
			return hardToPack(int(limit))
		}
		return strings.Repeat("x", int(limit))
	case "array":
		items := make([]any, int(limit))
		for i := range items {
			items[i] = sample(b.schema.Items.Value)
		}
		return items
	case "object":
		o := map[string]any{}
		for _, name := range slices.Sorted(maps.Keys(b.schema.Properties))[:int(limit)] {
			o[name] = sample(b.schema.Properties[name].Value)
		}
		return o
	}
	return limit
}

// hardToPack is text of a length that is sent packed, because it is longer than bodies may be
// as they are.
func hardToPack(n int) string {
	random := rand.New(rand.NewPCG(1, 4))
	b := make([]byte, 0, n+8)
	for len(b) < n {
		b = fmt.Appendf(b, "%08x", random.Uint32())
	}
	return string(b[:n])
}

// sample returns a small value of a schema.
func sample(s *openapi3.Schema) any {
	switch {
	case len(s.Enum) > 0:
		return s.Enum[0]
	case s.Type.Is("boolean"):
		return true
	case s.Type.Is("string"):
		return strings.Repeat("x", max(1, int(s.MinLength)))
	case s.Type.Is("array"):
		items := []any{}
		for range s.MinItems {
			items = append(items, sample(s.Items.Value))
		}
		return items
	case s.Type.Is("object"):
		o := map[string]any{}
		for _, name := range s.Required {
			o[name] = sample(s.Properties[name].Value)
		}
		return o
	}
	x := 1.0
	if s.Min != nil {
		x = max(x, *s.Min)
	}
	if s.Max != nil {
		x = min(x, *s.Max)
	}
	return x
}

// put returns a value with another one in it at a place, making what leads there.
func put(in any, s *openapi3.Schema, at []string, value any) any {
	if len(at) == 0 {
		return value
	}
	if s.Items != nil {
		list, _ := in.([]any)
		if len(list) == 0 {
			list = []any{sample(s.Items.Value)}
		}
		list[0] = put(list[0], s.Items.Value, at[1:], value)
		return list
	}
	o, ok := in.(map[string]any)
	if !ok {
		o, _ = sample(s).(map[string]any)
	}
	o[at[0]] = put(o[at[0]], s.Properties[at[0]].Value, at[1:], value)
	return o
}

// has reports whether a value holds what a place is in.
func has(in any, at []string) bool {
	if len(at) <= 1 {
		return in != nil
	}
	switch v := in.(type) {
	case map[string]any:
		return has(v[at[0]], at[1:])
	case []any:
		return len(v) > 0 && has(v[0], at[1:])
	}
	return false
}

// boundaryTrial sends values at bounds and beyond them.
type boundaryTrial struct {
	*harness
	schemas map[string]*openapi3.Schema
	bases   map[string][]base
	// answered counts the values at bounds that were answered, begun those that still were
	// when the time for one was over, other those refused for something else.
	answered, begun, other int
}

// base is an exchange of the contract that is answered with 200.
type base struct {
	exchange
	call call
	id   string
}

// newBoundaryTrial analyses the courses that the exchanges are about.
func newBoundaryTrial(t *testing.T) *boundaryTrial {
	t.Helper()
	b := &boundaryTrial{harness: newHarness(t, engine.Config{QueueWait: time.Minute}), schemas: map[string]*openapi3.Schema{}, bases: map[string][]base{}}
	ids := map[string]string{"": ""}
	for name, c := range calls(t) {
		for _, x := range c.exchanges {
			if x.Status != http.StatusOK {
				continue
			}
			if _, known := ids[x.Cached]; !known {
				ids[x.Cached] = analyse(t, b.harness, readFile(t, x.Cached))
			}
			b.bases[name] = append(b.bases[name], base{x, c, ids[x.Cached]})
		}
	}
	return b
}

// request makes a call with a value at the bound's place.
func (b *boundaryTrial) request(t *testing.T, of bound, value any) *http.Request {
	t.Helper()
	bases := b.bases[of.call]
	if of.parameter != nil {
		i := slices.IndexFunc(bases, func(x base) bool { return x.Body == "" })
		if i < 0 {
			i = 0 // every exchange has a body
		}
		return withParameter(bases[i].request(t, bases[i].call, bases[i].id), of, value)
	}
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	var body any
	var chosen base
	for _, x := range bases {
		if !strings.HasPrefix(x.Body, "{") { // none, or a form
			continue
		}
		var v any
		if err := json.Unmarshal([]byte(strings.ReplaceAll(x.Body, "{course_id}", x.id)), &v); err != nil {
			t.Fatal(err)
		}
		if body == nil || has(v, of.at) {
			body, chosen = v, x
		}
		if has(v, of.at) {
			break
		}
	}
	schema := doc.Paths.Value(chosen.call.path).Post.RequestBody.Value.Content["application/json"].Schema.Value
	raw, err := json.Marshal(put(body, schema, of.at, value))
	if err != nil {
		t.Fatal(err)
	}
	if len(raw) <= engine.MostBodyBytes {
		return request(http.MethodPost, chosen.call.path, "application/json", raw)
	}
	r := request(http.MethodPost, chosen.call.path, "application/json", zstded(raw))
	r.Header.Set("Content-Encoding", "zstd")
	return r
}

// withParameter sets a request's parameter to a value, or to the values of a list.
func withParameter(r *http.Request, of bound, value any) *http.Request {
	p := of.parameter
	if p.In == openapi3.ParameterInHeader {
		r.Header.Set(p.Name, fmt.Sprint(value))
		return r
	}
	list, isList := value.([]any)
	if !isList {
		list = []any{value}
	}
	var texts []string
	for _, v := range list {
		switch v := v.(type) {
		case float64:
			texts = append(texts, strconv.FormatFloat(v, 'f', -1, 64))
		default:
			texts = append(texts, fmt.Sprint(v))
		}
	}
	if p.Explode != nil && !*p.Explode {
		texts = []string{strings.Join(texts, ",")}
	}
	query := r.URL.Query()
	query[p.Name] = texts
	if isList && shortForms[p.Name] != "" {
		query[p.Name] = slices.Repeat([]string{shortForms[p.Name]}, len(texts))
	}
	r.URL.RawQuery = query.Encode()
	return r
}

// shortForms are values of parameters that are lists of things in short form.
var shortForms = map[string]string{"mark": "name=Mill,at_m=900", "rider": "mass=70,power=200"}

// patienceAtBound is how long a call with a value at a bound is waited for: one that isn't
// refused by then is being answered.
const patienceAtBound = 2 * time.Second

// checkBeyond demands that the value beyond a bound is refused, with the place, the code and
// for lists both numbers.
func (b *boundaryTrial) checkBeyond(t *testing.T, of bound) {
	t.Helper()
	beyond := b.request(t, of, of.value(true))
	w := b.serve(beyond)
	b.harness.check(t, beyond, w)
	if f, p := faultAt(t, w, of); f == "" {
		t.Errorf("%v: beyond it: status %d: %.400s", of, w.Code, w.Body)
	} else if w.Code == http.StatusUnprocessableEntity && (p["limit"] != of.limit || p["actual"] != of.limit+1) {
		t.Errorf("%v: limit %v, actual %v", of, p["limit"], p["actual"])
	}
}

// checkAt demands that the value at a bound isn't refused for it.
func (b *boundaryTrial) checkAt(t *testing.T, of bound) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patienceAtBound)
	defer cancel()
	at := b.request(t, of, of.value(false)).WithContext(ctx)
	w := b.serve(at)
	switch {
	case ctx.Err() != nil:
		b.begun++
		return
	case w.Code == http.StatusOK:
		b.answered++
		return
	case w.Code >= http.StatusInternalServerError:
		t.Errorf("%v: at it: status %d: %.400s", of, w.Code, w.Body)
		return
	}
	b.other++
	if f, p := faultAt(t, w, of); f != "" && (p["limit"] == nil || p["limit"] == of.limit) {
		t.Errorf("%v: at it: %.400s", of, w.Body)
	}
}

// faultAt returns the fault of a reply that is about a bound, "" where there is none, and the
// problem.
func faultAt(t *testing.T, w *httptest.ResponseRecorder, of bound) (code string, problem map[string]any) {
	t.Helper()
	if w.Code == http.StatusOK {
		return "", nil
	}
	if err := json.Unmarshal(w.Body.Bytes(), &problem); err != nil {
		t.Fatalf("%v: %v: %.300s", of, err, w.Body)
	}
	pointer, parameter := "#/"+strings.Join(of.at, "/"), ""
	if len(of.at) == 0 {
		pointer = ""
	}
	if of.parameter != nil {
		pointer, parameter = "", of.parameter.Name
	}
	codes := []string{boundCodes[of.keyword]}
	if of.parameter != nil && of.keyword == "minLength" {
		codes = append(codes, "invalid") // a parameter without a value at all
	}
	for _, f := range faultsOf(t, w.Body.Bytes()) {
		if f.Pointer == pointer && f.Parameter == parameter && slices.Contains(codes, f.Code) {
			return f.Code, problem
		}
	}
	return "", problem
}

// TestT04Boundaries takes every bound of every schema and parameter of the contract in turn:
// the value at it isn't refused for it, the next one beyond it is, and the problem says where.
// The default run goes beyond each bound at one of the places where its schema is used, and
// takes a sample of the values at bounds.
func TestT04Boundaries(t *testing.T) {
	all := bounds(t)
	trial := newBoundaryTrial(t)
	random := rand.New(rand.NewPCG(seeded.First(t), 4))
	random.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	type place struct {
		schema  *openapi3.Schema
		keyword string
	}
	tried := map[place]bool{}
	everywhere := seeded.Cases(20) == 20
	beyond, within := 0, seeded.Cases(len(all))
	for i, of := range all {
		if p := (place{of.schema, of.keyword}); everywhere || !tried[p] {
			tried[p] = true
			if of.limit <= engine.MostBodyBytes || everywhere { // or it takes seconds
				trial.checkBeyond(t, of)
				beyond++
			}
		}
		if i < within {
			trial.checkAt(t, of)
		}
	}
	unmet := unstatedTests(t)
	measured.Report(t, "T4", "%d bounds of schemas and parameters: beyond all %d that were sent refused with place and code; at %d of them %d answered, %d begun, %d refused for something else, 0 for the bound; %d of %d x-limits are such bounds or held by a test of their own",
		len(all), beyond, within, trial.answered, trial.begun, trial.other, len(contractLimits(t))-unmet, len(contractLimits(t)))
}
