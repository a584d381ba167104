package api_test

import (
	"bytes"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"parcours.example/analysis/track"
	"parcours.example/service/engine"
)

// defectsTable says what a file of each format is answered that has a defect: "ok"
// for a course without warnings, the codes of the warnings after "+", the type of a
// problem, or "–" where a format can't have the defect. GPX.gz is GPX compressed with
// gzip; positions and distances are tables. Nothing tells a table of distances that
// breaks off from a shorter one.
const defectsTable = `
defect                       | GPX                     | GPX.gz                  | GeoJSON                 | KML                     | TCX                     | FIT                     | positions               | distances
none                         | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | ok
nothing in the file          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format
broken off in the middle     | malformed-file          | malformed-file          | malformed-file          | malformed-file          | malformed-file          | malformed-file          | value-out-of-range      | ok
a web page                   | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format
a picture                    | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format
another format               | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format          | not-the-format
more after the end           | +content-after-end      | +content-after-end      | +content-after-end      | +content-after-end      | +content-after-end      | +content-after-end      | value-out-of-range      | value-out-of-range
byte order mark              | ok                      | ok                      | ok                      | ok                      | ok                      | –                       | ok                      | ok
UTF-16                       | ok                      | ok                      | ok                      | ok                      | ok                      | –                       | ok                      | ok
ISO-8859-1, declared         | ok                      | ok                      | –                       | ok                      | ok                      | –                       | –                       | –
ISO-8859-1, not declared     | +encoding-guessed       | +encoding-guessed       | +encoding-guessed       | +encoding-guessed       | +encoding-guessed       | –                       | +encoding-guessed       | +encoding-guessed
document type                | malformed-file          | malformed-file          | –                       | malformed-file          | malformed-file          | –                       | –                       | –
10 MB of white space         | ok                      | too-large               | ok                      | ok                      | ok                      | –                       | ok                      | ok
nested 100 deep              | too-many                | too-many                | too-many                | too-many                | too-many                | –                       | –                       | –
latitude 91                  | value-out-of-range      | value-out-of-range      | value-out-of-range      | value-out-of-range      | value-out-of-range      | value-out-of-range      | value-out-of-range      | –
latitude or distance NaN     | value-out-of-range      | value-out-of-range      | value-out-of-range      | value-out-of-range      | value-out-of-range      | +position-missing       | value-out-of-range      | value-out-of-range
elevation Inf                | +elevation-unreadable   | +elevation-unreadable   | malformed-file          | +elevation-unreadable   | +elevation-unreadable   | –                       | +elevation-unreadable   | +elevation-unreadable
elevation of 12,000 m        | +elevation-out-of-range | +elevation-out-of-range | +elevation-out-of-range | +elevation-out-of-range | +elevation-out-of-range | +elevation-out-of-range | +elevation-out-of-range | +elevation-out-of-range
no elevations                | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing
elevations missing for 500 m | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing      | +elevation-missing
one point                    | no-line                 | no-line                 | no-line                 | no-line                 | no-line                 | no-line                 | no-line                 | no-line
all points in one place      | too-short               | too-short               | too-short               | too-short               | too-short               | too-short               | too-short               | no-line
the same point five times    | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | +distance-repeated
more points than allowed     | too-many                | too-many                | too-many                | too-many                | too-many                | too-many                | too-many                | too-many
times that run backwards     | ok                      | ok                      | –                       | –                       | ok                      | –                       | –                       | –
across the antimeridian      | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | –
over the pole                | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | –
two lines                    | +several-tracks         | +several-tracks         | +several-tracks         | +several-tracks         | +several-tracks         | +several-tracks         | –                       | –
two lines, track=2           | ok                      | ok                      | ok                      | ok                      | ok                      | ok                      | –                       | –
track=3                      | no-such-track           | no-such-track           | no-such-track           | no-such-track           | no-such-track           | no-such-track           | no-such-track           | no-such-track
`

// defect makes a body of one format that is wrong in one way.
type defect struct {
	name string
	// draw changes what is drawn, nil for nothing.
	draw func(*drawing)
	// damage changes the bytes, nil for nothing.
	damage func(w writer, body []byte) []byte
	// unmarked leaves the marks out.
	unmarked bool
	query    string
}

// each changes the points of the first line.
func each(change func(i int, p *drawnPoint)) func(*drawing) {
	return func(d *drawing) {
		for i := range d.lines[0].points {
			change(i, &d.lines[0].points[i])
		}
	}
}

// only changes one point of the first line.
func only(n int, change func(p *drawnPoint)) func(*drawing) {
	return func(d *drawing) { change(&d.lines[0].points[n]) }
}

// bytesOf replaces the body.
func bytesOf(body string) func(writer, []byte) []byte {
	return func(writer, []byte) []byte { return []byte(body) }
}

// inText changes the text of a body before it is compressed.
func inText(change func([]byte) []byte) func(writer, []byte) []byte {
	return func(w writer, body []byte) []byte {
		if w.name == "GPX.gz" {
			return gzipped(change(writeGPX(drawn())))
		}
		return change(body)
	}
}

var defects = []defect{
	{name: "none"},
	{name: "nothing in the file", damage: bytesOf("")},
	{name: "broken off in the middle", damage: func(_ writer, b []byte) []byte { return b[:len(b)/2] }},
	{name: "a web page", damage: bytesOf("<!DOCTYPE html><html><body>Log in</body></html>")},
	{name: "a picture", damage: bytesOf("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00")},
	{name: "another format", damage: func(w writer, _ []byte) []byte {
		if w.name == "KML" {
			return writeGPX(drawn())
		}
		return writeKML(drawn())
	}},
	{name: "more after the end", damage: inText(func(b []byte) []byte { return append(b, "<!-- --> more"...) })},
	{name: "byte order mark", damage: inText(func(b []byte) []byte { return append([]byte("\xef\xbb\xbf"), b...) })},
	{name: "UTF-16", damage: inText(func(b []byte) []byte {
		out := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(string(b))) {
			out = append(out, byte(u), byte(u>>8))
		}
		return out
	})},
	{name: "ISO-8859-1, declared", damage: inText(func(b []byte) []byte {
		return bytes.ReplaceAll(bytes.Replace(b, []byte("UTF-8"), []byte("ISO-8859-1"), 1), []byte("ü"), []byte("\xfc"))
	})},
	{name: "ISO-8859-1, not declared", damage: inText(func(b []byte) []byte { return bytes.ReplaceAll(b, []byte("ü"), []byte("\xfc")) })},
	{name: "document type", damage: inText(func(b []byte) []byte {
		return bytes.Replace(b, []byte(xmlHead), []byte(xmlHead+`<!DOCTYPE x [<!ENTITY a "b">]>`), 1)
	})},
	{name: "10 MB of white space", damage: inText(func(b []byte) []byte { return append(b, bytes.Repeat([]byte(" \n"), 5<<20)...) })},
	{name: "nested 100 deep", damage: func(w writer, b []byte) []byte { return inText(nest(w))(w, b) }},
	{name: "latitude 91", draw: only(20, func(p *drawnPoint) { p.latDeg = 91 })},
	{name: "latitude or distance NaN", draw: only(20, func(p *drawnPoint) { p.lat = "NaN" })},
	{name: "elevation Inf", draw: only(20, func(p *drawnPoint) { p.ele = "Inf" })},
	{name: "elevation of 12,000 m", draw: only(20, func(p *drawnPoint) { p.eleM = 12000 })},
	{name: "no elevations", draw: each(func(_ int, p *drawnPoint) { p.eleM = math.NaN() })},
	{name: "elevations missing for 500 m", draw: each(func(i int, p *drawnPoint) {
		if i >= 20 && i < 30 {
			p.eleM = math.NaN()
		}
	})},
	{name: "one point", draw: func(d *drawing) { d.lines[0].points, d.marks = d.lines[0].points[:1], nil }},
	{name: "all points in one place", draw: each(func(_ int, p *drawnPoint) { p.latDeg, p.distanceM = 47, 0 })},
	{name: "the same point five times", draw: func(d *drawing) {
		for range 4 {
			d.lines[0].points = slices.Insert(d.lines[0].points, 20, d.lines[0].points[20])
		}
	}},
	{name: "more points than allowed", draw: func(d *drawing) {
		for len(d.lines[0].points) < 201 {
			p := d.lines[0].points[len(d.lines[0].points)-1]
			p.latDeg, p.distanceM = p.latDeg+1e-4, p.distanceM+11
			d.lines[0].points = append(d.lines[0].points, p)
		}
	}},
	{name: "times that run backwards", draw: each(func(i int, p *drawnPoint) { p.time = "2024-05-04T10:" + string(rune('5'-i/12)) + "0:00Z" })},
	{name: "across the antimeridian", draw: each(func(i int, p *drawnPoint) {
		p.latDeg, p.lonDeg = 0, math.Remainder(180+float64(i-30)*50/111320, 360)
	}), unmarked: true},
	{name: "over the pole", draw: each(func(i int, p *drawnPoint) {
		p.latDeg = 90 - math.Abs(float64(i-30))*50/111694
		if i > 30 {
			p.lonDeg = -176.8
		}
	}), unmarked: true},
	{name: "two lines", draw: twoLines, unmarked: true},
	{name: "two lines, track=2", draw: twoLines, unmarked: true, query: "?track=2"},
	{name: "track=3", draw: twoLines, unmarked: true, query: "?track=3"},
}

// nest returns what puts 100 levels into a file.
func nest(w writer) func([]byte) []byte {
	return func(b []byte) []byte {
		if w.name == "GeoJSON" {
			return bytes.Replace(b, []byte(`"properties": {`), []byte(`"properties": {"x": `+strings.Repeat("[", 100)+strings.Repeat("]", 100)+", "), 1)
		}
		end := bytes.LastIndex(b, []byte("</"))
		return slices.Concat(b[:end], []byte(strings.Repeat("<x>", 100)+strings.Repeat("</x>", 100)), b[end:])
	}
}

// twoLines adds a line half as long.
func twoLines(d *drawing) {
	d.lines = append(d.lines, drawnLine{"Wiese", d.lines[0].points[:31]})
}

// TestDefects holds every cell of the table against the real handler.
func TestDefects(t *testing.T) {
	h := newHarness(t, engine.Config{Limits: engine.Limits{Track: track.Limits{Points: 200}}})
	for n, line := range strings.Split(strings.TrimSpace(defectsTable), "\n")[1:] {
		cells := strings.Split(line, "|")
		if n >= len(defects) || strings.TrimSpace(cells[0]) != defects[n].name || len(cells) != 1+len(writers) {
			t.Fatalf("row %d %q is not of the defect in its place", n, line)
		}
		for i, w := range writers {
			if want := strings.TrimSpace(cells[1+i]); want != "–" {
				t.Run(defects[n].name+"/"+w.name, func(t *testing.T) { checkDefect(t, h, defects[n], w, want) })
			}
		}
	}
}

// checkDefect sends a file with a defect, and demands of a course with the whole
// line that it has the line's length and names.
func checkDefect(t *testing.T, h *harness, d defect, w writer, want string) {
	got := sendDefect(t, h, d, w)
	switch {
	case got.told() != want:
		t.Fatalf("%q, want %q: %+v", got.told(), want, got)
	case want == "value-out-of-range" && got.Point == 0:
		t.Errorf("no point is named: %s", got.Detail)
	case got.Type != "":
		return
	}
	lengthM, name := 3000.0, "Hügel"
	if d.query == "?track=2" {
		lengthM, name = 1500, "Wiese"
	}
	if w.mediaType == "text/csv" {
		name = "" // tables have no place for it
	}
	if math.Abs(got.DistanceM-lengthM) > 6 && d.name != "broken off in the middle" {
		t.Errorf("%.1f m, want %.0f m", got.DistanceM, lengthM)
	}
	if got.Name != name || !d.unmarked && d.damage == nil && !got.marked() {
		t.Errorf("%q with %v", got.Name, got.Marks)
	}
}

// sendDefect answers with what a file with a defect is told.
func sendDefect(t *testing.T, h *harness, d defect, w writer) analysedFile {
	picture := drawn()
	if d.draw != nil {
		d.draw(&picture)
	}
	if d.unmarked {
		picture.marks = nil
	}
	body := w.write(picture)
	if d.damage != nil {
		body = d.damage(w, body)
	}
	reply := h.send(t, request(http.MethodPost, "/v1/courses"+d.query, w.mediaType, body))
	if reply.Code >= 500 {
		t.Fatalf("status %d: %s", reply.Code, reply.Body)
	}
	return decodeAnalysed(t, reply.Body.Bytes())
}
