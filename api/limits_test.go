package api_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"parcours.example/analysis/aid"
	"parcours.example/analysis/course"
	"parcours.example/analysis/picture"
	"parcours.example/analysis/track"
	"parcours.example/service/engine"
)

// contractLimits returns the contract's x-limits.
func contractLimits(t testing.TB) map[string]int {
	t.Helper()
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	limits := map[string]int{}
	for name, value := range doc.Extensions["x-limits"].(map[string]any) {
		limits[name] = int(value.(float64))
	}
	return limits
}

// codedLimits are the limits of the contract that code enforces; service/engine/limits.go
// leads to each.
func codedLimits() map[string]int {
	e, f := engine.DefaultLimits(), track.DefaultLimits()
	return map[string]int{
		"header_bytes": engine.MostHeaderBytes, "body_bytes": engine.MostBodyBytes, "decoded_bytes": f.Bytes,
		"packed_free_bytes": track.PlentifulBytes, "packed_ratio": track.MostPacked, "zstd_window_bytes": engine.MostWindowBytes,
		"codings": engine.MostCodings, "held_bytes": engine.DefaultHeldBytes, "json_depth": engine.MostJSONDepth,
		"json_names": engine.MostJSONNames, "json_name_bytes": engine.MostJSONNameBytes, "json_values": engine.MostJSONValues, "errors": engine.MostFaults,
		"points": f.Points, "marks": f.Marks, "xml_depth": f.Depth, "xml_elements": f.Elements, "file_parts": f.Parts, "name_runes": f.NameRunes,
		"course_m": course.LongestM, "course_nodes": course.MostNodes, "profile_samples": e.ProfileSamples,
		"riders": engine.MostRiders, "predictions": e.Predictions, "splits": e.Splits, "trace_samples": e.Samples, "picture_rides": picture.MostRides,
		"plan_cost": engine.PlanCost, "plan_samples": e.PlanSamples, "launches": e.Launches, "aids": aid.MostAids, "aid_cost": engine.AidCost, "aid_passes": engine.MostAidPasses,
		"rider_steps": e.RiderSteps, "rider_lines": e.RiderLines, "scores": engine.MostScores, "rider_orders": engine.MostOrders,
		"ride_steps": e.RideSteps, "comparison_rides": e.ComparisonRides, "itinerary_rows": engine.MostRows,
		"season_bytes": e.SeasonBytes, "season_rounds": engine.MostRounds, "season_predictions": e.SeasonPredictions, "seasons": e.Seasons, "archive_entries": engine.MostEntries,
	}
}

// schemaLimits are the limits that bounds in the contract's schemas are; requests are held
// against the schemas as they stand.
var schemaLimits = map[string]string{
	"name_runes":      "CourseOptions.name CourseOptions.lap_line MarkInput.name AssemblyRequest.name Rider.name Setup.name ScenarioRider.name Contest.name Aid.name Ambition.name",
	"request_marks":   "CourseOptions.marks AssemblyRequest.marks",
	"profile_samples": "ProfileInput.distance_m ProfileInput.elevation_m",
	"riders":          "PredictionRequest.riders PlanRequest.riders ScenarioRequest.riders LaunchRequest.riders AidsRequest.riders ComparisonRequest.riders SeasonRequest.riders SeasonQuestion.riders DrawnGroup.count",
	"setups":          "PredictionRequest.setups PlanRequest.setups ScenarioRequest.setups LaunchRequest.setups AidsRequest.setups ComparisonRequest.setups SeasonRequest.setups SeasonQuestion.setups",
	"surfaces":        "PredictionRequest.surfaces PlanRequest.surfaces ScenarioRequest.surfaces LaunchRequest.surfaces AidsRequest.surfaces ComparisonRequest.surfaces",
	"steps":           "Effort.steps",
	"repeat":          "AssemblyPart.repeat CourseOptions.laps",
	"assembly_parts":  "AssemblyRequest.parts",
	"aids":            "AidsRequest.aids",
	"launch_lines":    "LaunchRequest.lines",
	"efforts":         "CapabilityRequest.efforts",
	"drawn":           "ScenarioRequest.drawn",
	"runs":            "RaceRules.runs",
	"contests":        "ScenarioRequest.contests",
	"scores":          "Contest.scores",
	"orders":          "ScenarioRider.orders DrawnGroup.orders",
	"ambitions":       "ComparisonRequest.ambitions",
	"changes":         "ComparisonRequest.changes",
	"season_rounds":   "SeasonRequest.rounds",
	"course_m":        "CourseOptions.start_m CourseOptions.end_m MarkInput.at_m AssemblyPart.from_m AssemblyPart.to_m",
}

// toldBy are the calls whose descriptions tell of a limit that no schema shows.
var toldBy = map[string]string{
	"predictions":      "predict plan placeAids",
	"plan_cost":        "plan compare",
	"ride_steps":       "predict plan placeAids compare",
	"comparison_rides": "compare",
	"aid_cost":         "placeAids",
	"aid_passes":       "placeAids",
}

// TestLimitsAreTold demands that whoever reads of a call reads what it is bounded by.
func TestLimitsAreTold(t *testing.T) {
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]string{}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			told[op.OperationID] = op.Description
		}
	}
	for limit, calls := range toldBy {
		for _, call := range strings.Fields(calls) {
			if !strings.Contains(told[call], "`"+limit+"`") {
				t.Errorf("%s doesn't tell of %s", call, limit)
			}
		}
	}
}

// TestLimitsStandInTheContract demands that the contract states every limit, and none that
// neither code nor a schema enforces.
func TestLimitsStandInTheContract(t *testing.T) {
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	stated, coded := contractLimits(t), codedLimits()
	for name, value := range coded {
		if stated[name] != value {
			t.Errorf("%s: the contract says %d, the code %d", name, stated[name], value)
		}
	}
	for name, places := range schemaLimits {
		for _, place := range strings.Fields(places) {
			schema, property, _ := strings.Cut(place, ".")
			if bound := upperBound(doc.Components.Schemas[schema], property); bound != float64(stated[name]) {
				t.Errorf("%s: x-limits say %d, %s %v", name, stated[name], place, bound)
			}
		}
	}
	for name, schema := range doc.Components.Schemas {
		if n := len(schema.Value.Properties); n > stated["json_names"] {
			t.Errorf("%s has %d properties", name, n)
		}
		for property := range schema.Value.Properties {
			if len(property) > stated["json_name_bytes"] {
				t.Errorf("%s.%s is longer than names may be", name, property)
			}
		}
	}
	for name := range stated {
		if _, code := coded[name]; !code && schemaLimits[name] == "" {
			t.Errorf("%s: nothing enforces it", name)
		}
	}
}

// upperBound returns the bound of a property from above, NaN if there is none.
func upperBound(of *openapi3.SchemaRef, property string) float64 {
	if of == nil || of.Value.Properties[property] == nil {
		return math.NaN()
	}
	switch s := of.Value.Properties[property].Value; {
	case s.MaxItems != nil:
		return float64(*s.MaxItems)
	case s.MaxLength != nil:
		return float64(*s.MaxLength)
	case s.Max != nil:
		return *s.Max
	}
	return math.NaN()
}

// limitTests are the tests, by their files, of the limits that aren't bounds of schemas alone:
// from both sides, exactly, where nothing else is said.
var limitTests = map[string]string{
	"header_bytes":       "service/serve_test.go TestHeaderLimit", // net/http allows itself 4 KiB and a line more
	"body_bytes":         "api/limits_test.go TestFileBoundaries",
	"codings":            "api/limits_test.go TestCodings",
	"decoded_bytes":      "api/limits_test.go TestDecodedBoundaries",
	"packed_free_bytes":  "service/engine/unpack_test.go TestLayersEndAtTheirLimits",
	"packed_ratio":       "service/engine/unpack_test.go TestLayersEndAtTheirLimits",
	"zstd_window_bytes":  "api/limits_test.go TestWindowBoundary",
	"held_bytes":         "api/held_test.go TestBudget",
	"json_depth":         "api/limits_test.go TestDepthBoundary",
	"json_names":         "api/requests_test.go TestFaultsOfJSON",
	"json_name_bytes":    "api/requests_test.go TestFaultsOfJSON",
	"json_values":        "api/requests_test.go TestFaultsOfJSON", // which are about so many
	"errors":             "api/requests_test.go TestManyFaults",
	"points":             "api/limits_test.go TestFileBoundaries",
	"marks":              "analysis/track/gpxlimits_test.go TestReadGPXLimits",
	"xml_depth":          "analysis/track/gpxlimits_test.go TestReadGPXLimits",
	"xml_elements":       "analysis/track/gpxlimits_test.go TestReadGPXLimits",
	"file_parts":         "analysis/track/gpxlimits_test.go TestReadGPXLimits",
	"course_m":           "analysis/course/length_test.go TestTooLongCoursesAreRefused",
	"course_nodes":       "api/limits_test.go TestNodesBoundary",
	"season_bytes":       "api/seasons_test.go TestSeasonBoundaries",
	"season_predictions": "api/seasons_test.go TestSeasonBoundaries",
	"seasons":            "api/seasons_test.go TestSeasonBoundaries",
	"archive_entries":    "api/seasons_test.go TestSeasonBoundaries",
	"predictions":        "api/limits_test.go TestBoundaries",
	"splits":             "service/engine/predict_test.go TestAnswersSizeIsLimited",
	"trace_samples":      "service/engine/predict_test.go TestAnswersSizeIsLimited",
	"picture_rides":      "service/engine/pictureride_test.go TestPictureOfRidesThatCantBe",
	"plan_cost":          "api/limits_test.go TestPlanBoundaries",
	"plan_samples":       "service/engine/plan_test.go TestPlansAreCountedByTheirCost",
	"launches":           "service/engine/launch_test.go TestFaultsOfLaunches",
	"aid_cost":           "api/aids_test.go TestAidsBoundaries",
	"aid_passes":         "api/limits_test.go TestAidPassesBoundary",
	"rider_steps":        "api/limits_test.go TestScenarioBoundaries",
	"rider_lines":        "api/limits_test.go TestScenarioBoundaries",
	"rider_orders":       "api/limits_test.go TestScenarioBoundaries",
	"ride_steps":         "service/engine/predict_test.go TestLongRidesOfManyAreLimited",
	"comparison_rides":   "api/comparisons_test.go TestComparisonsThatCannotBe",
	"itinerary_rows":     "service/engine/itinerary_test.go TestItineraryRows", // from above
}

// unstatedTests demands a test of each limit that no schema states, and returns how many there
// are none for.
func unstatedTests(t *testing.T) int {
	t.Helper()
	missing := 0
	for name := range contractLimits(t) {
		file, test, _ := strings.Cut(limitTests[name], " ")
		if schemaLimits[name] == "" && (file == "" || !bytes.Contains(readFile(t, file), []byte("func "+test+"("))) {
			t.Errorf("%s: no test holds it", name)
			missing++
		}
	}
	return missing
}

// list writes n items, each made from its index.
func list(n int, item func(i int) string) string {
	items := make([]string, n)
	for i := range items {
		items[i] = item(i)
	}
	return "[" + strings.Join(items, ",") + "]"
}

// rideRequest is a prediction's request over a short or a given course.
func rideRequest(course, riders, more string) []byte {
	if course == "" {
		course = `{"profile": {"distance_m": [0, 1000]}, "options": {"smoothing": "none"}}`
	}
	return []byte(`{"course": ` + course + `, "riders": ` + riders + `, ` + more + `}`)
}

// TestBoundaries demands for each limit that as many are taken and one more is
// refused, with both numbers.
func TestBoundaries(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limits := contractLimits(t)
	one := func(int) string { return `{"mass_kg": 70}` }
	const effort = `"effort": {"kind": "power", "power_w": 200}`
	bodies := map[string]func(n int) []byte{
		"riders": func(n int) []byte { return rideRequest("", list(n, one), effort) },
		"setups": func(n int) []byte {
			return rideRequest("", list(1, one), effort+`, "setups": `+list(n, func(int) string { return `{}` }))
		},
		"predictions": func(n int) []byte {
			return rideRequest("", list((n+19)/20, one), effort+`, "setups": `+list(20, func(int) string { return `{}` }))
		},
		"surfaces": func(n int) []byte {
			return rideRequest("", list(1, one), effort+`, "surfaces": `+list(n, func(i int) string {
				return fmt.Sprintf(`{"start_m": %d, "end_m": %d, "crr_factor": 1.5}`, i, i+1)
			}))
		},
		"steps": func(n int) []byte {
			return rideRequest("", list(1, one), `"effort": {"kind": "steps", "steps": `+list(n, func(i int) string {
				return fmt.Sprintf(`{"end_m": %d, "power_w": 200}`, i+1)
			})+`}`)
		},
		"profile_samples": func(n int) []byte {
			distance := list(n, func(i int) string { return fmt.Sprint(i * 10) })
			return rideRequest(`{"profile": {"distance_m": `+distance+`}, "options": {"smoothing": "none"}}`, list(1, one), effort)
		},
	}
	for name, body := range bodies {
		limit := limits[name]
		if w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body(limit))); w.Code != http.StatusOK {
			t.Errorf("%s: %d: status %d: %.300s", name, limit, w.Code, w.Body)
		}
		w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body(limit+1)))
		p := checkProblem(t, w, "too-many")
		if name == "predictions" { // whole riders only
			continue
		}
		if p["limit"] != float64(limit) || p["actual"] != float64(limit+1) {
			t.Errorf("%s: limit %v, actual %v", name, p["limit"], p["actual"])
		}
	}
}

// TestPlanBoundaries demands that a plan counts as the contract says it does.
func TestPlanBoundaries(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limits := contractLimits(t)
	cost, limit := limits["plan_cost"], limits["predictions"]
	able := func(int) string { return `{"mass_kg": 70, "critical_power_w": 250, "w_prime_j": 20000}` }
	for target, more := range map[string]string{"/v1/plans": `"end_m": 200`, "/v1/predictions": `"end_m": 200, "effort": {"kind": "best"}`} {
		if w := h.send(t, request(http.MethodPost, target, "application/json", rideRequest("", list(limit/cost, able), more))); w.Code != http.StatusOK {
			t.Errorf("%s: %d plans: status %d: %.300s", target, limit/cost, w.Code, w.Body)
		}
		w := h.send(t, request(http.MethodPost, target, "application/json", rideRequest("", list(limit/cost+1, able), more)))
		if p := checkProblem(t, w, "too-many"); p["limit"] != float64(limit) || p["actual"] != float64(limit+cost) {
			t.Errorf("%s: limit %v, actual %v", target, p["limit"], p["actual"])
		}
	}
}

// TestScenarioBoundaries demands for each limit of a race that as much is taken and more is
// refused, with both numbers.
func TestScenarioBoundaries(t *testing.T) {
	limits := contractLimits(t)
	rider := func(i int) string {
		return fmt.Sprintf(`{"name": "%d", "mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000}`, i)
	}
	race := func(riders int, more string) string {
		return `{"course": {"profile": {"distance_m": [0, 160]}, "options": {"smoothing": "none"}}, "riders": ` + list(riders, rider) + `, ` + more + `}`
	}
	finish := func(int) string { return `{"by": "finish", "points": [1]}` }
	sprint := func(int) string { return `{"do": "sprint", "at": {"finish": true}}` }
	for name, tc := range map[string]struct {
		body   func(n int) string
		limit  int
		limits engine.Limits
	}{
		"riders":          {func(n int) string { return race(n, `"rules": {"runs": 1}`) }, limits["riders"], engine.Limits{}},
		"given and drawn": {func(n int) string { return race(n-50, `"drawn": [{"name": "B", "count": 50}], "rules": {"runs": 1}`) }, limits["riders"], engine.Limits{}},
		"rider_steps": {func(n int) string {
			return race(1, fmt.Sprintf(`"conditions": {"start_speed_mps": 15}, "rules": {"runs": %d, "step_s": 1}`, n/20))
		}, 2000, engine.Limits{RiderSteps: 2000}},
		"rider_lines": {func(n int) string { return race(n, `"rules": {"runs": 1}`) }, 7, engine.Limits{RiderLines: 7}},
		"contests": {func(n int) string {
			return race(1, `"rules": {"runs": 1}, "contests": `+list(n, func(i int) string { return fmt.Sprintf(`{"name": "%d", "scores": [%s]}`, i, finish(i)) }))
		}, limits["contests"], engine.Limits{}},
		"scores of one": {func(n int) string {
			return race(1, `"rules": {"runs": 1}, "contests": [{"name": "A", "scores": `+list(n, finish)+`}]`)
		}, limits["scores"], engine.Limits{}},
		"scores of all": {func(n int) string {
			return race(1, `"rules": {"runs": 1}, "contests": [{"name": "A", "scores": `+list(n-1, finish)+`}, {"name": "B", "scores": [`+finish(0)+`]}]`)
		}, limits["scores"], engine.Limits{}},
		"orders": {func(n int) string {
			return `{"course": {"profile": {"distance_m": [0, 160]}}, "rules": {"runs": 1}, "riders": [{"mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000, "orders": ` + list(n, sprint) + `}]}`
		}, limits["orders"], engine.Limits{}},
		"rider_orders": {func(n int) string { // one, on as many laps
			return fmt.Sprintf(`{"course": {"profile": {"distance_m": [0, 160]}, "options": {"laps": %d, "marks": [{"name": "Mill", "at_m": 80}]}}, "rules": {"runs": 1},
				"riders": [{"mass_kg": 70, "critical_power_w": 280, "w_prime_j": 18000, "orders": [{"do": "sprint", "at": {"mark_id": "mark-1"}}]}]}`, n)
		}, limits["rider_orders"], engine.Limits{}},
		"drawn": {func(n int) string {
			return race(0, `"rules": {"runs": 1}, "drawn": `+list(n, func(i int) string { return fmt.Sprintf(`{"name": "%d", "count": 1}`, i) }))
		}, limits["drawn"], engine.Limits{}},
	} {
		h := newHarness(t, engine.Config{Limits: tc.limits})
		step := 1
		if name == "rider_steps" {
			step = 20 // the steps of a run
		}
		if w := h.send(t, request(http.MethodPost, "/v1/scenarios", "application/json", []byte(tc.body(tc.limit)))); w.Code != http.StatusOK {
			t.Errorf("%s: %d: status %d: %.300s", name, tc.limit, w.Code, w.Body)
		}
		w := h.send(t, request(http.MethodPost, "/v1/scenarios", "application/json", []byte(tc.body(tc.limit+step))))
		if p := checkProblem(t, w, "too-many"); p["limit"] != float64(tc.limit) || p["actual"] != float64(tc.limit+step) {
			t.Errorf("%s: limit %v, actual %v", name, p["limit"], p["actual"])
		}
	}
}

// TestAssemblyBoundaries demands the limits of an assembly's parts and marks.
func TestAssemblyBoundaries(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limits := contractLimits(t)
	part := func(int) string { return `{"course": {"profile": {"distance_m": [0, 1000]}}}` }
	mark := func(i int) string { return fmt.Sprintf(`{"name": "Mill", "at_m": %d}`, i) }
	for name, body := range map[string]func(n int) string{
		"assembly_parts": func(n int) string { return `{"parts": ` + list(n, part) + `}` },
		"request_marks":  func(n int) string { return `{"marks": ` + list(n, mark) + `, "parts": ` + list(1, part) + `}` },
	} {
		limit := limits[name]
		if w := h.send(t, request(http.MethodPost, "/v1/courses/assemble", "application/json", []byte(body(limit)))); w.Code != http.StatusOK {
			t.Errorf("%s: %d: status %d: %.300s", name, limit, w.Code, w.Body)
		}
		w := h.send(t, request(http.MethodPost, "/v1/courses/assemble", "application/json", []byte(body(limit+1))))
		if p := checkProblem(t, w, "too-many"); p["limit"] != float64(limit) || p["actual"] != float64(limit+1) {
			t.Errorf("%s: limit %v, actual %v", name, p["limit"], p["actual"])
		}
	}
}

// TestDepthBoundary demands the contract's depth, and no more.
func TestDepthBoundary(t *testing.T) {
	h := newHarness(t, engine.Config{})
	depth := contractLimits(t)["json_depth"]
	for add, problem := range map[int]string{0: "invalid-request", 1: "malformed-request"} {
		body := strings.Repeat(`[`, depth+add) + strings.Repeat(`]`, depth+add)
		checkProblem(t, h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", []byte(body))), problem)
	}
}

// points writes a GPX file of n points.
func points(n int) []byte {
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1"><trk><trkseg>`)
	for i := range n {
		fmt.Fprintf(&b, `<trkpt lat="47.%06d" lon="3"/>`, i)
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return b.Bytes()
}

// TestFileBoundaries demands the limits of a file's points, of bodies and of
// decoded bodies. The default run uses an engine with a smaller limit of points.
func TestFileBoundaries(t *testing.T) {
	cfg := engine.Config{Limits: engine.Limits{Track: track.Limits{Points: 2000}}}
	limit := 2000
	if os.Getenv("PARCOURS_FULL") != "" {
		cfg, limit = engine.Config{}, contractLimits(t)["points"]
	}
	h := newHarness(t, cfg)
	if w := h.serve(request(http.MethodPost, "/v1/courses", "", points(limit))); w.Code != http.StatusOK {
		t.Errorf("%d points: status %d: %.300s", limit, w.Code, w.Body)
	}
	w := h.send(t, request(http.MethodPost, "/v1/courses", "", points(limit+1)))
	if p := checkProblem(t, w, "too-many"); p["limit"] != float64(limit) || p["actual"] != float64(limit+1) {
		t.Errorf("limit %v, actual %v", p["limit"], p["actual"])
	}
	padded := func(n int) []byte {
		file := points(2)
		return append(file, bytes.Repeat([]byte("\n"), n-len(file))...)
	}
	body := contractLimits(t)["body_bytes"]
	if w := h.send(t, request(http.MethodPost, "/v1/courses", "", padded(body))); w.Code != http.StatusOK {
		t.Errorf("%d bytes: status %d: %.300s", body, w.Code, w.Body)
	}
	p := checkProblem(t, h.send(t, request(http.MethodPost, "/v1/courses", "", padded(body+1))), "too-large")
	if p["limit"] != float64(body) {
		t.Errorf("limit %v", p["limit"])
	}
}

// TestWindowBoundary demands the window of zstd that encoders of HTTP content keep to.
func TestWindowBoundary(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for extra, status := range map[byte]int{0: http.StatusOK, 1: http.StatusRequestEntityTooLarge} {
		head := zstdFrame(23)
		head[5] |= extra // the next larger window
		file := points(2)
		block := binary.LittleEndian.AppendUint32(nil, uint32(len(file))<<3|1)[:3] // the last one, as it is
		r := request(http.MethodPost, "/v1/courses", "", slices.Concat(head, block, file))
		r.Header.Set("Content-Encoding", "zstd")
		w := h.send(t, r)
		if w.Code != status {
			t.Errorf("a window beyond by %d eighths: status %d: %.300s", extra, w.Code, w.Body)
		}
		if w.Code != http.StatusOK && checkProblem(t, w, "too-large")["limit"] != float64(contractLimits(t)["zstd_window_bytes"]) {
			t.Errorf("%s", w.Body)
		}
	}
}

// TestNodesBoundary demands the limit of a course's nodes: a table ridden as laps. The
// default run only goes beyond it.
func TestNodesBoundary(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limit := contractLimits(t)["course_nodes"]
	body := func(samples, laps int) []byte {
		return rideRequest(fmt.Sprintf(`{"profile": {"distance_m": %s}, "options": {"smoothing": "none", "laps": %d}}`,
			list(samples, func(i int) string { return strconv.Itoa(i) }), laps), `[{"mass_kg": 70}]`, `"end_m": 100, "effort": {"kind": "power", "power_w": 200}`)
	}
	most := limit / 30
	w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body(most, 31)))
	if p := checkProblem(t, w, "too-many-nodes"); p["limit"] != float64(limit) || p["actual"] != float64(31*most) {
		t.Errorf("limit %v, actual %v", p["limit"], p["actual"])
	}
	if os.Getenv("PARCOURS_FULL") == "" {
		return
	}
	if w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body(most, 30))); w.Code != http.StatusOK {
		t.Errorf("%d nodes: status %d: %.300s", limit, w.Code, w.Body)
	}
}

// TestAidPassesBoundary demands the limit of passes that earn aids: marks times laps.
func TestAidPassesBoundary(t *testing.T) {
	h := newHarness(t, engine.Config{})
	limit := contractLimits(t)["aid_passes"]
	body := func(marks, laps int) []byte {
		mark := func(i int) string { return fmt.Sprintf(`{"name": "%d", "at_m": %d}`, i, 5*i+5) }
		id := func(i int) string { return fmt.Sprintf(`"mark-%d"`, i+1) }
		return rideRequest(fmt.Sprintf(`{"profile": {"distance_m": [0, 120]}, "options": {"smoothing": "none", "laps": %d, "marks": %s}}`, laps, list(marks, mark)),
			`[{"mass_kg": 70}]`, `"effort": {"kind": "power", "power_w": 200}, "aids": [{"drag_factor": 0.8, "duration_s": 5, "available_from": `+list(marks, id)+`}]`)
	}
	if w := h.send(t, request(http.MethodPost, "/v1/aids", "application/json", body(20, limit/20))); w.Code != http.StatusOK {
		t.Errorf("%d passes: status %d: %.300s", limit, w.Code, w.Body)
	}
	w := h.send(t, request(http.MethodPost, "/v1/aids", "application/json", body(23, limit/23+1)))
	if p := checkProblem(t, w, "too-many"); p["limit"] != float64(limit) || p["actual"] != float64(limit/23*23+23) {
		t.Errorf("limit %v, actual %v", p["limit"], p["actual"])
	}
}

// gpxOf writes a GPX file of so many bytes that doesn't pack well.
func gpxOf(bytesLong int) []byte {
	random := rand.New(rand.NewPCG(1, 1))
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1"><trk><trkseg>`)
	const end = `</trkseg></trk></gpx>`
	for b.Len() < bytesLong-100 {
		fmt.Fprintf(&b, "<trkpt lat=\"47.%06d\" lon=\"3.%06d\"><!-- %x --></trkpt>\n", random.IntN(1000), random.IntN(1000), random.Uint64())
	}
	b.WriteString(end)
	b.Write(bytes.Repeat([]byte("\n"), bytesLong-b.Len()))
	return b.Bytes()
}

// TestDecodedBoundaries demands the limit of what a body decodes to and a file unpacks to,
// exactly. The default run uses an engine with a smaller limit.
func TestDecodedBoundaries(t *testing.T) {
	limit := 300_000
	cfg := engine.Config{Limits: engine.Limits{Track: track.Limits{Bytes: limit}}}
	if os.Getenv("PARCOURS_FULL") != "" {
		cfg, limit = engine.Config{}, contractLimits(t)["decoded_bytes"]
	}
	h := newHarness(t, cfg)
	for coding, packed := range map[string]func([]byte) []byte{
		"gzip": gzipped, "zstd": zstded, "gzip, zstd": func(b []byte) []byte { return zstded(gzipped(b)) }, "": gzipped,
	} {
		send := func(n int) *httptest.ResponseRecorder {
			r := request(http.MethodPost, "/v1/courses", "", packed(gpxOf(n)))
			if coding != "" {
				r.Header.Set("Content-Encoding", coding)
			}
			return h.serve(r)
		}
		if w := send(limit); w.Code != http.StatusOK {
			t.Errorf("%q: %d bytes: status %d: %.300s", coding, limit, w.Code, w.Body)
		}
		if p := checkProblem(t, send(limit+1), "too-large"); p["limit"] != float64(limit) {
			t.Errorf("%q: limit %v", coding, p["limit"])
		}
	}
}

func gzipped(body []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write(body)
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err) // writing to memory
	}
	return b.Bytes()
}

func zstded(body []byte) []byte {
	w, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
	if err != nil {
		panic(err)
	}
	defer w.Close() //nolint:errcheck // nothing is buffered
	return w.EncodeAll(body, nil)
}

// TestCodings demands that bodies are read in every coding, replies written in the
// one that is asked for, and both say so.
func TestCodings(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := readFile(t, "testdata/examples/orchard-loop.gpx")
	plain := h.send(t, request(http.MethodPost, "/v1/courses", "", file))
	tags := map[string]string{plain.Header().Get("ETag"): ""}
	for accept, coding := range map[string]string{"gzip": "gzip", "zstd": "zstd", "gzip;q=0.5, zstd;q=0.1": "gzip", "*": "zstd", "br": "", "gzip;q=0": "", "identity": ""} {
		r := request(http.MethodPost, "/v1/courses", "", file)
		r.Header.Set("Accept-Encoding", accept)
		w := h.send(t, r)
		body := w.Body.Bytes()
		if got := w.Header().Get("Content-Encoding"); got != coding {
			t.Errorf("Accept-Encoding %q: %q, want %q", accept, got, coding)
		} else if got != "" {
			body = decoded(t, got, body)
		}
		if !bytes.Equal(body, plain.Body.Bytes()) {
			t.Errorf("Accept-Encoding %q: other bytes", accept)
		}
		tag := w.Header().Get("ETag")
		if had, known := tags[tag]; known && had != coding || !known && coding == "" {
			t.Errorf("Accept-Encoding %q: the ETag of %q", accept, had)
		}
		tags[tag] = coding
		if !strings.Contains(w.Header().Get("Vary"), "Accept-Encoding") {
			t.Errorf("Vary %q", w.Header().Get("Vary"))
		}
	}
	for coding, body := range map[string][]byte{"gzip": gzipped(file), "x-gzip": gzipped(file), "ZSTD": zstded(file), "identity": file, "gzip, zstd": zstded(gzipped(file))} {
		r := request(http.MethodPost, "/v1/courses", "", body)
		r.Header.Set("Content-Encoding", coding)
		if w := h.send(t, r); w.Code != http.StatusOK || !bytes.Equal(w.Body.Bytes(), plain.Body.Bytes()) {
			t.Errorf("Content-Encoding %q: status %d", coding, w.Code)
		}
	}
	for coding, status := range map[string]int{"br": 415, "gzip": 400, "zstd": 400, "gzip, gzip, gzip": 415} {
		r := request(http.MethodPost, "/v1/courses", "", file)
		r.Header.Set("Content-Encoding", coding)
		w := h.send(t, r)
		if w.Code != status || (status == 415) != (w.Header().Get("Accept-Encoding") != "") || w.Header().Get("Accept") != "" {
			t.Errorf("Content-Encoding %q: status %d, Accept-Encoding %q", coding, w.Code, w.Header().Get("Accept-Encoding"))
		}
	}
}
