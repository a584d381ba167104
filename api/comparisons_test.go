package api_test

import (
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"parcours.example/service/engine"
)

// comparisons is what these tests read of an answer.
type comparisons struct {
	Ambitions []struct {
		Name, Measure string
		Passes        []struct {
			StartM float64 `json:"start_m"`
		}
	}
	Comparisons []struct {
		Rider  string
		Setups []struct {
			Setup   string
			TimeS   float64 `json:"time_s"`
			Problem *struct{ Type string }
		}
		Ambitions []struct {
			Ranking []struct {
				Setup  string
				TimeS  float64 `json:"time_s"`
				Behind struct {
					GapS float64 `json:"gap_s"`
					Tie  bool
				}
			}
			Crossings []struct {
				Quantity string
				At       *float64
			}
		}
		Changes []struct {
			Trials []struct {
				Place struct {
					Of     string
					StartM float64 `json:"start_m"`
				}
				TimeS float64 `json:"time_s"`
				LostS float64 `json:"lost_s"`
			}
		}
		Recommendation string
	}
	Assumptions []struct {
		Pointer string
		Value   float64
	}
	Cautions, Model []string
	Recommendation  string
}

// compare sends a request and reads its answer, also as text.
func compare(t testing.TB, h *harness, body object) (comparisons, string) {
	t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	w := h.send(t, request(http.MethodPost, "/v1/comparisons", "application/json", raw))
	var c comparisons
	if err := json.Unmarshal(w.Body.Bytes(), &c); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return c, w.Body.String()
}

// comparing is a request over a course of the season.
func comparing(t testing.TB, h *harness) object {
	return object{
		"course": object{"course_id": analyse(t, h, readFile(t, "testdata/season/morvask-laps-and-climb.gpx"))},
		"riders": []any{
			object{"name": "Nour", "mass_kg": 61.0, "critical_power_w": 245.0, "w_prime_j": 15000.0},
			object{"name": "Bram", "mass_kg": 82.0, "critical_power_w": 310.0, "w_prime_j": 21000.0},
		},
		"setups": []any{object{"name": "smooth", "mass_kg": 9.1, "cda_change_m2": -0.03}, object{"name": "light", "mass_kg": 6.8}},
		"effort": object{"kind": "fraction", "of_critical_power": 0.95}, "conditions": object{}, "uncertainties": object{}, "setup_uncertainties": object{},
	}
}

// TestComparisonsReposted demands that posting every assumption as a value gives the same
// answer but for the assumptions.
func TestComparisonsReposted(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := comparing(t, h)
	body["changes"] = []any{object{"from": "smooth", "to": "light", "at": object{"climb_id": "climb-1", "pass": 2}, "lost_shelter": object{"distance_m": 800.0}}}
	first, before := compare(t, h, body)
	for _, a := range first.Assumptions {
		place(t, body, a.Pointer, a.Value)
	}
	second, after := compare(t, h, body)
	if len(first.Assumptions) < 20 || len(second.Assumptions) > 0 {
		t.Errorf("%d assumptions, then %v", len(first.Assumptions), second.Assumptions)
	}
	told := func(answer string) string { return answer[strings.Index(answer, `"comparisons":`):] }
	if told(before) != told(after) {
		t.Error("with the assumptions posted the answer differs")
	}
}

// TestDefaultAmbitions demands lines, climbs and the finish, in course order.
func TestDefaultAmbitions(t *testing.T) {
	h := newHarness(t, engine.Config{})
	c, _ := compare(t, h, comparing(t, h))
	last, measures := 0.0, map[string]int{}
	for _, a := range c.Ambitions {
		if a.Passes[0].StartM < last {
			t.Errorf("%s comes too late", a.Name)
		}
		last = a.Passes[0].StartM
		measures[a.Measure]++
	}
	if n := len(c.Ambitions); c.Ambitions[n-1].Name != "the finish" || measures["time_to_line"] < 2 || measures["time_through_stretch"] < 2 {
		t.Errorf("%+v", c.Ambitions)
	}
	if len(c.Comparisons[0].Ambitions[0].Crossings) != 4 || len(c.Model) < 5 {
		t.Errorf("%+v, %v", c.Comparisons[0].Ambitions[0].Crossings, c.Model)
	}
}

// TestRidersPermute demands that each rider's comparison doesn't depend on the others.
func TestRidersPermute(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := comparing(t, h)
	there, _ := compare(t, h, body)
	slices.Reverse(body["riders"].([]any))
	back, _ := compare(t, h, body)
	for i := range there.Comparisons {
		a, b := there.Comparisons[i], back.Comparisons[len(back.Comparisons)-1-i]
		if a.Rider != b.Rider || a.Recommendation != b.Recommendation || a.Ambitions[0].Ranking[0].TimeS != b.Ambitions[0].Ranking[0].TimeS {
			t.Errorf("%+v, in another order %+v", a, b)
		}
	}
}

// TestEveryNumberOfTheParagraphIsInTheAnswer demands that what a recommendation says in
// seconds stands in the answer as a number.
func TestEveryNumberOfTheParagraphIsInTheAnswer(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := comparing(t, h)
	body["changes"] = []any{object{"from": "smooth", "to": "light"}}
	c, answer := compare(t, h, body)
	var whole any
	if err := json.Unmarshal([]byte(answer), &whole); err != nil {
		t.Fatal(err)
	}
	values := numbers(whole, nil)
	for _, paragraph := range []string{c.Recommendation, c.Comparisons[0].Recommendation, c.Comparisons[1].Recommendation} {
		words := strings.Fields(strings.NewReplacer("(", " ", ")", " ", ",", " ", ";", " ", "−", "").Replace(paragraph))
		for i, unit := range words {
			if i == 0 || !slices.Contains([]string{"s", "s.", "W", "kg", "%", "%."}, unit) {
				continue
			}
			said, err := strconv.ParseFloat(words[i-1], 64)
			if err != nil {
				continue // a clock, or "under"
			}
			if !slices.ContainsFunc(values, func(v float64) bool { return reads(v, said) }) {
				t.Errorf("%q is nowhere in the answer: %s", words[i-1]+" "+unit, paragraph)
			}
		}
	}
}

// reads tells whether a number is written as another: rounded, without its sign, a share in
// per cent.
func reads(v, said float64) bool {
	for _, x := range []float64{v, -v, 100 * v} {
		if d := x - said; d < 0.51 && d > -0.51 && (said >= 9.9 || d < 0.051 && d > -0.051) {
			return true
		}
	}
	return false
}

// numbers gathers all numbers of an answer.
func numbers(v any, all []float64) []float64 {
	switch v := v.(type) {
	case float64:
		return append(all, v)
	case []any:
		for _, x := range v {
			all = numbers(x, all)
		}
	case map[string]any:
		for _, x := range v {
			all = numbers(x, all)
		}
	}
	return all
}

// TestASetupThatCannotClimb demands that it doesn't fail the others.
func TestASetupThatCannotClimb(t *testing.T) {
	h := newHarness(t, engine.Config{})
	c, _ := compare(t, h, object{
		"course": object{"profile": object{"distance_m": []float64{0, 500, 1500}, "elevation_m": []float64{0, 0, 110}}, "options": object{"smoothing": "none"}},
		"riders": []any{object{"mass_kg": 70.0}}, "setups": []any{object{"name": "cargo", "mass_kg": 100.0}, object{"name": "light", "mass_kg": 7.0}},
		"effort":  object{"kind": "power", "power_w": 75},
		"changes": []any{object{"from": "light", "to": "cargo", "at": object{"at_m": 400.0}}, object{"from": "cargo", "to": "light", "at": object{"at_m": 400.0}}},
	})
	r := c.Comparisons[0]
	if p := r.Setups[0].Problem; p == nil || p.Type != "/problems/cannot-climb" || r.Setups[1].TimeS <= 0 {
		t.Errorf("%+v", r.Setups)
	}
	if len(r.Ambitions[0].Ranking) != 1 || !strings.Contains(r.Recommendation, "Only light") || len(r.Changes[1].Trials) != 0 {
		t.Errorf("%+v", r)
	}
}

// TestComparisonsThatCannotBe demands for each fault its place.
func TestComparisonsThatCannotBe(t *testing.T) {
	h := newHarness(t, engine.Config{Limits: engine.Limits{ComparisonRides: 152}})
	for name, x := range map[string]struct{ more, problem, pointer string }{
		"a target time":       {`"effort": {"kind": "time", "time_s": 100}`, "not-computable", "#/effort/kind"},
		"both references":     {`"changes": [{"from": "a", "from_index": 0, "to_index": 1}]`, "invalid-request", "#/changes/0"},
		"no such index":       {`"changes": [{"from": "a", "to_index": 7, "at": {"at_m": 500}}]`, "not-computable", "#/changes/0/to_index"},
		"two of a name":       {`"changes": [{"from": "b", "to_index": 0, "at": {"at_m": 500}}]`, "not-computable", "#/changes/0/from"},
		"at the start":        {`"changes": [{"from": "a", "to_index": 1, "at": {"at_m": 2}}]`, "not-computable", "#/changes/0/at"},
		"nowhere to try":      {`"changes": [{"from": "a", "to_index": 1}]`, "not-computable", "#/changes/0"},
		"off the course":      {`"ambitions": [{"at": {"at_m": 1500}}]`, "not-computable", "#/ambitions/0/at/at_m"},
		"two places in one":   {`"ambitions": [{"at": {"at_m": 500, "finish": true}}]`, "invalid-request", "#/ambitions/0/at"},
		"standing, no stop":   {`"changes": [{"from": "a", "to_index": 1, "stops": false, "standing_s": 3}]`, "invalid-request", "#/changes/0/standing_s"},
		"a quantity twice":    {`"crossings": ["power_w", "power_w"]`, "invalid-request", "#/crossings/1"},
		"too many rides":      {`"ambitions": [{"at": {"at_m": 500}}, {"at": {"at_m": 600}}, {"at": {"at_m": 700}}]`, "too-many", "#/riders"},
		"unknown crossing":    {`"crossings": ["height_m"]`, "invalid-request", "#/crossings/0"},
		"no such climb":       {`"ambitions": [{"at": {"climb_id": "climb-9"}}]`, "not-computable", "#/ambitions/0/at/climb_id"},
		"shelter above alone": {`"changes": [{"from": "a", "to_index": 1, "lost_shelter": {"distance_m": 100, "shelter": 1.5}}]`, "invalid-request", "#/changes/0/lost_shelter/shelter"},
	} {
		t.Run(name, func(t *testing.T) {
			setups := `"setups": [{"name": "a"}, {"name": "b", "mass_kg": 7}, {"name": "b", "mass_kg": 6}]`
			effort := `, "effort": {"kind": "power", "power_w": 200}`
			if strings.Contains(x.more, "effort") {
				effort = ""
			}
			body := rideRequest("", list(1, func(int) string { return `{"mass_kg": 70}` }), setups+effort+", "+x.more)
			w := h.send(t, request(http.MethodPost, "/v1/comparisons", "application/json", body))
			p := checkProblem(t, w, x.problem)
			if at := p["errors"].([]any)[0].(map[string]any)["pointer"]; at != x.pointer {
				t.Errorf("pointer %v, not %s: %v", at, x.pointer, p["detail"])
			}
			if x.problem == "too-many" && (p["limit"] != 152.0 || p["actual"] != 153.0) {
				t.Errorf("limit %v, actual %v", p["limit"], p["actual"])
			}
		})
	}
}

// TestComparisonBoundaries demands the limits of ambitions and changes.
func TestComparisonBoundaries(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limits := contractLimits(t)
	for name, item := range map[string]string{"ambitions": `{"at": {"at_m": 500}}`, "changes": `{"from_index": 0, "to_index": 1, "at": {"at_m": 500}}`} {
		body := func(n int) []byte {
			return rideRequest("", list(1, func(int) string { return `{"mass_kg": 70}` }), `"setups": [{}, {"mass_kg": 7}], "crossings": [], "effort": {"kind": "power", "power_w": 200}, "`+
				name+`": `+list(n, func(int) string { return item }))
		}
		if w := h.send(t, request(http.MethodPost, "/v1/comparisons", "application/json", body(limits[name]))); w.Code != http.StatusOK {
			t.Errorf("%s: %d: status %d: %.300s", name, limits[name], w.Code, w.Body)
		}
		w := h.send(t, request(http.MethodPost, "/v1/comparisons", "application/json", body(limits[name]+1)))
		if p := checkProblem(t, w, "too-many"); p["limit"] != float64(limits[name]) || p["actual"] != float64(limits[name]+1) {
			t.Errorf("%s: limit %v, actual %v", name, p["limit"], p["actual"])
		}
	}
}

// BenchmarkComparison measures the whole call for five riders on five set-ups over 100 km,
// with a climb and a line, all crossing points, and a change tried at the foot.
func BenchmarkComparison(b *testing.B) {
	h := newHarness(b, engine.Config{})
	distance, elevation := []float64{}, []float64{}
	for i := range 10_001 {
		distance = append(distance, float64(i)*10)
		elevation = append(elevation, 100+max(0, min(float64(i-6000)*0.6, 480))+10*float64(i%400)/400)
	}
	var riders, setups []any
	for i := range 5 {
		riders = append(riders, object{"mass_kg": 58 + 6*i, "critical_power_w": 230 + 15*i, "w_prime_j": 18000})
		setups = append(setups, object{"name": strconv.Itoa(i), "mass_kg": 6.8 + 0.6*float64(i), "cda_change_m2": -0.008 * float64(i)})
	}
	body, err := json.Marshal(object{
		"course": object{"profile": object{"distance_m": distance, "elevation_m": elevation}, "options": object{"marks": []any{object{"name": "Weir", "kind": "sprint", "at_m": 40000}}}},
		"riders": riders, "setups": setups, "effort": object{"kind": "fraction", "of_critical_power": 0.9},
		"ambitions": []any{object{"at": object{"mark_id": "mark-1"}}, object{"at": object{"start_m": 60000, "end_m": 68000}}, object{"at": object{"finish": true}}},
		"changes":   []any{object{"from": "4", "to": "0", "at": object{"at_m": 60000}}},
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if w := h.serve(request(http.MethodPost, "/v1/comparisons", "application/json", body)); w.Code != http.StatusOK {
			b.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
	}
}
