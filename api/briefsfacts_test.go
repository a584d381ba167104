package api_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// twins say where the other calls answer what a fact of a brief states: a pattern of its
// name, and a path into {"course": …, "predictions": …}. A step [3] is the third of a list,
// [of=climb,id=climb-1] the first whose fields are so.
var twins = []struct{ name, path string }{
	{`(distance_m|ascent_m|min_elevation_m|max_elevation_m)`, "course.$1"},
	{`laps\.(count|length_m|ascent_m|agreement)`, "course.laps.$1"},
	{`(lead_in|run_out)\.(length_m|ascent_m)`, "course.parts.[kind=$1].$2"},
	{`lap_starts\.pass-(\d+)\.at_m`, "course.parts.[lap=$1].start_m"},
	{`share_before_last_climb`, "course.climbing.share_before_last_climb"},
	{`(climb-\d+)\.(length_m|gain_m|mean_gradient_pct|max_gradient_pct)`, "course.climbs.[climb_id=$1].$2"},
	{`(climb-\d+)\.pass-(\d+)\.at_m`, "course.climbs.[climb_id=$1].passes.[$2].start_m"},
	{`(climb-\d+)\.pass-(\d+)\.(end_m|to_finish_m|lap)`, "course.climbs.[climb_id=$1].passes.[$2].$3"},
	{`(climb-\d+)\.section-(\d+)\.(start_m|length_m|mean_gradient_pct|max_gradient_pct)`, "course.climbs.[climb_id=$1].sections.[$2].$3"},
	{`(climb-\d+)\.steepest-(\d+)\.(window_m|gradient_pct|start_m)`, "course.climbs.[climb_id=$1].steepest.[window_m=$2].$3"},
	{`max_window_m`, "course.climbs.[1].max_window_m"},
	{`(descent-\d+)\.(start_m|length_m|drop_m|mean_gradient_pct)`, "course.descents.[descent_id=$1].$2"},
	{`(descent-\d+)\.bend-1\.(radius_m|at_m)`, "course.descents.[descent_id=$1].sharpest_bends.[1].$2"},
	{`(mark-\d+)\.pass-(\d+)\.(at_m|to_finish_m|lap)`, "course.marks.[mark_id=$1].passes.[$2].$3"},
	{`(mark-\d+)\.approach-(\d+)\.(distance_m|mean_gradient_pct|sharpest_radius_m)`, "course.marks.[mark_id=$1].passes.[1].approach.[$2].$3"},
	{`(mark-\d+)\.approach-(\d+)\.bends`, "course.marks.[mark_id=$1].passes.[1].approach.[$2].bends_count"},
	{`rolling\.(mean_rise_m|largest_rise_m)`, "course.climbing.rolling.$1"},
	{`steady\.(length_m|start_m|mean_gradient_pct)`, "course.climbing.rolling.longest_steady.$1"},
	{`quality\.(points_read|points_dropped|elevation_noise_m|ascent_unsmoothed_m)`, "course.quality.$1"},
	{`prediction-(\d+)\.(time_s|mean_power_w|mean_speed_mps|time_low_s|time_high_s|energy_expended_j)`, "predictions.[$1].$2"},
	{`prediction-(\d+)\.coverage_pct`, "predictions.[$1].band.coverage_pct"},
	{`prediction-(\d+)\.(climb-\d+)\.pass-(\d+)\.time_s`, "predictions.[$1].splits.[of=climb,id=$2,pass=$3].time_s"},
	{`prediction-(\d+)\.(mark-\d+)\.pass-(\d+)\.time_s`, "predictions.[$1].splits.[of=mark,id=$2,pass=$3].clock_s"},
	{`food\.(carbohydrate|drink)_(low|high)_(g|l)_per_h`, "predictions.[1].food.${1}_${3}_per_h.$2"},
}

// derived are facts that follow from what the other calls answer, and are held against the
// course in the tests of briefs: places from another start, sums, counts, ends of ranges.
var derived = regexp.MustCompile(`\.(into_lap_m|after_foot_m|last_top_to_finish_m|top_to_finish_m|passes|number|first_lap|last_lap|valley_m|mean_lap_s)$` +
	`|^(climbs|false_flats)$|^(finish|lap|turn|out|back|steep|very_steep|false_flat|tight_bends(-\d+)?)\.|^tight_bends$|^rolling\.distance_per_rise_m$|^net_|section-\d+\.bend`)

// TestFactsOfBriefsAreWhatOtherCallsAnswer asks for a brief, the course and the predictions
// in three calls; each fact of the brief must be what the other two answer.
func TestFactsOfBriefsAreWhatOtherCallsAnswer(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, name := range []string{"quellmere-criterium", "morvask-laps-and-climb", "ludwether-mountain-stage", "brambleseth-time-trial", "skarnholt-hill-climb"} {
		t.Run(name, func(t *testing.T) {
			id := analyse(t, h, readFile(t, "testdata/season/"+name+".gpx"))
			body := object{
				"course": object{"course_id": id}, "riders": []any{object{"name": "Nour", "mass_kg": 61.0}},
				"effort": object{"kind": "power_per_mass", "w_per_kg": 3.4},
			}
			answers := answered(t, h.send(t, post(t, "/v1/predictions", body)))
			answers["course"] = answered(t, h.send(t, request(http.MethodGet, "/v1/courses/"+id, "", nil)))
			var written contract.Brief
			if err := json.Unmarshal(h.send(t, post(t, "/v1/briefs", body)).Body.Bytes(), &written); err != nil || len(written.Facts) < 15 {
				t.Fatalf("%v, %d facts", err, len(written.Facts))
			}
			for _, f := range written.Facts {
				holdsTwin(t, answers, f)
			}
			holdsLabels(t, profile(t, h, id, "width=1600", nil).Body.String(), written.Text, len(at(answers, []string{"course", "climbs"}).([]any)))
		})
	}
}

// answered decodes an answer.
func answered(t *testing.T, w *httptest.ResponseRecorder) map[string]any {
	t.Helper()
	var answer map[string]any
	if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.300s", w.Code, err, w.Body)
	}
	return answer
}

// holdsTwin holds a fact against its twin, to the last digit that both are answered with.
func holdsTwin(t *testing.T, answers map[string]any, f contract.Fact) {
	t.Helper()
	for _, twin := range twins {
		pattern := regexp.MustCompile("^" + twin.name + "$")
		if !pattern.MatchString(f.Name) {
			continue
		}
		path := pattern.ReplaceAllString(f.Name, twin.path)
		value, ok := at(answers, strings.Split(path, ".")).(float64)
		if strings.HasPrefix(f.Name, "descent-") && strings.HasSuffix(f.Name, "_pct") {
			value = -value // a descent's gradient is told without its sign
		}
		if !ok || math.Abs(value-f.Value) > tolerance(f.Name) {
			t.Errorf("%s is %v, %s is %v", f.Name, f.Value, path, value)
		}
		return
	}
	if !derived.MatchString(f.Name) {
		t.Errorf("nothing says where %s is answered", f.Name)
	}
}

// tolerance is half the last digit of what is answered: joules, food and drink to a
// hundredth, all else to a thousandth.
func tolerance(name string) float64 {
	if strings.HasSuffix(name, "_j") || strings.HasPrefix(name, "food.") {
		return 0.00501
	}
	return 0.00051
}

// at follows a path.
func at(v any, path []string) any {
	for _, step := range path {
		switch inner := v.(type) {
		case map[string]any:
			v = inner[step]
		case []any:
			v = pickOne(inner, strings.Trim(step, "[]"))
		default:
			return nil
		}
	}
	return v
}

// pickOne returns the n-th of a list, or the first whose fields are so.
func pickOne(list []any, which string) any {
	if n, err := strconv.Atoi(which); err == nil {
		if n > len(list) {
			return nil
		}
		return list[n-1]
	}
	for _, item := range list {
		fields, found := item.(map[string]any), true
		for _, condition := range strings.Split(which, ",") {
			field, want, _ := strings.Cut(condition, "=")
			found = found && fmt.Sprint(fields[field]) == want
		}
		if found {
			return item
		}
	}
	return nil
}

// label is what a picture writes at a climb.
var label = regexp.MustCompile(`[0-9.]+ k?m at [0-9.]+ %`)

// holdsLabels holds the labels of climbs in a picture against the text of the brief. A
// climb that is the whole course has its length in the brief's first words.
func holdsLabels(t *testing.T, svg, text string, climbs int) {
	t.Helper()
	labels := label.FindAllString(svg, -1)
	if len(labels) == 0 && climbs > 0 {
		t.Error("the picture has no labels of climbs")
	}
	for _, l := range labels {
		length, gradient, _ := strings.Cut(l, " at ")
		if !strings.Contains(text, l) && !strings.Contains(text, length+" uphill, climbing") || !strings.Contains(text, " at "+gradient) {
			t.Errorf("the picture says %q, the brief doesn't", l)
		}
	}
}
