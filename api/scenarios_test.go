package api_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sort"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// runRace sends a scenario's request and reads its answer.
func runRace(t *testing.T, h *harness, body any) contract.Scenario {
	t.Helper()
	w := h.send(t, post(t, "/v1/scenarios", body))
	var s contract.Scenario
	if err := json.Unmarshal(w.Body.Bytes(), &s); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.1000s\n%s", w.Code, err, w.Body, h.log)
	}
	return s
}

// still are rules without any luck.
func still(more object) object {
	return with(object{"runs": 1, "form_pct": 0, "launch_s": 0, "mishaps_per_h": 0, "vary_orders": false}, more)
}

// hilly is a short course with a climb at 1.2 km and a mark after it.
func hilly() object {
	return object{
		"profile": object{"distance_m": []float64{0, 1200, 2000, 3000}, "elevation_m": []float64{10, 10, 58, 50}},
		"options": object{"smoothing": "none", "marks": []any{object{"name": "Mill", "kind": "sprint", "at_m": 2500}}},
	}
}

// able is a rider.
func able(name string, kg, wPerKg float64, more object) object {
	return with(object{"name": name, "mass_kg": kg, "critical_power_w": kg * wPerKg, "w_prime_j": 18_000.0, "max_power_w": kg * 14}, more)
}

// TestAloneInARace demands that a race of one rider is the prediction, to 0.05 %, on
// every course of the season.
func TestAloneInARace(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(root, "testdata/season/*[a-z].gpx"))
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	if os.Getenv("PARCOURS_FULL") == "" { // each course as it was drawn
		files = slices.DeleteFunc(files, func(name string) bool {
			return slices.ContainsFunc([]string{"-barometer", "-lap", "-recorded", "-rounded"}, func(of string) bool { return strings.HasSuffix(name, of+".gpx") })
		})
	}
	h := newHarness(t, engine.Config{})
	for _, file := range files {
		name := filepath.Base(file)
		body := object{
			"course": object{"course_id": analyse(t, h, readFile(t, "testdata/season/"+name))}, "conditions": object{"wind_mps": 3.0, "wind_from_deg": 250.0},
			"riders": []any{able("Nour", 64, 4.2, nil)}, "effort": object{"kind": "fraction", "of_critical_power": 0.93},
		}
		want := predict(t, h, body).Predictions[0].TimeS
		got := runRace(t, h, with(body, object{"rules": still(nil)}))
		if got.Riders[0].AloneS != want {
			t.Errorf("%s: alone_s is %v, the prediction %v s", name, got.Riders[0].AloneS, want)
		}
		raced := got.Riders[0].TimeS.Mean
		if math.Abs(raced-want) > 0.0005*want {
			t.Errorf("%s: raced in %v s, predicted %v s", name, raced, want)
		}
		t.Logf("%s: raced in %.3f s, predicted %.3f s: %+.4f %%", name, raced, want, 100*(raced/want-1))
	}
}

// eight is a field with luck, teams, orders, contests and set-ups over a hilly course.
func eight() object {
	return object{
		"course": hilly(),
		"setups": []any{object{"name": "All-round"}, object{"name": "Aero", "mass_kg": 9.0, "cda_change_m2": -0.02}},
		"riders": []any{
			able("Nour", 60, 4.4, object{"team": "Mill", "orders": []any{object{"do": "attack", "at": object{"at_m": 1300.0}, "for_s": 60}}}),
			able("Bram", 84, 3.9, object{"team": "Mill", "setup": "Aero", "orders": []any{object{"do": "sprint", "at": object{"mark_id": "mark-1"}}}}),
			able("Isa", 68, 4.1, object{"team": "Weir", "orders": []any{object{"do": "lead_out", "at": object{"finish": true}, "for_rider": "Tilo", "from_m": 400}}}),
			able("Tilo", 76, 4.1, object{"team": "Weir", "orders": []any{object{"do": "save", "at": object{"at_m": 2400.0}}}}),
			able("Ove", 71, 3.7, object{"orders": []any{object{"do": "sit_in"}}}),
			able("Mira", 57, 4.0, object{"effort": object{"kind": "power", "power_w": 215}}),
			able("Jon", 90, 3.5, nil),
			able("Sara", 66, 4.2, object{"setup": "Aero", "team": "Fen"}),
		},
		"contests": []any{
			object{"name": "Sprints", "best_of_team": 1, "scores": []any{
				object{"by": "crossing", "at": object{"mark_id": "mark-1"}, "points": []float64{5, 3, 1}}, object{"by": "finish", "points": []float64{10, 6, 3.5}},
			}},
			object{"name": "Hill", "scores": []any{object{"by": "section_time", "at": object{"start_m": 1200.0, "end_m": 2000.0}, "points": []float64{4, 2}}}},
		},
		"rules": object{"runs": 20, "seed": 5, "mishaps_per_h": 1.0},
	}
}

// byName brings all that is told of riders into the order of their names.
func byName(s *contract.Scenario) {
	order := make([]int, len(s.Field))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return *s.Field[order[a]].Name < *s.Field[order[b]].Name })
	rank := make([]int, len(order))
	for r, i := range order {
		rank[i] = r
	}
	s.Field, s.Riders = reordered(s.Field, order), reordered(s.Riders, order)
	for i := range s.Riders {
		s.Riders[i].RiderIndex = i
	}
	rerank(&s.Favourite, rank)
	for k := range s.Lines {
		s.Lines[k].Riders = reordered(s.Lines[k].Riders, order)
		for i := range s.Lines[k].Riders {
			s.Lines[k].Riders[i].RiderIndex = i
		}
	}
	for k := range s.Climbs {
		s.Climbs[k].Riders = reordered(s.Climbs[k].Riders, order)
		for i := range s.Climbs[k].Riders {
			s.Climbs[k].Riders[i].RiderIndex = i
		}
	}
	for k := range s.Contests {
		rerank(&s.Contests[k].Favourite, rank)
		for i := range s.Contests[k].Riders {
			*s.Contests[k].Riders[i].RiderIndex = rank[*s.Contests[k].Riders[i].RiderIndex]
		}
	}
	for _, l := range s.TypicalRun.Lines {
		for _, g := range l.Groups {
			for i := range g.RiderIndices {
				g.RiderIndices[i] = rank[g.RiderIndices[i]]
			}
		}
	}
	for i := range s.TypicalRun.Events {
		s.TypicalRun.Events[i].RiderIndex = rank[s.TypicalRun.Events[i].RiderIndex]
	}
	s.Duel.Heavier.RiderIndex, s.Duel.Lighter.RiderIndex = rank[s.Duel.Heavier.RiderIndex], rank[s.Duel.Lighter.RiderIndex]
	s.Assumptions = nil
}

// rerank brings the indices of a favourite into another order.
func rerank(f *contract.Favourite, rank []int) {
	f.RiderIndex = rank[f.RiderIndex]
	if f.NextIndex != nil {
		*f.NextIndex = rank[*f.NextIndex]
	}
	for i, l := range f.LevelIndices {
		f.LevelIndices[i] = rank[l]
	}
}

func reordered[T any](list []T, order []int) []T {
	out := make([]T, len(list))
	for r, i := range order {
		out[r] = list[i]
	}
	return out
}

// TestPermutedField demands that the order of the riders in the request changes nothing.
func TestPermutedField(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := eight()
	first := runRace(t, h, body)
	riders := slices.Clone(body["riders"].([]any))
	slices.Reverse(riders)
	body["riders"] = riders
	second := runRace(t, h, body)
	byName(&first)
	byName(&second)
	if !reflect.DeepEqual(first, second) {
		a, _ := json.Marshal(first)  //nolint:errcheck // what was read
		b, _ := json.Marshal(second) //nolint:errcheck // what was read
		i := 0
		for i < min(len(a), len(b)) && a[i] == b[i] {
			i++
		}
		t.Errorf("from byte %d on:\n%.600s\n%.600s", i, a[max(0, i-200):], b[max(0, i-200):])
	}
}

// TestSeeds demands the same bytes for the same seed, whatever the number of workers, and
// others for another seed.
func TestSeeds(t *testing.T) {
	var bodies [][]byte
	for _, workers := range []int{1, 2, 5} {
		h := newHarness(t, engine.Config{Workers: workers})
		bodies = append(bodies, h.send(t, post(t, "/v1/scenarios", eight())).Body.Bytes())
	}
	if !bytes.Equal(bodies[0], bodies[1]) || !bytes.Equal(bodies[0], bodies[2]) {
		t.Error("the answer depends on the number of workers")
	}
	h := newHarness(t, engine.Config{})
	other := eight()
	other["rules"] = with(other["rules"].(object), object{"seed": 6})
	a, b := runRace(t, h, eight()), runRace(t, h, other)
	if a.Riders[0].TimeS.Mean == b.Riders[0].TimeS.Mean {
		t.Error("another seed is the same luck")
	}
}

// TestPostedAgain demands that the field of an answer, drawn riders and all, posted as
// riders races the same race, and so do the assumptions posted as values.
func TestPostedAgain(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := eight()
	body["riders"] = []any{able("Nour", 60, 4.4, object{"orders": []any{object{"do": "lead_out", "at": object{"finish": true}, "for_rider": "Bunch 2"}}}), able("", 70, 4, nil)}
	body["drawn"] = []any{object{"name": "Bunch", "count": 5, "setup": "Aero", "team": "Fen"}, object{"name": "Light", "count": 2, "mass_kg": object{"mean": 55, "sd": 2}}}
	body["rules"] = object{}
	first := runRace(t, h, body)
	if len(first.Field) != 9 || *first.Field[3].Name != "Bunch 2" || *first.Field[1].Name != "Rider 2" {
		t.Fatalf("the field is %+v", first.Field)
	}
	again := with(body, object{"riders": first.Field})
	delete(again, "drawn")
	same(t, "the field posted", first, runRace(t, h, again))

	full := with(body, object{"effort": object{"kind": "fraction"}, "conditions": object{}})
	for _, a := range first.Assumptions {
		placeDeep(t, full, a.Pointer, a.Value)
	}
	second := runRace(t, h, full)
	if len(first.Assumptions) < 30 || len(second.Assumptions) > 0 {
		t.Errorf("%d assumptions, then %+v", len(first.Assumptions), second.Assumptions)
	}
	same(t, "the assumptions posted", first, second)
}

// placeDeep is place, which makes objects that aren't there yet.
func placeDeep(t *testing.T, body object, pointer string, value float64) {
	t.Helper()
	segments := strings.Split(strings.TrimPrefix(pointer, "#/"), "/")
	for i := 1; i < len(segments); i++ {
		if at, ok := valueAt(body, segments[:i-1]).(object); ok && at[segments[i-1]] == nil {
			at[segments[i-1]] = object{}
		}
	}
	place(t, body, pointer, value)
}

func valueAt(v any, segments []string) any {
	for _, s := range segments {
		if list, ok := v.([]any); ok {
			i := 0
			fmt.Sscan(s, &i) //nolint:errcheck // a pointer of ours
			v = list[i]
			continue
		}
		v = v.(object)[s]
	}
	return v
}

// same demands that two answers tell the same of riders, lines and the typical run.
func same(t *testing.T, what string, a, b contract.Scenario) {
	t.Helper()
	for _, part := range [][2]any{{a.Riders, b.Riders}, {a.Lines, b.Lines}, {a.Contests, b.Contests}, {a.TypicalRun, b.TypicalRun}, {a.Recommendation, b.Recommendation}} {
		if !reflect.DeepEqual(part[0], part[1]) {
			t.Errorf("%s, %T differs", what, part[0])
		}
	}
}

// TestFaultsOfScenarios demands the place of whatever may be wrong with a race.
func TestFaultsOfScenarios(t *testing.T) {
	h := newHarness(t, engine.Config{})
	rider := func(more string) string {
		return `"riders": [{"name": "Nour", "mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000` + more + `}]`
	}
	order := func(o string) string { return rider(`, "orders": [{"do": "sit_in"}, ` + o + `]`) }
	score := func(s string) string {
		return rider("") + `, "contests": [{"name": "A", "scores": [{"by": "finish", "points": [1]}, ` + s + `]}]`
	}
	for _, tc := range []struct{ name, body, problem, at string }{
		{"nobody", `"rules": {}`, "not-computable", "#/riders"},
		{"no W′", `"riders": [{"mass_kg": 70, "critical_power_w": 280}]`, "invalid-request", "#/riders/0/w_prime_j"},
		{"a law that needs the whole ride", rider(`, "recovery_law": "integral_2012"`), "invalid-request", "#/riders/0/recovery_law"},
		{"less than critical power", rider(`, "max_power_w": 250`), "not-computable", "#/riders/0"},
		{"a name twice", `"riders": [{"name": "A", "mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000}, {"name": "A", "mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000}]`, "not-computable", "#/riders/1/name"},
		{"the name of a drawn rider", `"riders": [{"name": "B 2", "mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000}], "drawn": [{"name": "B", "count": 2}]`, "not-computable", "#/drawn/0/name"},
		{"too many in all", rider("") + `, "drawn": [{"name": "B", "count": 200}]`, "too-many", "#/drawn"},
		{"correlations that can't be", `"drawn": [{"name": "B", "count": 2, "mass_w_per_kg_correlation": 0.9, "mass_w_prime_correlation": 0.9, "w_per_kg_w_prime_correlation": -0.9}]`, "not-computable", "#/drawn/0/mass_w_per_kg_correlation"},
		{"an unknown set-up", rider(`, "setup": "Aero"`), "not-computable", "#/riders/0/setup"},
		{"set-ups of one name", rider("") + `, "setups": [{"name": "A"}, {"name": "A"}]`, "not-computable", "#/setups/1/name"},
		{"an effort without its number", rider(`, "effort": {"kind": "power"}`), "invalid-request", "#/riders/0/effort/power_w"},
		{"an attack from nowhere", order(`{"do": "attack"}`), "invalid-request", "#/riders/0/orders/1/at"},
		{"a sprint that lasts", order(`{"do": "sprint", "at": {"finish": true}, "for_s": 9}`), "invalid-request", "#/riders/0/orders/1/for_s"},
		{"sitting in somewhere", order(`{"do": "sit_in", "at": {"finish": true}}`), "invalid-request", "#/riders/0/orders/1/at"},
		{"a lead-out of nobody", order(`{"do": "lead_out", "at": {"finish": true}}`), "invalid-request", "#/riders/0/orders/1/for_rider"},
		{"a lead-out of a stranger", order(`{"do": "lead_out", "at": {"finish": true}, "for_rider": "Bram"}`), "not-computable", "#/riders/0/orders/1/for_rider"},
		{"a lead-out of oneself", order(`{"do": "lead_out", "at": {"finish": true}, "for_rider": "Nour"}`), "not-computable", "#/riders/0/orders/1/for_rider"},
		{"sitting in and saving", order(`{"do": "save", "at": {"finish": true}}`), "not-computable", "#/riders/0/orders/1"},
		{"two places at once", order(`{"do": "sprint", "at": {"finish": true, "at_m": 5}}`), "invalid-request", "#/riders/0/orders/1/at"},
		{"a line beyond", order(`{"do": "sprint", "at": {"at_m": 3100}}`), "not-computable", "#/riders/0/orders/1/at/at_m"},
		{"a line at the start", order(`{"do": "sprint", "at": {"at_m": 0}}`), "not-computable", "#/riders/0/orders/1/at"},
		{"an unknown mark", order(`{"do": "sprint", "at": {"mark_id": "weir"}}`), "not-computable", "#/riders/0/orders/1/at/mark_id"},
		{"points nowhere", score(`{"by": "crossing", "points": [1]}`), "invalid-request", "#/contests/0/scores/1/at"},
		{"a finish elsewhere", score(`{"by": "finish", "at": {"at_m": 90}, "points": [1]}`), "invalid-request", "#/contests/0/scores/1/at"},
		{"a section of a line", score(`{"by": "section_time", "at": {"mark_id": "mark-1"}, "points": [1]}`), "not-computable", "#/contests/0/scores/1/at"},
		{"contests of one name", rider("") + `, "contests": [{"name": "A", "scores": [{"by": "finish", "points": [1]}]}, {"name": "A", "scores": [{"by": "finish", "points": [1]}]}]`, "not-computable", "#/contests/1/name"},
		{"an end beyond", rider("") + `, "end_m": 4000`, "not-computable", "#/end_m"},
		{"a wind from nowhere", rider("") + `, "conditions": {"wind_mps": 3, "wind_from_deg": 20}`, "not-computable", "#/conditions/wind_mps"},
		{"shelter twice", rider("") + `, "conditions": {"shelter": 0.7}`, "not-computable", "#/conditions/shelter"},
		{"too little power", rider(`, "effort": {"kind": "power", "power_w": 1}`), "cannot-climb", "#/riders/0"},
		{"too much in little time", rider(`, "effort": {"kind": "time", "time_s": 1}`), "not-computable", "#/riders/0/effort/time_s"},
		{"too many runs", rider("") + `, "rules": {"runs": 2001}`, "invalid-request", "#/rules/runs"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			course, err := json.Marshal(hilly())
			if err != nil {
				t.Fatal(err)
			}
			w := h.send(t, request(http.MethodPost, "/v1/scenarios", "application/json", []byte(`{"course": `+string(course)+`, `+tc.body+`}`)))
			p := checkProblem(t, w, tc.problem)
			if fs := faultsOf(t, w.Body.Bytes()); len(fs) == 0 || fs[0].Pointer != tc.at {
				t.Errorf("%v, want %s", p, tc.at)
			}
		})
	}
}

// TestOrdersCount demands that each order does what it says, over a race without luck
// but for the places.
func TestOrdersCount(t *testing.T) {
	h := newHarness(t, engine.Config{})
	course := object{
		"profile": object{"distance_m": []float64{0, 5000, 5800, 12_000}, "elevation_m": []float64{10, 10, 58, 30}},
		"options": object{"smoothing": "none", "marks": []any{object{"name": "Mill", "kind": "sprint", "at_m": 8000}}},
	}
	raced := func(orders ...any) contract.Scenario {
		riders := []any{able("Nour", 66, 4.0, object{"orders": orders})}
		for i, name := range []string{"Bram", "Isa", "Tilo", "Ove", "Mira", "Jon", "Sara"} {
			riders = append(riders, able(name, 62+3*float64(i), 3.9+0.02*float64(i), object{"orders": []any{object{"do": "share_work"}}}))
		}
		return runRace(t, h, object{
			"course": course, "riders": riders, "rules": object{"runs": 24, "form_pct": 1},
			"contests": []any{object{"name": "Mill", "scores": []any{object{"by": "crossing", "at": object{"mark_id": "mark-1"}, "points": []float64{3, 2, 1}}}}},
		})
	}
	points := func(s contract.Scenario) float64 {
		for _, p := range s.Contests[0].Riders {
			if p.Name == "Nour" {
				return p.Points.Mean
			}
		}
		return math.NaN()
	}
	events := func(s contract.Scenario, kind contract.RaceEventKind, rider string) (n int) {
		for _, e := range s.TypicalRun.Events {
			if e.Kind == kind && e.Rider == rider {
				n++
			}
		}
		return n
	}
	plain := raced(object{"do": "share_work"})
	me := plain.Riders[0]
	told := func(what string, s contract.Scenario) {
		r := s.Riders[0]
		t.Logf("%-10s front %5.1f s, sheltered %6.1f s, %5.1f W, least %6.0f J, place %.2f; %.2f points; Isa place %.2f", what, r.FrontS.Mean, r.ShelteredS.Mean, r.PowerW.Mean, r.WBalanceMinJ.Mean, r.MeanPlace.Mean, points(s), s.Riders[2].MeanPlace.Mean)
	}
	told("share_work", plain)

	sitting := raced(object{"do": "sit_in"})
	told("sit_in", sitting)
	if r := sitting.Riders[0]; !(r.FrontS.Mean < 0.5*me.FrontS.Mean && r.PowerW.Mean < me.PowerW.Mean) {
		t.Errorf("sitting in: %v s at the front and %v W, sharing the work %v s and %v W", r.FrontS.Mean, r.PowerW.Mean, me.FrontS.Mean, me.PowerW.Mean)
	}
	attacking := raced(object{"do": "attack", "at": object{"climb_id": "climb-1"}, "for_s": 120})
	told("attack", attacking)
	if events(attacking, contract.Attacked, "Nour") != 1 || !(attacking.Riders[0].WBalanceMinJ.Mean < me.WBalanceMinJ.Mean || attacking.Riders[0].ShelteredS.Mean < me.ShelteredS.Mean) {
		t.Errorf("attacking: %d attacks, %+v, sharing the work %+v", events(attacking, contract.Attacked, "Nour"), attacking.Riders[0], me)
	}
	sprinting := raced(object{"do": "sprint", "at": object{"mark_id": "mark-1"}})
	told("sprint", sprinting)
	if events(sprinting, contract.Launched, "Nour") < 2 || points(sprinting) < points(plain)+0.5 {
		t.Errorf("sprinting: %d launches and %v points, sharing the work %v points", events(sprinting, contract.Launched, "Nour"), points(sprinting), points(plain))
	}
	saving := raced(object{"do": "save", "at": object{"at_m": 11_000}})
	told("save", saving)
	if r := saving.Riders[0]; !(r.FrontS.Mean < me.FrontS.Mean) {
		t.Errorf("saving: %v s at the front, sharing the work %v s", r.FrontS.Mean, me.FrontS.Mean)
	}
	leading := raced(object{"do": "lead_out", "at": object{"finish": true}, "for_rider": "Isa", "from_m": 1500})
	told("lead_out", leading)
	if r := leading.Riders[0]; !(r.MeanPlace.Mean > me.MeanPlace.Mean) || leading.Riders[2].MeanPlace.Mean >= plain.Riders[2].MeanPlace.Mean {
		t.Errorf("leading out: place %v, sharing the work %v; who is led %v, else %v", r.MeanPlace.Mean, me.MeanPlace.Mean, leading.Riders[2].MeanPlace.Mean, plain.Riders[2].MeanPlace.Mean)
	}
}

// TestNumbersOfARace demands that what is told of a race that starts on the way and loses
// riders holds together.
func TestNumbersOfARace(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := eight()
	body["start_m"], body["end_m"] = 300.0, 2900.0
	body["riders"] = append(body["riders"].([]any), able("Weak", 120, 1.1, object{"effort": object{"kind": "power", "power_w": 130}}))
	body["rules"] = object{"runs": 40, "form_pct": 8}
	s := runRace(t, h, body)
	chances := []contract.Chance{}
	wins := 0.0
	for _, r := range s.Riders {
		chances = append(chances, r.Finish, r.Win, r.Podium)
		wins += r.Win.Value
		shares := 0.0
		for _, p := range r.Places {
			shares += p
		}
		if math.Abs(shares-r.Finish.Value) > 1e-4 || r.Podium.Value < r.Win.Value-1e-9 {
			t.Errorf("%s: places sum to %v, finishes %v, podium %v, win %v", r.Rider, shares, r.Finish.Value, r.Podium.Value, r.Win.Value)
		}
	}
	if math.Abs(wins-1) > 1e-4 {
		t.Errorf("the odds to win sum to %v", wins)
	}
	last := 300.0
	for i, l := range s.Lines {
		at := l.Place.EndM
		if l.End != nil && *l.End == contract.RaceLineEndFoot {
			at = l.Place.StartM
		}
		if at < last || at > 2900 || l.Place.ToFinishM != 2900-l.Place.StartM || len(s.TypicalRun.Lines[i].Groups) == 0 {
			t.Errorf("the line %+v after %v m", l.Place, last)
		}
		last = at
		sizes := 0.0
		for _, size := range l.FrontSizes {
			sizes += size.Share
		}
		if math.Abs(sizes-1) > 1e-4 {
			t.Errorf("the sizes of the front group at %v m sum to %v", at, sizes)
		}
		for _, r := range l.Riders {
			chances = append(chances, r.Front)
		}
	}
	if last != 2900 {
		t.Errorf("the last line is at %v m", last)
	}
	for _, c := range chances {
		if want := math.Sqrt(c.Value * (1 - c.Value) / 40); math.Abs(c.StandardError-want) > 1e-5 || c.Low > c.Value+1e-9 || c.High < c.Value-1e-9 || c.Low == c.High {
			t.Errorf("%+v", c)
		}
	}
	if n := len(s.Posts); n != 60 || s.Posts[0].AtM < 300 || math.Abs(s.Posts[n-1].AtM-2900) > 0.001 {
		t.Errorf("%d posts from %v m", n, s.Posts[0].AtM)
	}
	if d := s.Decisive; d == nil || d.StartM < 300 || math.Abs(d.StartM+d.ToFinishM-2900) > 0.002 || !strings.Contains(d.Name, "climb") && !strings.Contains(d.Name, kilometre(d.StartM)) {
		t.Errorf("the decisive stretch is %+v", d)
	}
	for _, c := range s.Climbs[0].Riders {
		if c.GapFootS != nil && c.GapTopS != nil && c.GainedS != nil && s.Riders[c.RiderIndex].Finish.Value == 1 && math.Abs(c.GapFootS.Mean-c.GapTopS.Mean-c.GainedS.Mean) > 0.002 {
			t.Errorf("%s gains %v s from %v to %v", c.Rider, c.GainedS.Mean, c.GapFootS.Mean, c.GapTopS.Mean)
		}
	}
	for _, c := range s.Contests {
		sum := 0.0
		for _, p := range c.Riders {
			sum += p.Points.Mean
		}
		if want := map[string]float64{"Sprints": 28.5, "Hill": 6}[c.Name]; math.Abs(sum-want) > 0.01 {
			t.Errorf("%s: %v points in all, want %v", c.Name, sum, want)
		}
	}
}

// kilometre is a position as it is told in words.
func kilometre(m float64) string { return fmt.Sprintf("%.2f km", math.Round(m/10)/100) }

// TestScoredLinesAreContested demands that a line with points is raced for by whoever
// can, and one without isn't.
func TestScoredLinesAreContested(t *testing.T) {
	h := newHarness(t, engine.Config{})
	launches := func(more object) (n int) {
		s := runRace(t, h, with(object{
			"course": hilly(), "drawn": []any{object{"name": "Bunch", "count": 8}}, "rules": object{"runs": 1, "vary_orders": false},
		}, more))
		for _, e := range s.TypicalRun.Events {
			if e.Kind == contract.Launched && e.AtM < 2500 {
				n++
			}
		}
		return n
	}
	points := object{"contests": []any{object{"name": "A", "scores": []any{object{"by": "crossing", "at": object{"mark_id": "mark-1"}, "points": []float64{1}}}}}}
	if plain, scored := launches(nil), launches(points); plain > 0 || scored == 0 {
		t.Errorf("%d sprints without points, %d with", plain, scored)
	}
}

// TestEveryRuleCounts demands that each rule changes what the runs come to.
func TestEveryRuleCounts(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, "testdata/season/brambleseth-time-trial.gpx"))
	raced := func(rules object) []contract.RaceResult {
		return runRace(t, h, object{
			"course": object{"course_id": id}, "end_m": 5000, "conditions": object{"wind_mps": 9.0, "wind_from_deg": 200.0},
			"drawn": []any{object{"name": "Bunch", "count": 15}}, "rules": with(object{"runs": 4}, rules),
		}).Riders
	}
	plain := raced(nil)
	for name, value := range map[string]any{
		"seed": 2, "runs": 5, "step_s": 0.5, "abreast": 1, "echelons": true, "shelter": false, "form_pct": 0, "launch_s": 3, "mishaps_per_h": 5, "vary_orders": false,
	} {
		if reflect.DeepEqual(raced(object{name: value}), plain) {
			t.Errorf("%s: %v changes nothing", name, value)
		}
	}
	if reflect.DeepEqual(raced(object{"mishaps_per_h": 5}), raced(object{"mishaps_per_h": 5, "mishap_s": 90})) {
		t.Error("mishap_s changes nothing")
	}
}
