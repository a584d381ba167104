package api_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/wording"
	"parcours.example/api/contract"
	"parcours.example/internal/seeded"
	"parcours.example/service/engine"
)

// aids sends a request for aids and reads its answer.
func aids(t *testing.T, h *harness, body any) contract.Aids {
	t.Helper()
	w := h.send(t, post(t, "/v1/aids", body))
	var a contract.Aids
	if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
	}
	return a
}

// gated asks for three aids on laps with a gate.
func gated(t testing.TB, h *harness) object {
	return object{
		"course": object{"course_id": analyse(t, h, readFile(t, "testdata/season/morvask-laps-and-climb.gpx"))},
		"riders": []any{object{"name": "Nour", "mass_kg": 61.0}, object{"name": "Bram", "mass_kg": 82.0, "height_m": 1.88}},
		"setups": []any{object{}}, "conditions": object{"wind_mps": 3.0, "wind_from_deg": 250.0},
		"effort": object{"kind": "power_per_mass", "w_per_kg": 3.4},
		"aids": []any{
			object{"name": "Fairing", "drag_factor": 0.75, "duration_s": 15.0, "available_from": []any{"mark-1"}},
			object{"name": "Feather", "mass_change_kg": -7.0, "duration_s": 15.0},
			object{"name": "Veil", "wake_factor": 0.0, "duration_s": 10.0, "available_from": []any{"mark-3"}},
		},
	}
}

// TestRepostedAids demands that posting every assumption as a value gives the same numbers.
func TestRepostedAids(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := gated(t, h)
	first := aids(t, h, body)
	for _, a := range first.Assumptions {
		place(t, body, a.Pointer, a.Value)
	}
	second := aids(t, h, body)
	if len(first.Assumptions) < 15 || len(second.Assumptions) > 0 {
		t.Errorf("%d assumptions, then %v", len(first.Assumptions), second.Assumptions)
	}
	if !reflect.DeepEqual(first.Rides, second.Rides) || first.Recommendation != second.Recommendation {
		t.Error("other numbers with the assumptions posted")
	}
}

// TestAidsOfTheContract demands of an answer what the contract says of it.
func TestAidsOfTheContract(t *testing.T) {
	h := newHarness(t, engine.Config{})
	got := aids(t, h, gated(t, h))
	if len(got.Rides) != 2 || len(got.Model) == 0 || len(got.Cautions) < 4 || len(got.Aids[0].Earned) != 6 || len(got.Aids[2].Without) < 3 {
		t.Fatalf("%+v", got)
	}
	for _, r := range got.Rides {
		for k, g := range *r.Aids {
			heldAid(t, &g, &got, k)
		}
		last := math.Inf(-1)
		for _, u := range r.Joint.Uses {
			if u.AtM < last || (u.EarnedAtM != nil && u.AtM < *u.EarnedAtM) {
				t.Errorf("%+v", r.Joint.Uses)
			}
			last = u.AtM
		}
	}
}

// heldAid holds what is said of an aid against each other.
func heldAid(t *testing.T, g *contract.AidGain, a *contract.Aids, k int) {
	t.Helper()
	if n := len(g.Places.AtM); n == 0 || n > 500 || n != len(g.Places.GainS) {
		t.Errorf("%s: %d places", g.Aid, n)
	}
	if g.Places.AtM[0] != *g.FirstAtM || (len(a.Aids[k].Earned) > 0 && a.Aids[k].Earned[0].StartM != *g.FirstAtM) {
		t.Errorf("%s: from %v m on, earned at %v", g.Aid, *g.FirstAtM, a.Aids[k].Earned)
	}
	if a.Aids[k].WakeFactor == 1 && slices.Max(g.Places.GainS) > g.Best.GainS+0.001 {
		t.Errorf("%s: the best of %v is %+v", g.Aid, slices.Max(g.Places.GainS), g.Best)
	}
	behind := 0.0
	for _, u := range *g.RunnersUp {
		if u.BehindS < behind || u.FromM > u.AtM || u.ToM < u.AtM || u.EndsM <= u.AtM {
			t.Errorf("%s: %+v", g.Aid, u)
		}
		behind = u.BehindS
	}
	for _, l := range *g.Lines {
		if math.Abs(l.AheadM-l.GainS*l.SpeedMps) > 0.02 || math.Abs(l.AtM+l.BeforeM-l.Line.EndM) > 0.01 {
			t.Errorf("%s: %+v", g.Aid, l)
		}
	}
}

// TestRecommendedAidsAreTold demands that each figure of the recommendation stands in the
// answer.
func TestRecommendedAidsAreTold(t *testing.T) {
	h := newHarness(t, engine.Config{})
	figures := regexp.MustCompile(`\d+(?:[.:]\d+)* (?:km/h|km|kJ|s|m|W)\b|\d+:\d+`)
	for _, at := range []any{object{"finish": true}, object{"mark_id": "mark-3", "pass": 2}, object{"climb_id": "climb-5"}, object{"at_m": 7000.0}} {
		body := gated(t, h)
		body["at"] = at
		w := h.send(t, post(t, "/v1/aids", body))
		var got map[string]any
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK {
			t.Fatalf("status %d, %v: %.500s", w.Code, err, w.Body)
		}
		said := got["recommendation"].(string)
		delete(got, "recommendation")
		told := map[string]bool{}
		written(got, told)
		for _, f := range figures.FindAllString(said, -1) {
			if !told[f] {
				t.Errorf("%v: nothing in the answer is %s: %s", at, f, said)
			}
		}
	}
}

// written notes how every number of an answer may be written, and the figures of its words.
func written(v any, told map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		for _, inside := range v {
			written(inside, told)
		}
	case []any:
		for _, inside := range v {
			written(inside, told)
		}
	case string:
		for _, f := range regexp.MustCompile(`\d+(?:\.\d+)? k?m\b`).FindAllString(v, -1) {
			told[f] = true
		}
	case float64:
		for _, f := range []string{
			wording.Position(v), wording.Metres(v), wording.ShortLength(v), wording.Hundredths(v), wording.Seconds(v),
			wording.Clock(v), wording.Watts(v), wording.Kilojoules(v), wording.SpeedChange(v),
		} {
			told[f] = true
		}
	}
}

// TestFaultsOfAids demands the place of what can't be met.
func TestFaultsOfAids(t *testing.T) {
	h := newHarness(t, engine.Config{})
	course := `{"profile": {"distance_m": [0, 4000]}, "options": {"smoothing": "none", "marks": [{"name": "Weir", "kind": "gate", "at_m": 3000}]}}`
	for pointer, c := range map[string]struct{ problem, more string }{
		"#/aids/1/available_from/1": {"not-computable", `"aids": [{"duration_s": 5}, {"duration_s": 5, "available_from": ["mark-1", "mark-2"]}]`},
		"#/aids/0/available_from/0": {"not-computable", `"end_m": 2000, "aids": [{"duration_s": 5, "available_from": ["mark-1"]}]`},
		"#/aids/0/mass_change_kg":   {"not-computable", `"aids": [{"duration_s": 5, "mass_change_kg": -70}]`},
		"#/at/at_m":                 {"not-computable", `"at": {"at_m": 4100}, "aids": [{"duration_s": 5}]`},
		"#/at":                      {"invalid-request", `"at": {"at_m": 100, "finish": true}, "aids": [{"duration_s": 5}]`},
		"#/aids":                    {"invalid-request", `"aids": []`},
		"#/follower_gap_m":          {"invalid-request", `"aids": [{"duration_s": 5}], "follower_gap_m": 4`},
	} {
		body := fmt.Sprintf(`{"course": %s, "riders": [{"mass_kg": 72}], "effort": {"kind": "power", "power_w": 200}, %s}`, course, c.more)
		w := h.send(t, request(http.MethodPost, "/v1/aids", "application/json", []byte(body)))
		checkProblem(t, w, c.problem)
		if faults := faultsOf(t, w.Body.Bytes()); len(faults) != 1 || faults[0].Pointer != pointer {
			t.Errorf("%s: %v", pointer, faults)
		}
	}
}

// TestAPassIsAsked demands that a line of several passes is told apart.
func TestAPassIsAsked(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := gated(t, h)
	body["at"] = object{"mark_id": "mark-3"}
	w := h.send(t, post(t, "/v1/aids", body))
	if p := checkProblem(t, w, "not-computable"); !strings.Contains(fmt.Sprint(p["detail"]), "5 passes") {
		t.Errorf("%v", p)
	}
}

// TestAidsBoundaries demands the limit of aids as predictions, with both numbers.
func TestAidsBoundaries(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limits := contractLimits(t)
	body := func(riders, aids int) []byte {
		one := func(int) string { return `{"mass_kg": 70}` }
		aid := func(int) string { return `{"drag_factor": 0.8, "duration_s": 5}` }
		return rideRequest("", list(riders, one), `"effort": {"kind": "power", "power_w": 200}, "aids": `+list(aids, aid))
	}
	most := limits["predictions"] / (1 + limits["aid_cost"])
	if w := h.send(t, request(http.MethodPost, "/v1/aids", "application/json", body(most, 1))); w.Code != http.StatusOK {
		t.Errorf("as many as are taken: status %d: %.300s", w.Code, w.Body)
	}
	w := h.send(t, request(http.MethodPost, "/v1/aids", "application/json", body(most+1, 1)))
	if p := checkProblem(t, w, "too-many"); p["limit"] != float64(limits["predictions"]) || p["actual"] != float64((most+1)*(1+limits["aid_cost"])) {
		t.Errorf("limit %v, actual %v", p["limit"], p["actual"])
	}
	long := rideRequest("", `[{"mass_kg": 70}]`, `"effort": {"kind": "power", "power_w": 200}, "aids": `+list(6, func(int) string { return `{"wake_factor": 0, "duration_s": 181}` }))
	w = h.send(t, request(http.MethodPost, "/v1/aids", "application/json", long))
	if p := checkProblem(t, w, "too-many"); p["actual"] != float64(1+6*4*3*limits["aid_cost"]) {
		t.Errorf("six long ones: actual %v", p["actual"])
	}
	w = h.send(t, request(http.MethodPost, "/v1/aids", "application/json", body(1, limits["aids"]+1)))
	checkProblem(t, w, "too-many")
}

// BenchmarkAids measures the whole call for one rider and one aid on a cached course.
func BenchmarkAids(b *testing.B) {
	h := newHarness(b, engine.Config{Workers: 1})
	body := gated(b, h)
	body["riders"], body["aids"] = body["riders"].([]any)[:1], body["aids"].([]any)[:1]
	encoded, err := json.Marshal(body)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if w := h.serve(request(http.MethodPost, "/v1/aids", "application/json", encoded)); w.Code != http.StatusOK {
			b.Fatalf("status %d: %.300s", w.Code, w.Body)
		}
	}
}

// TestAnyAids demands of random requests an answer within the contract, and a gain nowhere
// above the best.
func TestAnyAids(t *testing.T) {
	h := newHarness(t, engine.Config{})
	first := seeded.First(t)
	answered := 0
	n := seeded.Cases(400)
	for i := range n {
		seed := first + uint64(i)
		r := rand.New(rand.NewPCG(seed, 9))
		w := h.send(t, post(t, "/v1/aids", anyAids(r)))
		if w.Code == http.StatusUnprocessableEntity {
			continue
		}
		var a contract.Aids
		if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil || w.Code != http.StatusOK {
			t.Fatalf("seed %d: status %d, %v: %.500s", seed, w.Code, err, w.Body)
		}
		answered++
		for k, g := range *a.Rides[0].Aids {
			if g.Problem == nil && len(g.Places.AtM) > 0 && g.Best != nil {
				heldAid(t, &g, &a, k)
			}
		}
		if strings.Contains(a.Recommendation, "NaN") || a.Recommendation == "" {
			t.Errorf("seed %d: %q", seed, a.Recommendation)
		}
	}
	if 2*answered < n {
		t.Errorf("%d of %d answered", answered, n)
	}
}

// anyAids is a random request for one rider.
func anyAids(r *rand.Rand) object {
	n := 2 + r.IntN(30)
	distance, elevation := []any{0.0}, []any{100.0}
	atM, zM := 0.0, 100.0
	for range n {
		length := 50 + 900*r.Float64()
		atM, zM = atM+length, zM+length*(0.14*r.Float64()-0.07)
		distance, elevation = append(distance, atM), append(elevation, max(zM, -400))
	}
	marks := []any{
		object{"name": "Weir", "kind": "gate", "at_m": atM * r.Float64()},
		object{"name": "Mill", "kind": "sprint", "at_m": atM * r.Float64()},
	}
	var aids []any
	for range 1 + r.IntN(4) {
		a := object{"duration_s": 1 + 90*r.Float64(), "drag_factor": 0.2 + 1.2*r.Float64(), "mass_change_kg": float64(r.IntN(30) - 20)}
		if r.IntN(3) == 0 {
			a = object{"duration_s": 1 + 30*r.Float64(), "wake_factor": r.Float64()}
		}
		if r.IntN(2) == 0 {
			a["available_from"] = []any{"mark-1", "mark-2"}[:1+r.IntN(2)]
		}
		aids = append(aids, a)
	}
	return object{
		"course": object{"profile": object{"distance_m": distance, "elevation_m": elevation}, "options": object{"smoothing": "none", "marks": marks}},
		"riders": []any{object{"mass_kg": 50 + 40*r.Float64()}}, "effort": object{"kind": "power", "power_w": 200 + 200*r.Float64()},
		"conditions": object{"indoor": r.IntN(2) == 0, "coast_above_mps": 8 + 10*r.Float64(), "start_speed_mps": 10 * r.Float64()},
		"aids":       aids, "at": []any{object{"finish": true}, object{"mark_id": "mark-2"}, object{"at_m": atM * r.Float64()}}[r.IntN(3)],
	}
}
