package api

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers/gorillamux"

	"parcours.example/api/contract"
)

// TestLongListsAgree demands that what is checked by hand of long lists gets the
// same places and codes as the general validator gives.
func TestLongListsAgree(t *testing.T) {
	doc, err := loadContract()
	if err != nil {
		t.Fatal(err)
	}
	router, err := gorillamux.NewRouter(doc)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	values := []string{"5", "0", "-0.1", "4000", "4000.5", "1e7", "10000000.1", `"x"`, "null", "true", "[1]", `{"a": 1}`, "9000.01", "-500", "-501"}
	steps := []string{
		`{"end_m": 1, "power_w": 2}`, `{"end_m": 1}`, `{}`, `{"end_m": 1, "power_w": 2, "of": "x", "reason": "y, \"z\"}"}`, `7`, `[]`,
		`{"end_m": 1, "power_w": 5000}`, `{"end_m": -1, "power_w": 2, "watts": 3}`, `{"end_m": "1", "power_w": 2}`, `{"end_m": 1, "power_w": 2, "of": "` + strings.Repeat("ä", 201) + `"}`,
		`{"end_m" : 1 , "power_w":2, "start_m": 3}`, `{"end_m": 1, "power_w": 2, "of": 3}`,
	}
	for range 60 {
		filled := func(good string, odd []string) string {
			items := slices.Repeat([]string{good}, maxItemsSeen+20)
			for range r.IntN(4) {
				items[r.IntN(len(items))] = odd[r.IntN(len(odd))]
			}
			return "[" + strings.Join(items, ", ") + "]"
		}
		body := []byte(`{"course": {"profile": {"distance_m": ` + filled("5", values) + `, "elevation_m": ` + filled("7", values) +
			`}}, "riders": [{"mass_kg": 70}], "effort": {"kind": "steps", "steps": ` + filled(steps[0], steps) + `}}`)
		request := httptest.NewRequest(http.MethodPost, "/v1/predictions", strings.NewReader(string(body)))
		request.Header.Set("Content-Type", jsonMediaType)
		route, params, err := router.FindRoute(request)
		if err != nil {
			t.Fatal(err)
		}
		input := func() *openapi3filter.RequestValidationInput {
			return &openapi3filter.RequestValidationInput{Request: request, PathParams: params, Route: route, Options: &openapi3filter.Options{
				MultiError: true, SkipSettingDefaults: true, SchemaValidationOptions: []openapi3.SchemaValidationOption{openapi3.DisableSchemaErrorDetails()},
			}}
		}
		var want, got []contract.Fault
		if err := openapi3filter.ValidateRequest(t.Context(), input()); err != nil {
			want = contractProblem(err, nil).faults
		}
		if p := checkJSONRequest(input(), body); p != nil {
			got = p.faults
		}
		if a, b := places(want), places(got); !slices.Equal(a, b) {
			t.Fatalf("by hand %v, by the validator %v", b, a)
		}
	}
}

// places lists the faults' pointers and codes in order.
func places(faults []contract.Fault) []string {
	var out []string
	for _, f := range faults {
		out = append(out, fmt.Sprint(valueOr(f.Pointer, ""), " ", f.Code))
	}
	slices.Sort(out)
	return out
}

// BenchmarkLongLists measures the check of 100,000 samples.
func BenchmarkLongLists(b *testing.B) {
	doc, err := loadContract()
	if err != nil {
		b.Fatal(err)
	}
	router, err := gorillamux.NewRouter(doc)
	if err != nil {
		b.Fatal(err)
	}
	body := []byte(`{"course": {"profile": {"distance_m": [` + strings.TrimSuffix(strings.Repeat("123.45,", 100_000), ",") + `]}}, "riders": [{"mass_kg": 70}], "effort": {"kind": "power", "power_w": 200}}`)
	request := httptest.NewRequest(http.MethodPost, "/v1/predictions", nil)
	request.Header.Set("Content-Type", jsonMediaType)
	route, params, err := router.FindRoute(request)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(body)))
	for b.Loop() {
		input := &openapi3filter.RequestValidationInput{Request: request, PathParams: params, Route: route, Options: &openapi3filter.Options{MultiError: true, SkipSettingDefaults: true}}
		if p := checkJSONRequest(input, body); p != nil {
			b.Fatal(p)
		}
	}
}
