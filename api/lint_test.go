package api_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
)

// units are the endings by which a number's name says its unit.
var units = []string{
	"_m", "_s", "_w", "_j", "_kg", "_m2", "_mps", "_mps2", "_pct", "_deg", "_c", "_hpa", "_n", "_kg_m3", "_kg_m2", "_n_s_per_m",
	"_m_per_h", "_w_per_kg", "_j_per_kg", "_per_km", "_chars", "_count", "_kcal", "_g", "_g_per_h", "_l", "_l_per_h", "_per_h",
}

// dimensionless are the numbers without a unit: counts, indices, ratios and what
// has its unit elsewhere.
var dimensionless = []string{
	"status", "line", "point", "limit", "actual", "count", "laps", "lap", "pass", "track", "agreement", "share",
	"share_before_last_climb", "h2_index", "points_read", "points_dropped", "value", "rider_index", "setup_index", "repeat",
	"weight", "r_squared", "degrees_of_freedom", "crr", "crr_factor", "drivetrain_efficiency", "gross_efficiency", "recovery_rate", "shelter", "of_critical_power", "w_per_kg", "low", "high", "step",
	"done", "of", "answered", "failed", "skipped", "index", "place", "distance", "ascent", "ascent_per_km", "h2", "rolling", "time_by_mass", "time_by_drag_area",
	"seed", "abreast", "runs", "runs_done", "runs_to_tell", "run", "best_of_team", "points", "places", "next_index", "rider_indices", "level_indices", "key_line_index", "events_left_out",
	"line_index", "position", "demand", "aid_index", "drag_factor", "wake_factor", "drag_factor_se", "crr_se", "power_scale", "power_scale_se", "correlation", "unknown_power_share", "covered_share", "distance_scale", "riders", "samples", "stretches",
	"ambition_index", "from_index", "to_index", "against_index", "better_below_index", "better_above_index", "best_trial_index", "own", "at", "from", "to",
	"mean", "sd", "standard_error", "low_standard_error", "high_standard_error", "difference", "mass_w_per_kg_correlation", "mass_w_prime_correlation", "w_per_kg_w_prime_correlation", "redrawn_share", "redrawn_standard_error",
}

// named are the strings, flags and objects whose names say it all.
var named = []string{"name", "detail", "title", "request_id", "markdown", "heading", "lines", "cautions", "kind", "code", "unit", "source", "indoor", "type", "engine_version"}

// TestUnits demands that every number of the contract says its unit.
func TestUnits(t *testing.T) {
	properties(t, func(at string, ref *openapi3.SchemaRef) {
		name := at[strings.LastIndexByte(at, '.')+1:]
		s := ref.Value
		if s.Type.Is("array") {
			s = s.Items.Value
		}
		if !s.Type.Is("number") && !s.Type.Is("integer") || slices.Contains(dimensionless, name) {
			return
		}
		if !slices.ContainsFunc(units, func(u string) bool { return strings.HasSuffix("_"+name, u) }) {
			t.Errorf("%s has no unit", at)
		}
	})
}

// TestRequestsAreBounded demands that every value which a request may hold has its
// bounds, and every object refuses what it doesn't know.
func TestRequestsAreBounded(t *testing.T) {
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[*openapi3.Schema]bool{}
	for path, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			for _, p := range op.Parameters {
				bounded(t, path+" "+p.Value.Name, p.Value.Schema, seen)
			}
			if op.RequestBody != nil && op.RequestBody.Value.Content["application/json"] != nil {
				bounded(t, path, op.RequestBody.Value.Content["application/json"].Schema, seen)
			}
		}
	}
}

func bounded(t *testing.T, at string, ref *openapi3.SchemaRef, seen map[*openapi3.Schema]bool) {
	s := ref.Value
	if seen[s] {
		return
	}
	seen[s] = true
	switch {
	case s.Type.Is("string") && len(s.Enum) == 0 && s.Pattern == "" && s.MaxLength == nil:
		t.Errorf("%s: a string without maximum", at)
	case (s.Type.Is("number") || s.Type.Is("integer")) && (s.Min == nil || s.Max == nil):
		t.Errorf("%s: a number without bounds", at)
	case s.Type.Is("array"):
		if s.MaxItems == nil {
			t.Errorf("%s: a list without maximum", at)
		}
		bounded(t, at+"[]", s.Items, seen)
	case s.Type.Is("object"):
		if s.AdditionalProperties.Has == nil || *s.AdditionalProperties.Has {
			t.Errorf("%s: takes what it doesn't know", at)
		}
		for name, p := range s.Properties {
			bounded(t, at+"."+name, p, seen)
		}
	}
}

// TestMeaning demands words for whatever a name alone doesn't say.
func TestMeaning(t *testing.T) {
	properties(t, func(at string, ref *openapi3.SchemaRef) {
		s, name := ref.Value, at[strings.LastIndexByte(at, '.')+1:]
		if s.Description != "" || ref.Ref != "" || len(s.Enum) > 0 || slices.Contains(named, name) {
			return
		}
		if s.Type.Is("array") && (s.Items.Ref != "" || slices.ContainsFunc(units, func(u string) bool { return strings.HasSuffix(name, u) })) {
			return
		}
		if slices.ContainsFunc(units, func(u string) bool { return strings.HasSuffix(name, u) }) || slices.Contains(dimensionless, name) {
			return
		}
		t.Errorf("%s has no description", at)
	})
}

// properties calls visit for every property of every schema.
func properties(t *testing.T, visit func(at string, ref *openapi3.SchemaRef)) {
	t.Helper()
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	for name, schema := range doc.Components.Schemas {
		for _, part := range append(schema.Value.AllOf, schema) {
			for property, ref := range part.Value.Properties {
				visit(name+"."+property, ref)
			}
		}
	}
}
