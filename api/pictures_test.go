package api_test

import (
	"bytes"
	"encoding/json"
	"image/png"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"parcours.example/analysis/wording"
	"parcours.example/service/engine"
)

// profile asks for a picture of a course.
func profile(t testing.TB, h *harness, id, query string, header map[string]string) *httptest.ResponseRecorder {
	t.Helper()
	r := request(http.MethodGet, "/v1/courses/"+id+"/profile?"+query, "", nil)
	for name, value := range header {
		r.Header.Set(name, value)
	}
	return h.send(t, r)
}

func TestPicturesAreOfTheAskedSize(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, "testdata/examples/orchard-loop.gpx"))
	w := profile(t, h, id, "width=500&height=260&focus=laps", map[string]string{"Accept": "image/png", "Accept-Encoding": "gzip"})
	img, err := png.Decode(bytes.NewReader(w.Body.Bytes()))
	if err != nil || w.Header().Get("Content-Encoding") != "" {
		t.Fatalf("%v, coding %q", err, w.Header().Get("Content-Encoding"))
	}
	if size := img.Bounds().Size(); size.X != 500 || size.Y != 260 {
		t.Errorf("the PNG is %v", size)
	}
	svg := profile(t, h, id, "width=500&height=260", nil)
	if got := svg.Header().Get("Content-Type"); got != "image/svg+xml" || !strings.Contains(svg.Body.String(), `width="500" height="260"`) {
		t.Errorf("%s: %.200s", got, svg.Body)
	}
}

// Every parameter shows in the picture and in its entity tag.
func TestEveryParameterChangesThePicture(t *testing.T) {
	h := newHarness(t, engine.Config{})
	id := analyse(t, h, readFile(t, "testdata/examples/orchard-loop.gpx"))
	bodies, tags := map[string]string{}, map[string]string{}
	for _, query := range []string{"", "focus=laps", "focus=map", "focus=climb-1", "width=700", "height=500", "theme=dark", "theme=print", "units=imperial"} {
		w := profile(t, h, id, query, nil)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: status %d: %.300s", query, w.Code, w.Body)
		}
		body, tag := w.Body.String(), w.Header().Get("ETag")
		if other, ok := bodies[body]; ok {
			t.Errorf("%q draws what %q does", query, other)
		}
		if other, ok := tags[tag]; ok {
			t.Errorf("%q has the tag of %q", query, other)
		}
		bodies[body], tags[tag] = query, query
		if again := profile(t, h, id, query, map[string]string{"If-None-Match": tag}); again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%q: status %d for what is held", query, again.Code)
		}
	}
}

// A name in a file stays a text, however it looks.
func TestPicturesEscapeNames(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := []byte(`<gpx version="1.1"><trk><name>&lt;script&gt;x&lt;/script&gt;</name><trkseg>` +
		`<trkpt lat="47" lon="3.2"><ele>1</ele></trkpt><trkpt lat="47.01" lon="3.2"><ele>9</ele></trkpt></trkseg></trk></gpx>`)
	body := profile(t, h, analyse(t, h, file), "", nil).Body.String()
	if strings.Contains(body, "<script") || !strings.Contains(body, "&lt;script&gt;") {
		t.Errorf("%.600s", body)
	}
}

// ridePicture asks for a picture of rides.
func ridePicture(t testing.TB, h *harness, call, query, accept string, body []byte) *httptest.ResponseRecorder {
	t.Helper()
	r := request(http.MethodPost, "/v1/"+call+"?"+query, "application/json", body)
	r.Header.Set("Accept", accept)
	return h.send(t, r)
}

// onLoop asks for rides over an example, with more of a request.
func onLoop(t testing.TB, more string) []byte {
	t.Helper()
	content, err := json.Marshal(string(readFile(t, "testdata/examples/orchard-loop.gpx")))
	if err != nil {
		t.Fatal(err)
	}
	course := `{"file": {"content": ` + string(content) + `}}`
	return rideRequest(course, `[{"name": "Nour", "mass_kg": 61, "critical_power_w": 245, "w_prime_j": 15000}]`, more)
}

func TestPicturesOfRidesAreOfTheAskedSize(t *testing.T) {
	h := newHarness(t, engine.Config{})
	for call, more := range map[string]string{"predictions": `"effort": {"kind": "power", "power_w": 250}`, "plans": `"end_reserve_j": 100`} {
		w := ridePicture(t, h, call, "width=700&height=680", "image/png", onLoop(t, more))
		img, err := png.Decode(bytes.NewReader(w.Body.Bytes()))
		if err != nil {
			t.Fatalf("%s: %v", call, err)
		}
		if size := img.Bounds().Size(); size.X != 700 || size.Y != 680 {
			t.Errorf("%s: the PNG is %v", call, size)
		}
		svg := ridePicture(t, h, call, "width=700&height=680", "image/*", onLoop(t, more))
		if got := svg.Header().Get("Content-Type"); got != "image/svg+xml" || !strings.Contains(svg.Body.String(), `width="700" height="680"`) {
			t.Errorf("%s: %s: %.200s", call, got, svg.Body)
		}
	}
}

// Every parameter and every part of the request shows in the picture and in its entity
// tag; what is asked in two ways is the same.
func TestEveryParameterChangesThePictureOfRides(t *testing.T) {
	h := newHarness(t, engine.Config{})
	const effort = `"effort": {"kind": "power", "power_w": 250}`
	type ask struct{ query, more string }
	bodies, tags := map[string]ask{}, map[string]ask{}
	for _, x := range []ask{
		{"", effort},
		{"width=700", effort},
		{"height=900", effort},
		{"theme=dark", effort},
		{"theme=print", effort},
		{"units=imperial", effort},
		{"", `"effort": {"kind": "power", "power_w": 260}`},
		{"", effort + `, "end_m": 3000`},
		{"", effort + `, "start_m": 500`},
		{"", effort + `, "conditions": {"indoor": true}`},
		{"", effort + `, "uncertainties": {"mass_kg": 9}`},
		{"", effort + `, "coverage_pct": 50`},
	} {
		w := ridePicture(t, h, "predictions", x.query, "image/svg+xml", onLoop(t, x.more))
		if w.Code != http.StatusOK {
			t.Fatalf("%v: status %d: %.300s", x, w.Code, w.Body)
		}
		body, tag := w.Body.String(), w.Header().Get("ETag")
		if other, ok := bodies[body]; ok {
			t.Errorf("%q draws what %q does", x, other)
		}
		if other, ok := tags[tag]; ok {
			t.Errorf("%q has the tag of %q", x, other)
		}
		bodies[body], tags[tag] = x, x
	}
	same := ridePicture(t, h, "predictions", "width=960&theme=light&units=metric", "image/svg+xml", onLoop(t, effort))
	if x, ok := tags[same.Header().Get("ETag")]; !ok || x.query != "" {
		t.Errorf("what is the default has another tag where it is asked for")
	}
}

// A parameter that does nothing for what is answered is refused by name.
func TestParametersThatDoNothingAreRefused(t *testing.T) {
	h := newHarness(t, engine.Config{})
	bodies := map[string][]byte{
		"predictions": onLoop(t, `"effort": {"kind": "power", "power_w": 250}`),
		"plans":       onLoop(t, `"end_reserve_j": 500`),
	}
	for _, c := range []struct{ query, accept, parameter string }{
		{"width=700", "application/json", "width"},
		{"height=700", "", "height"},
		{"theme=light", "*/*", "theme"},
		{"units=metric", "application/json, image/png;q=0.9", "units"},
		{"include=trace", "image/png", "include"},
		{"height=300", "image/svg+xml", "height"},
	} {
		for call, body := range bodies {
			w := ridePicture(t, h, call, c.query, c.accept, body)
			p := checkProblem(t, w, "invalid-request")
			faults, _ := p["errors"].([]any)
			if len(faults) != 1 || faults[0].(map[string]any)["parameter"] != c.parameter {
				t.Errorf("%s: %s for %q: %v", call, c.query, c.accept, p)
			}
		}
	}
}

// What a picture says of a ride is what the answer in JSON says.
func TestPictureAgreesWithJSON(t *testing.T) {
	h := newHarness(t, engine.Config{})
	body := onLoop(t, `"effort": {"kind": "fraction", "of_critical_power": 1.06}`)
	w := h.send(t, request(http.MethodPost, "/v1/predictions", "application/json", body))
	var told struct {
		Predictions []struct {
			TimeS         float64 `json:"time_s"`
			LowS          float64 `json:"time_low_s"`
			HighS         float64 `json:"time_high_s"`
			MeanPowerW    float64 `json:"mean_power_w"`
			WBalanceMinJ  float64 `json:"w_balance_min_j"`
			WBalanceMinAt float64 `json:"w_balance_min_at_m"`
			Splits        []struct {
				Of     string  `json:"of"`
				Lap    int     `json:"lap"`
				ClockS float64 `json:"clock_s"`
			} `json:"splits"`
		} `json:"predictions"`
	}
	if err := json.Unmarshal(w.Body.Bytes(), &told); err != nil {
		t.Fatal(err)
	}
	p := told.Predictions[0]
	svg := ridePicture(t, h, "predictions", "width=1600", "image/svg+xml", body).Body.String()
	want := []string{
		"Nour: " + wording.Clock(p.TimeS) + ", " + wording.Watts(p.MeanPowerW) + " on average",
		"lowest at " + wording.Units{}.Length(p.WBalanceMinAt) + " with " + wording.Kilojoules(p.WBalanceMinJ),
		"certainty between " + wording.Clock(p.LowS) + " and " + wording.Clock(p.HighS),
	}
	for _, s := range p.Splits {
		if s.Of == "part" && s.Lap > 0 {
			want = append(want, ">"+wording.Clock(s.ClockS)+"</text>")
		}
	}
	if len(want) < 5 {
		t.Errorf("only %d numbers to hold against the picture", len(want))
	}
	for _, x := range want {
		if !strings.Contains(svg, x) {
			t.Errorf("%q isn't in the picture", x)
		}
	}
}

// BenchmarkPicture measures the whole call for the profile of a cached course.
func BenchmarkPicture(b *testing.B) {
	h := newHarness(b, engine.Config{Workers: 1})
	id := analyse(b, h, readFile(b, "testdata/season/morvask-laps-and-climb.gpx"))
	for _, mediaType := range []string{"image/svg+xml", "image/png"} {
		b.Run(mediaType, func(b *testing.B) {
			r := request(http.MethodGet, "/v1/courses/"+id+"/profile?width=1600", "", nil)
			r.Header.Set("Accept", mediaType)
			for b.Loop() {
				if w := h.serve(r); w.Code != http.StatusOK {
					b.Fatalf("status %d: %.300s", w.Code, w.Body)
				}
			}
		})
	}
}

// BenchmarkRidePicture measures the whole call for two riders on a cached course, the rides
// with their bands included.
func BenchmarkRidePicture(b *testing.B) {
	h := newHarness(b, engine.Config{Workers: 1})
	id := analyse(b, h, readFile(b, "testdata/season/morvask-laps-and-climb.gpx"))
	body := rideRequest(`{"course_id": "`+id+`"}`, `[{"mass_kg": 61, "critical_power_w": 245, "w_prime_j": 15000}, {"mass_kg": 80}]`, `"effort": {"kind": "power", "power_w": 230}`)
	for _, mediaType := range []string{"application/json", "image/svg+xml"} {
		b.Run(mediaType, func(b *testing.B) {
			for b.Loop() {
				r := request(http.MethodPost, "/v1/predictions", "application/json", body)
				r.Header.Set("Accept", mediaType)
				if w := h.serve(r); w.Code != http.StatusOK {
					b.Fatalf("status %d: %.300s", w.Code, w.Body)
				}
			}
		})
	}
}
