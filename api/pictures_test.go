package api_test

import (
	"bytes"
	"image/png"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"parcours.example/service/engine"
)

// picture asks for a picture of a course.
func picture(t testing.TB, h *harness, id, query string, header map[string]string) *httptest.ResponseRecorder {
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
	w := picture(t, h, id, "width=500&height=260&focus=laps", map[string]string{"Accept": "image/png", "Accept-Encoding": "gzip"})
	img, err := png.Decode(bytes.NewReader(w.Body.Bytes()))
	if err != nil || w.Header().Get("Content-Encoding") != "" {
		t.Fatalf("%v, coding %q", err, w.Header().Get("Content-Encoding"))
	}
	if size := img.Bounds().Size(); size.X != 500 || size.Y != 260 {
		t.Errorf("the PNG is %v", size)
	}
	svg := picture(t, h, id, "width=500&height=260", nil)
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
		w := picture(t, h, id, query, nil)
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
		if again := picture(t, h, id, query, map[string]string{"If-None-Match": tag}); again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%q: status %d for what is held", query, again.Code)
		}
	}
}

// A name in a file stays a text, however it looks.
func TestPicturesEscapeNames(t *testing.T) {
	h := newHarness(t, engine.Config{})
	file := []byte(`<gpx version="1.1"><trk><name>&lt;script&gt;x&lt;/script&gt;</name><trkseg>` +
		`<trkpt lat="47" lon="3.2"><ele>1</ele></trkpt><trkpt lat="47.01" lon="3.2"><ele>9</ele></trkpt></trkseg></trk></gpx>`)
	body := picture(t, h, analyse(t, h, file), "", nil).Body.String()
	if strings.Contains(body, "<script") || !strings.Contains(body, "&lt;script&gt;") {
		t.Errorf("%.600s", body)
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
