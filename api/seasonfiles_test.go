package api_test

import (
	"archive/tar"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"net/http"
	"strings"
	"testing"

	"parcours.example/api/contract"
	"parcours.example/service/engine"
)

// TestOneBadFileIsOneBadItem sends files that can't be read among others: each has the problem
// that a call for it alone has, and the others are answered.
func TestOneBadFileIsOneBadItem(t *testing.T) {
	h := newHarness(t, engine.Config{})
	const head = `<gpx version="1.1"><trk><trkseg>`
	bad := []namedFile{
		{"words", "just words"},
		{"empty", ""},
		{"one-point.gpx", head + `<trkpt lat="47" lon="3.2"/></trkseg></trk></gpx>`},
		{"off-the-earth.gpx", head + `<trkpt lat="91" lon="3.2"/><trkpt lat="47" lon="3.2"/></trkseg></trk></gpx>`},
		{"broken-off.gpx", head + `<trkpt lat="47" lon="3.2"/>`},
		{"not-increasing.csv", "distance_m,elevation_m\n0,4\n2500,9\n2000,4\n"},
		{"too-large", strings.Repeat(" ", engine.MostBodyBytes+1)},
	}
	var sent []namedFile
	for _, f := range bad {
		sent = append(sent, f, namedFile{"dyke.csv", dyke})
	}
	items, last := askedFiles(t, h, "", sent...)
	if len(items) != len(sent) || last.End == nil || last.End.Answered != len(bad) || last.End.Failed != len(bad) {
		t.Fatalf("%d items, %+v", len(items), last.End)
	}
	for i, item := range items {
		if item.Index != i || *item.RoundID != sent[i].name {
			t.Errorf("item %d is %d, %s", i, item.Index, *item.RoundID)
		}
		if i%2 == 1 {
			if item.Result == nil || item.Problem != nil {
				t.Errorf("%d: %+v", i, item)
			}
			continue
		}
		w := h.send(t, request(http.MethodPost, "/v1/courses", "", []byte(sent[i].content)))
		var alone contract.Problem
		if err := json.Unmarshal(w.Body.Bytes(), &alone); err != nil {
			t.Fatal(err)
		}
		alone.RequestID = nil
		if a, b := mustJSON(t, alone), mustJSON(t, item.Problem); a != b {
			t.Errorf("%s: %s\nalone %s", sent[i].name, b, a)
		}
	}
}

func mustJSON(t testing.TB, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// tarOf is a tar archive; a name that ends with "@" is that of a link.
func tarOf(t testing.TB, packed ...namedFile) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, f := range packed {
		header := &tar.Header{Name: f.name, Size: int64(len(f.content)), Mode: 0o600, Typeflag: tar.TypeReg}
		if name, is := strings.CutSuffix(f.name, "@"); is {
			header = &tar.Header{Name: name, Linkname: f.content, Typeflag: tar.TypeSymlink}
			f.content = ""
		}
		if err := w.WriteHeader(header); err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(f.content)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// encrypted marks the files of a zip archive as such.
func encryptedZip(archive []byte) []byte {
	out := bytes.Clone(archive)
	for mark, flags := range map[string]int{"PK\x03\x04": 6, "PK\x01\x02": 8} {
		for at := 0; ; {
			i := bytes.Index(out[at:], []byte(mark))
			if i < 0 {
				break
			}
			out[at+i+flags] |= 1
			at += i + 4
		}
	}
	return out
}

// TestArchivesOfRounds reads archives as people and others make them.
func TestArchivesOfRounds(t *testing.T) {
	gpx := string(readFile(t, "testdata/examples/orchard-loop.gpx"))
	kml := string(readFile(t, "testdata/examples/orchard-loop.kml"))
	course := namedFile{"dyke.csv", dyke}
	zip := zipOf(t, namedFile{"a/week-1.csv", dyke}, namedFile{name: "a/"}, namedFile{"__MACOSX/a/._week-1.csv", "x"}, namedFile{"a/.DS_Store", "x"}, namedFile{"b.gpx", gpx})
	spoilt := bytes.Replace(zipOf(t, course), []byte("PK\x01\x02"), []byte("PK\x01\x01"), 1)
	tarred := tarOf(t, namedFile{"a/week-1.csv", dyke}, namedFile{"b.csv@", "/etc/passwd"}, namedFile{"b.gpx", gpx})
	many := tarOf(t, course, course, course)
	form := func(sent ...namedFile) (string, []byte) { return formOf(t, "", sent...) }
	type sent struct {
		mediaType string
		body      []byte
	}
	inForm := func(f ...namedFile) sent { m, b := form(f...); return sent{m, b} }
	for _, x := range []struct {
		name string
		sent
		// want are the ids of rounds, with a colon and the problem of one that has one; then that
		// of the whole.
		want    string
		skipped int
	}{
		{"zip", sent{"application/zip", zip}, "a/week-1.csv b.gpx", 3},
		{"tar", sent{"application/x-tar", tarred}, "a/week-1.csv b.gpx", 1},
		{"gzipped tar, named as zip", sent{"application/zip", gzipped(tarred)}, "a/week-1.csv b.gpx", 1},
		{
			"archives in a form", inForm(namedFile{"first.zip", string(zip)}, course, namedFile{"second.tgz", string(gzipped(tarred))}, namedFile{"third.tar", string(tarred)}),
			"first.zip/a/week-1.csv first.zip/b.gpx dyke.csv second.tgz/a/week-1.csv second.tgz/b.gpx third.tar/a/week-1.csv third.tar/b.gpx", 5,
		},
		{"a gzipped file", inForm(namedFile{"b.gpx.gz", string(gzipped([]byte(gpx)))}), "b.gpx.gz", 0},
		{"a zipped KML file", inForm(namedFile{"loop.KMZ", string(zipOf(t, namedFile{"doc.kml", kml}, namedFile{"icon.png", "x"}))}), "loop.KMZ", 0},
		{"names that lead elsewhere", sent{"application/zip", zipOf(t, namedFile{"../../etc/passwd", dyke}, namedFile{`C:\rounds\..\x.csv`, dyke}, namedFile{"/abs\x00\u202e.csv", dyke})}, "etc/passwd C:/x.csv abs.csv", 0},
		{"an archive in an archive", sent{"application/zip", zipOf(t, course, namedFile{"more.zip", string(zipOf(t, course))})}, "dyke.csv more.zip:not-the-format", 0},
		{"an encrypted archive", sent{"application/zip", encryptedZip(zipOf(t, course))}, "dyke.csv:malformed-file", 0},
		{"a file with another checksum", sent{"application/zip", bytes.ReplaceAll(zipOf(t, namedFile{"a", dyke}, course), crcOf(dyke), []byte("abcd"))}, "a:malformed-file dyke.csv:malformed-file", 0},
		{"a bomb", sent{"application/zip", zipOf(t, namedFile{"bomb.gpx", strings.Repeat("\x00", 20<<20)}, course)}, "bomb.gpx:too-large dyke.csv", 0},
		{"nothing", sent{"application/zip", zipOf(t)}, ":not-computable", 0},
		{"nothing but folders", sent{"application/x-tar", tarOf(t, namedFile{name: ".git"})}, ":not-computable", 0},
		{"an empty body", sent{"application/zip", nil}, ":not-the-format", 0},
		{"an empty form", inForm(), ":not-computable", 0},
		{"a zip archive that is damaged", sent{"application/zip", spoilt}, ":malformed-file", 0},
		{"the same in a form", inForm(namedFile{"spoilt.zip", string(spoilt)}, course), "spoilt.zip:malformed-file dyke.csv", 0},
		{"a tar archive that breaks off", sent{"application/x-tar", many[:2500]}, "dyke.csv dyke.csv :malformed-request", 0},
		{"the same in a form", inForm(namedFile{"many.tar", string(many[:2500])}, course), "many.tar/dyke.csv many.tar/dyke.csv many.tar:malformed-file dyke.csv", 0},
		{"a form that breaks off", func() sent { s := inForm(course, course); s.body = s.body[:len(s.body)-15]; return s }(), "dyke.csv :malformed-request", 0},
		{"a form without a boundary", sent{"multipart/form-data", nil}, ":malformed-request", 0},
		{"a request behind files", sent{"multipart/form-data; boundary=x", []byte("--x\r\nContent-Disposition: form-data; name=file; filename=a\r\n\r\n" + dyke + "\r\n--x\r\nContent-Disposition: form-data; name=request\r\n\r\n{}\r\n--x--\r\n")}, "a :invalid-request", 0},
	} {
		w := newHarness(t, engine.Config{}).send(t, request(http.MethodPost, seasonsPath, x.mediaType, x.body))
		var got []string
		if w.Code != http.StatusOK {
			var p contract.Problem
			if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
				t.Fatal(err)
			}
			got = append(got, ":"+problemName(&p))
		} else {
			items, last := itemsOf(seasonLines(t, w))
			for _, item := range items {
				name := *item.RoundID
				if item.Problem != nil {
					name += ":" + problemName(item.Problem)
				}
				got = append(got, name)
			}
			switch {
			case last.Problem != nil:
				got = append(got, ":"+problemName(last.Problem))
			case last.End == nil:
				t.Errorf("%s: neither end nor problem", x.name)
			case last.End.Skipped == nil && x.skipped != 0 || last.End.Skipped != nil && *last.End.Skipped != x.skipped:
				t.Errorf("%s: %v passed over, want %d", x.name, last.End.Skipped, x.skipped)
			}
		}
		if text := strings.Join(got, " "); text != x.want {
			t.Errorf("%s: %s\nwant %s", x.name, text, x.want)
		}
	}
}

// crcOf is the checksum of a file as zip archives hold it.
func crcOf(content string) []byte {
	return binary.LittleEndian.AppendUint32(nil, crc32.ChecksumIEEE([]byte(content)))
}
