package api_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"parcours.example/service/engine"
)

// fault is an entry of a problem's errors.
type fault struct{ Pointer, Parameter, Code, Detail string }

// faultsOf reads a problem's errors.
func faultsOf(t testing.TB, body []byte) []fault {
	t.Helper()
	var p struct{ Errors []fault }
	if err := json.Unmarshal(body, &p); err != nil {
		t.Fatal(err)
	}
	return p.Errors
}

// TestFaultsOfJSON demands the place and the code of everything that may be wrong
// with a JSON request.
func TestFaultsOfJSON(t *testing.T) {
	h := newHarness(t, engine.Config{})
	const course = `"course": {"profile": {"distance_m": [0, 1000]}}`
	const effort = `"effort": {"kind": "power", "power_w": 200}`
	for _, tc := range []struct {
		name, body, problem, at, code string
	}{
		{"a negative mass", `{` + course + `, "riders": [{"mass_kg": -3}], ` + effort + `}`, "invalid-request", "#/riders/0/mass_kg", "out-of-range"},
		{"text for a number", `{` + course + `, "riders": [{"mass_kg": "70"}], ` + effort + `}`, "invalid-request", "#/riders/0/mass_kg", "wrong-type"},
		{"null for a number", `{` + course + `, "riders": [{"mass_kg": null}], ` + effort + `}`, "invalid-request", "#/riders/0/mass_kg", "wrong-type"},
		{"beyond every number", `{` + course + `, "riders": [{"mass_kg": 1e400}], ` + effort + `}`, "invalid-request", "", ""},
		{"not a number", `{` + course + `, "riders": [{"mass_kg": NaN}], ` + effort + `}`, "malformed-request", "#/riders/0/mass_kg", "syntax"},
		{"no mass", `{` + course + `, "riders": [{}], ` + effort + `}`, "invalid-request", "#/riders/0/mass_kg", "missing"},
		{"no riders", `{` + course + `, ` + effort + `}`, "invalid-request", "#/riders", "missing"},
		{"an empty list", `{` + course + `, "riders": [], ` + effort + `}`, "invalid-request", "#/riders", "too-few"},
		{"an unknown field", `{` + course + `, "riders": [{"mass_kg": 70, "weight": 70}], ` + effort + `}`, "invalid-request", "#/riders/0/weight", "unknown"},
		{"a field in capitals", `{` + course + `, "riders": [{"mass_kg": 70, "MASS_KG": 7}], ` + effort + `}`, "invalid-request", "#/riders/0/MASS_KG", "unknown"},
		{"an odd name", `{` + course + `, "riders": [{"mass_kg": 70, "a/b~c": 7}], ` + effort + `}`, "invalid-request", "#/riders/0/a~1b~0c", "unknown"},
		{"a name twice", `{` + course + `, "riders": [{"mass_kg": 70, "mass_kg": 71}], ` + effort + `}`, "malformed-request", "#/riders/0/mass_kg", "duplicate-name"},
		{"a name twice, once escaped", `{` + course + `, "riders": [{"mass_kg": 70, "mass\u005fkg": 71}], ` + effort + `}`, "malformed-request", "#/riders/0/mass_kg", "duplicate-name"},
		{"data after the value", `{` + course + `, "riders": [{"mass_kg": 70}], ` + effort + `} {}`, "malformed-request", "", "trailing-data"},
		{"broken off", `{` + course + `, "riders": [{"mass_kg": `, "malformed-request", "#/riders/0/mass_kg", "syntax"},
		{"nothing", ``, "malformed-request", "", "syntax"},
		{"a list alone", `[]`, "invalid-request", "", "wrong-type"},
		{"too deep", `{"course": ` + strings.Repeat(`[`, 40) + strings.Repeat(`]`, 40) + `}`, "malformed-request", "", "too-deep"},
		{"a long name", `{` + course + `, "` + strings.Repeat("x", 101) + `": 1, "riders": [{"mass_kg": 70}], ` + effort + `}`, "malformed-request", "#/course", "name-too-long"},
		{"a name as long as may be", `{` + course + `, "` + strings.Repeat("x", 100) + `": 1, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "", "unknown"},
		{"many names", `{"riders": [{"mass_kg": 70` + manyNames(100) + `}], ` + course + `, ` + effort + `}`, "malformed-request", "#/riders/0", "too-many-names"},
		{"as many names as may be", `{"riders": [{"mass_kg": 70` + manyNames(99) + `}], ` + course + `, ` + effort + `}`, "invalid-request", "#/riders/0/x0", "unknown"},
		{"faults without end", `{` + course + `, "riders": [{"mass_kg": 70}], "setups": [` + strings.Repeat(`{"x": [`+strings.Repeat("1,", 290)+`1], "y": [`+strings.Repeat("1,", 290)+`1]},`, 19) + `{}], ` + effort + `}`, "invalid-request", "#/setups/0/x", "unknown"},
		{"far too deep", strings.Repeat(`[`, 200_000), "malformed-request", "", ""},
		{"not UTF-8", "{\"course\": \"\xff\"}", "malformed-request", "", "not-utf8"},
		{"an unknown kind", `{` + course + `, "riders": [{"mass_kg": 70}], "effort": {"kind": "best-ever"}}`, "invalid-request", "#/effort/kind", "not-allowed"},
		{"an effort without its number", `{` + course + `, "riders": [{"mass_kg": 70}], "effort": {"kind": "power"}}`, "invalid-request", "#/effort/power_w", "missing"},
		{"an effort with two numbers", `{` + course + `, "riders": [{"mass_kg": 70}], "effort": {"kind": "power", "power_w": 200, "time_s": 60}}`, "invalid-request", "#/effort", "not-allowed"},
		{"steps out of order", `{` + course + `, "riders": [{"mass_kg": 70}], "effort": {"kind": "steps", "steps": [{"end_m": 500, "power_w": 1}, {"end_m": 400, "power_w": 1}]}}`, "invalid-request", "#/effort/steps/1/end_m", "out-of-order"},
		{"two courses", `{"course": {"course_id": "00000000000000000000000000000000", "profile": {"distance_m": [0, 1000]}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course", "exactly-one"},
		{"no course", `{"course": {}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course", "exactly-one"},
		{"options of a cached course", `{"course": {"course_id": "00000000000000000000000000000000", "options": {}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course/options", "not-allowed"},
		{"a mark without a place", `{"course": {"profile": {"distance_m": [0, 1000]}, "options": {"marks": [{"name": "Mill", "at_m": 5}, {"name": "Weir"}]}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course/options/marks/1/at_m", "bad-combination"},
		{"half a position", `{"course": {"profile": {"distance_m": [0, 1000]}, "options": {"marks": [{"name": "Mill", "lat_deg": 5}]}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course/options/marks/0/lon_deg", "bad-combination"},
		{"a mark of an unknown kind", `{"course": {"profile": {"distance_m": [0, 1000]}, "options": {"marks": [{"name": "Mill", "kind": "hill", "at_m": 5}]}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course/options/marks/0/kind", "not-allowed"},
		{"no base64", `{"course": {"file": {"content": "?", "encoding": "base64"}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "#/course/file/content", "bad-format"},
		{"lengths that differ", `{"course": {"profile": {"distance_m": [0, 1000], "elevation_m": [1, 2, 3]}}, "riders": [{"mass_kg": 70}], ` + effort + `}`, "not-computable", "#/course/profile/elevation_m", "not-computable"},
		{"no critical power", `{` + course + `, "riders": [{"mass_kg": 70}], "effort": {"kind": "fraction", "of_critical_power": 0.9}}`, "not-computable", "#/riders/0/critical_power_w", "needs-critical-power"},
		{"no power of their own", `{` + course + `, "riders": [{"mass_kg": 70}], "effort": {"kind": "own_power"}}`, "not-computable", "#/riders/0/power_w", "needs-power"},
		{"an end beyond the course", `{` + course + `, "end_m": 1500, "riders": [{"mass_kg": 70}], ` + effort + `}`, "not-computable", "#/end_m", "not-computable"},
		{"too many riders", `{` + course + `, "riders": [` + strings.Repeat(`{"mass_kg": 70},`, 200) + `{"mass_kg": 70}], ` + effort + `}`, "too-many", "#/riders", "too-many"},
		{"far too many riders", `{` + course + `, "riders": [` + strings.Repeat(`{},`, 5000) + `{}], ` + effort + `}`, "too-many", "#/riders", "too-many"},
		{"too many riders, and wrong ones", `{` + course + `, "riders": [` + strings.Repeat(`{"mass_kg": 7000},`, 200) + `{"mass_kg": 70}], ` + effort + `}`, "invalid-request", "", ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", []byte(tc.body)))
			p := checkProblem(t, w, tc.problem)
			if w.Body.Len() > 20_000 {
				t.Errorf("the problem has %d bytes", w.Body.Len())
			}
			if tc.code == "" {
				return
			}
			for _, f := range faultsOf(t, w.Body.Bytes()) {
				if f.Code == tc.code && (f.Pointer == tc.at || tc.at == "") && f.Detail != "" {
					return
				}
			}
			t.Errorf("no %s at %s in %v", tc.code, tc.at, p["errors"])
		})
	}
}

// TestFaultsOfParts demands the place of whatever may be wrong with a part of an
// assembly.
func TestFaultsOfParts(t *testing.T) {
	h := newHarness(t, engine.Config{})
	const good = `{"course": {"profile": {"distance_m": [0, 1000], "elevation_m": [5, 5]}}}`
	for _, tc := range []struct{ name, part, more, problem, at string }{
		{"no course", `{"course": {}}`, "", "invalid-request", "#/parts/1/course"},
		{"options of a cached one", `{"course": {"course_id": "00000000000000000000000000000000", "options": {}}}`, "", "invalid-request", "#/parts/1/course/options"},
		{"no base64", `{"course": {"file": {"content": "?", "encoding": "base64"}}}`, "", "invalid-request", "#/parts/1/course/file/content"},
		{"a damaged file", `{"course": {"file": {"content": "<gpx><trk>"}}}`, "", "malformed-file", "#/parts/1/course/file"},
		{"an unknown format", `{"course": {"file": {"content": "x", "media_type": "image/png"}}}`, "", "unsupported-media-type", "#/parts/1/course/file/media_type"},
		{"lengths that differ", `{"course": {"profile": {"distance_m": [0, 9], "elevation_m": [1, 2, 3]}}}`, "", "not-computable", "#/parts/1/course/profile/elevation_m"},
		{"distances that fall", `{"course": {"profile": {"distance_m": [9, 0]}}}`, "", "axis-not-increasing", "#/parts/1/course/profile/distance_m"},
		{"half a mark", `{"course": {"profile": {"distance_m": [0, 9]}, "options": {"marks": [{"name": "Mill"}]}}}`, "", "invalid-request", "#/parts/1/course/options/marks/0/at_m"},
		{"an elevation far back", `{"course": {"profile": {"distance_m": [0, 9], "elevation_m": [` + strings.Repeat("1, ", 400) + `9001]}}}`, "", "invalid-request", "#/parts/1/course/profile/elevation_m/400"},
		{"a cut beyond", `{"course": {"profile": {"distance_m": [0, 900]}, "options": {"end_m": 901}}}`, "", "cut-outside", "#/parts/1/course/options/end_m"},
		{"an end beyond", `{"course": {"profile": {"distance_m": [0, 900]}}, "to_m": 901}`, "", "cut-outside", "#/parts/1/to_m"},
		{"too often", `{"course": {"profile": {"distance_m": [0, 900]}}, "repeat": 201}`, "", "invalid-request", "#/parts/1/repeat"},
		{"apart", `{"course": {"profile": {"distance_m": [0, 900], "elevation_m": [900, 900]}}}`, "", "parts-do-not-join", "#/parts/1"},
		{"a mark beyond", good, `, "marks": [{"name": "Mill", "at_m": 2001}]`, "mark-outside", "#/marks/0"},
		{"too long", `{"course": {"profile": {"distance_m": [0, 4999900]}, "options": {"smoothing": "none"}}}`, "", "too-long", "#/parts"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			body := `{"parts": [` + good + `, ` + tc.part + `]` + tc.more + `}`
			w := h.send(t, request(http.MethodPost, "/v1/courses/assemble", "application/json", []byte(body)))
			p := checkProblem(t, w, tc.problem)
			if fs := faultsOf(t, w.Body.Bytes()); len(fs) == 0 || fs[0].Pointer != tc.at || fs[0].Parameter != "" {
				t.Errorf("%v, want %s", p["errors"], tc.at)
			}
		})
	}
}

// manyNames are members of an object.
func manyNames(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `, "x%d": 1`, i)
	}
	return b.String()
}

// TestManyFaults demands that a request with many faults lists a bounded number and
// says so.
func TestManyFaults(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := func(wrong int) string {
		return `{"course": {"profile": {"distance_m": [0, 1000]}}, "riders": [` + strings.TrimSuffix(strings.Repeat(`{"mass_kg": 1},`, wrong), ",") + `], "effort": {"kind": "power", "power_w": 1}}`
	}
	for wrong, truncated := range map[int]any{32: nil, 33: true} {
		w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", []byte(body(wrong))))
		p := checkProblem(t, w, "invalid-request")
		if n := len(p["errors"].([]any)); n != 32 || p["errors_truncated"] != truncated {
			t.Errorf("%d faults: %d listed, truncated %v", wrong, n, p["errors_truncated"])
		}
	}
}

// TestParameters demands the name of every parameter that is wrong.
func TestParameters(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := readFile(t, "testdata/examples/orchard-loop.gpx")
	for query, want := range map[string]string{
		"lap=3": "lap", "laps=0": "laps", "laps=201": "laps", "laps=two": "laps", "laps=2&laps=3": "laps", "laps=": "laps",
		"smoothing=hard": "smoothing", "spacing_m=1.9": "spacing_m", "spacing_m=NaN": "spacing_m", "include=profile,colour": "include",
		"include=profile,profile": "include", "reverse=yes": "reverse", "name=": "name", "name=" + strings.Repeat("x", 201): "name",
		"Laps=2": "Laps", "=1&z=2": "", "track=0": "track", "track=1.5": "track", "ascent_threshold_m=-1": "ascent_threshold_m", "ascent_threshold_m=Inf": "ascent_threshold_m",
		"start_m=-1": "start_m", "end_m=0": "end_m", "end_m=5000001": "end_m", "mark=": "mark", "mark=name=Mill": "mark", "mark=name=Mill,at_m=4&mark=at_m=4": "mark",
	} {
		w := h.send(t, request(http.MethodPost, "/v1/courses?"+query, "", file))
		checkProblem(t, w, "invalid-request")
		if fs := faultsOf(t, w.Body.Bytes()); len(fs) == 0 || fs[0].Parameter != want {
			t.Errorf("%s: %v, want the parameter %q", query, fs, want)
		}
	}
	for query := range map[string]bool{"name=%zz": true, "a;b": true} {
		if w := h.send(t, request(http.MethodPost, "/v1/courses?"+query, "", file)); w.Code != http.StatusBadRequest {
			t.Errorf("%s: status %d", query, w.Code)
		}
	}
	for query, code := range map[string]string{"rider=mass=72&rider=kg=3": "bad-format", "rider=": "invalid", "max_chars=119": "out-of-range", "units=nautical": "not-allowed"} {
		w := h.send(t, request(http.MethodPost, "/v1/briefs?"+query, "", file))
		checkProblem(t, w, "invalid-request")
		if fs := faultsOf(t, w.Body.Bytes()); len(fs) == 0 || fs[0].Code != code {
			t.Errorf("%s: %v, want %s", query, fs, code)
		}
	}
}

// TestMediaTypes demands that a file is read under every name that senders give it,
// and refused under one that can't be right.
func TestMediaTypes(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := readFile(t, "testdata/examples/orchard-loop.gpx")
	for contentType, status := range map[string]int{
		"": 200, "application/gpx+xml": 200, "Application/GPX+XML": 200, "application/gpx+xml; charset=utf-8": 200, "application/xml": 200, "text/xml": 200,
		"application/octet-stream": 200, "application/x-www-form-urlencoded": 200, "text/plain; charset=us-ascii": 200,
		"application/json": 400, "image/png": 415, "xml": 415, "application/geo+json": 400, "multipart/form-data; boundary=x": 415, ";;": 415,
	} {
		for _, path := range []string{"/v1/courses", "/v1/briefs"} {
			if path == "/v1/briefs" && contentType == "application/json" {
				continue
			}
			w := h.send(t, request(http.MethodPost, path, contentType, file))
			if w.Code != status && (contentType != ";;" || w.Code != 200) {
				t.Errorf("%s with %q: status %d, want %d", path, contentType, w.Code, status)
			}
			if w.Code == 415 && (w.Header().Get("Accept") == "" || w.Header().Get("Accept-Encoding") != "") {
				t.Errorf("%s with %q: Accept %q, Accept-Encoding %q", path, contentType, w.Header().Get("Accept"), w.Header().Get("Accept-Encoding"))
			}
		}
	}
	for _, body := range []string{"just words", ""} {
		checkProblem(t, h.send(t, request(http.MethodPost, "/v1/courses", "", []byte(body))), "not-the-format")
	}
}

// TestBodiesAreListed demands that the contract lists, for each call that reads route
// files, the media types that the engine reads, JSON where it is no request, and those
// that leave the format to the bytes; a form is what some programs name by default.
func TestBodiesAreListed(t *testing.T) {
	doc, err := loadDoc()
	if err != nil {
		t.Fatal(err)
	}
	named, general := engine.FileTypes()
	want := slices.DeleteFunc(append(named, general...), func(m string) bool { return m == "" || m == "application/x-www-form-urlencoded" })
	slices.Sort(want)
	for _, path := range []string{"/v1/courses", "/v1/briefs"} {
		content := doc.Paths.Value(path).Post.RequestBody.Value.Content
		if got := slices.Sorted(maps.Keys(content)); !slices.Equal(got, want) {
			t.Errorf("%s reads %q, want %q", path, got, want)
		}
	}
}

// TestNegotiation demands the media type with the highest weight.
func TestNegotiation(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := readFile(t, "testdata/examples/orchard-loop.gpx")
	for accept, want := range map[string]string{
		"": "application/json", "*/*": "application/json", "text/*": "text/markdown; charset=utf-8", "text/plain": "text/plain; charset=utf-8",
		"text/plain;q=0.5, text/markdown": "text/markdown; charset=utf-8", "TEXT/PLAIN": "text/plain; charset=utf-8",
		"application/json;q=0, */*": "text/markdown; charset=utf-8", "text/html": "application/problem+json", "text/plain;q=0": "application/problem+json",
		"text/html, */*;q=0.1": "application/json",
	} {
		r := request(http.MethodPost, "/v1/briefs", "", file)
		r.Header.Set("Accept", accept)
		if got := h.send(t, r).Header().Get("Content-Type"); got != want {
			t.Errorf("Accept %q: %q, want %q", accept, got, want)
		}
	}
}

// TestOutsideTheContract demands problems for what isn't there.
func TestOutsideTheContract(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for _, tc := range []struct {
		method, path, problem, allow string
	}{
		{"GET", "/v1/courses/", "not-found", ""},
		{"GET", "/v2/courses", "not-found", ""},
		{"GET", "/livez/", "not-found", ""},
		{"GET", "/docs/../docs", "not-found", ""},
		{"GET", "//docs", "not-found", ""},
		{"GET", "/problems/a%2fb", "", ""},
		{"GET", "/v1/courses", "method-not-allowed", "POST"},
		{"GET", "/v1/courses/assemble", "method-not-allowed", "POST"},
		{"DELETE", "/v1/courses/assemble", "method-not-allowed", "POST"},
		{"POST", "/v1/courses/00000000000000000000000000000000", "method-not-allowed", "GET"},
		{"DELETE", "/docs", "method-not-allowed", "GET"},
		{"BREW", "/livez", "method-not-allowed", "GET"},
	} {
		w := h.serve(request(tc.method, tc.path, "", nil))
		if tc.problem == "" {
			if w.Code < 400 || w.Code >= 500 {
				t.Errorf("%s %s: status %d", tc.method, tc.path, w.Code)
			}
			continue
		}
		p := checkProblem(t, w, tc.problem)
		if w.Header().Get("Allow") != tc.allow {
			t.Errorf("%s %s: Allow %q, want %q", tc.method, tc.path, w.Header().Get("Allow"), tc.allow)
		}
		if tc.problem == "not-found" && !strings.Contains(fmt.Sprint(p["detail"]), "/docs") {
			t.Errorf("%s %s: %v doesn't lead anywhere", tc.method, tc.path, p["detail"])
		}
	}
}
