package api_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/textproto"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

const seasonsPath = "/v1/seasons"

// namedFile is a file with a name.
type namedFile struct{ name, content string }

// dyke is a small course.
const dyke = "distance_m,elevation_m\n0,4\n2500,9\n5000,4\n"

// formOf is a form of a request, unless that is "", and files.
func formOf(t testing.TB, question string, sent ...namedFile) (contentType string, body []byte) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	must := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	must(w.SetBoundary("rounds"))
	if question != "" {
		must(w.WriteField("request", question))
	}
	for _, f := range sent {
		part, err := w.CreatePart(textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="file"; filename=%q`, f.name)}})
		must(err)
		_, err = io.WriteString(part, f.content)
		must(err)
	}
	must(w.Close())
	return w.FormDataContentType(), b.Bytes()
}

// zipOf is a zip archive.
func zipOf(t testing.TB, packed ...namedFile) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range packed {
		entry, err := w.Create(f.name)
		if err == nil {
			_, err = io.WriteString(entry, f.content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// seasonLines reads the lines of a season.
func seasonLines(t testing.TB, w *httptest.ResponseRecorder) (lines []contract.SeasonLine) {
	t.Helper()
	for text := range bytes.Lines(w.Body.Bytes()) {
		var line contract.SeasonLine
		if err := json.Unmarshal(text, &line); err != nil {
			t.Fatalf("%v: %.300s", err, text)
		}
		if line.Progress == nil {
			lines = append(lines, line)
		}
	}
	return lines
}

// items are those of lines, and the last line's problem or end.
func itemsOf(lines []contract.SeasonLine) (items []contract.SeasonItem, last contract.SeasonLine) {
	for _, line := range lines {
		if line.Item != nil {
			items = append(items, *line.Item)
		}
		last = line
	}
	return items, last
}

// askedFiles sends a form and returns what it comes to.
func askedFiles(t testing.TB, h *harness, question string, sent ...namedFile) (items []contract.SeasonItem, last contract.SeasonLine) {
	t.Helper()
	contentType, body := formOf(t, question, sent...)
	w := h.send(t, request(http.MethodPost, seasonsPath, contentType, body))
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %.500s", w.Code, w.Body)
	}
	return itemsOf(seasonLines(t, w))
}

// problemName is the name of a problem, "" for none.
func problemName(p *contract.Problem) string {
	if p == nil {
		return ""
	}
	return strings.TrimPrefix(p.Type, "/problems/")
}

// TestSeasonBoundaries takes the limits of seasons from both sides.
func TestSeasonBoundaries(t *testing.T) {
	t.Run("season_bytes", func(t *testing.T) {
		const most = 2000
		h := newHarness(t, engine.Config{Limits: engine.Limits{SeasonBytes: most}})
		for _, size := range []int{most, most + 1} {
			padding := func(n int) string { return dyke + strings.Repeat("\n", n) }
			_, body := formOf(t, "", namedFile{"dyke.csv", padding(0)})
			contentType, body := formOf(t, "", namedFile{"dyke.csv", padding(size - len(body))})
			r := request(http.MethodPost, seasonsPath, contentType, body)
			if size > most {
				checkProblem(t, h.send(t, r), "too-large")
				unstated := request(http.MethodPost, seasonsPath, contentType, body)
				unstated.ContentLength = -1
				packed := request(http.MethodPost, seasonsPath, contentType, gzipped(body))
				packed.Header.Set("Content-Encoding", "gzip")
				if items, last := itemsOf(seasonLines(t, h.send(t, unstated))); len(items) != 1 || problemName(last.Problem) != "too-large" {
					t.Errorf("%d bytes, behind the file: %d items, %+v", size, len(items), last)
				}
				checkProblem(t, h.send(t, packed), "too-large") // unpacked at once
				continue
			}
			if _, last := itemsOf(seasonLines(t, h.send(t, r))); last.End == nil || last.End.Answered != 1 {
				t.Errorf("%d bytes: %+v", size, last)
			}
		}
		many := dyke + strings.Repeat("\n", most-len(dyke))
		archive := zipOf(t, namedFile{"a.csv", many}, namedFile{"b.csv", dyke})
		items, last := itemsOf(seasonLines(t, h.send(t, request(http.MethodPost, seasonsPath, "application/zip", archive))))
		if len(items) != 1 || problemName(last.Problem) != "too-large" {
			t.Errorf("an archive that unpacks to more: %d items, %+v", len(items), last)
		}
	})
	t.Run("season_predictions", func(t *testing.T) {
		h := newHarness(t, engine.Config{Limits: engine.Limits{SeasonPredictions: 4}})
		const two = `{"riders": [{"mass_kg": 61}, {"mass_kg": 82}], "effort": {"kind": "power", "power_w": 250}}`
		if _, last := askedFiles(t, h, two, namedFile{"a", dyke}, namedFile{"b", dyke}); last.End == nil {
			t.Errorf("at it: %+v", last)
		}
		items, last := askedFiles(t, h, two, namedFile{"a", dyke}, namedFile{"b", dyke}, namedFile{"c", dyke})
		if p := last.Problem; len(items) != 2 || problemName(p) != "too-many" || *p.Limit != 4 || *p.Actual != 6 {
			t.Errorf("beyond it: %d items, %+v", len(items), p)
		}
	})
	t.Run("seasons", func(t *testing.T) {
		h := newHarness(t, engine.Config{Limits: engine.Limits{Seasons: 1}})
		contentType, body := formOf(t, "", namedFile{"dyke.csv", dyke})
		reads, sends := io.Pipe()
		first := request(http.MethodPost, seasonsPath, contentType, nil)
		first.Body, first.ContentLength = reads, -1
		ended := make(chan *httptest.ResponseRecorder)
		go func() { ended <- h.serve(first) }()
		if _, err := sends.Write(body[:10]); err != nil { // it is under way
			t.Fatal(err)
		}
		if w := h.send(t, request(http.MethodPost, seasonsPath, contentType, body)); w.Header().Get("Retry-After") == "" {
			t.Errorf("no Retry-After: %d %.300s", w.Code, w.Body)
		} else {
			checkProblem(t, w, "busy")
		}
		if _, err := sends.Write(body[10:]); err != nil {
			t.Fatal(err)
		}
		_ = sends.Close()
		if _, last := itemsOf(seasonLines(t, <-ended)); last.End == nil {
			t.Errorf("the one under way: %+v", last)
		}
		if w := h.send(t, request(http.MethodPost, seasonsPath, contentType, body)); w.Code != http.StatusOK {
			t.Errorf("the next: status %d", w.Code)
		}
	})
	t.Run("archive_entries", func(t *testing.T) {
		h := newHarness(t, engine.Config{})
		packed := []namedFile{{"dyke.csv", dyke}}
		for len(packed) < engine.MostEntries {
			packed = append(packed, namedFile{name: ".hidden"})
		}
		w := h.send(t, request(http.MethodPost, seasonsPath, "application/zip", zipOf(t, packed...)))
		if _, last := itemsOf(seasonLines(t, w)); last.End == nil || *last.End.Skipped != engine.MostEntries-1 {
			t.Errorf("at it: %+v", last)
		}
		w = h.send(t, request(http.MethodPost, seasonsPath, "application/zip", zipOf(t, append(packed, namedFile{name: ".hidden"})...)))
		if p := checkProblem(t, w, "too-many"); p["limit"] != float64(engine.MostEntries) || p["actual"] != float64(engine.MostEntries+1) {
			t.Errorf("beyond it: %v", p)
		}
	})
}
