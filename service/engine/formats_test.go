package engine

import (
	"archive/zip"
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"
	"unicode/utf16"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// inUTF16 encodes text with a byte order mark.
func inUTF16(text string, bigEndian bool) []byte {
	var b []byte
	for _, u := range append([]uint16{0xFEFF}, utf16.Encode([]rune(text))...) {
		if bigEndian {
			b = append(b, byte(u>>8), byte(u))
		} else {
			b = append(b, byte(u), byte(u>>8))
		}
	}
	return b
}

// example returns one of the example files, all of the same course.
func example(t testing.TB, extension string) []byte {
	t.Helper()
	content, err := os.ReadFile("../../testdata/examples/orchard-loop." + extension)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func TestRecognised(t *testing.T) {
	const root = `<gpx version="1.1"><trk/></gpx>`
	for _, tc := range []struct {
		name    string
		content []byte
		want    string
	}{
		{"bare root", []byte(root), "GPX"},
		{"declaration", []byte("<?xml version=\"1.0\"?>\n" + root), "GPX"},
		{"byte order mark", []byte("\xef\xbb\xbf<?xml version=\"1.0\"?>" + root), "GPX"},
		{"comment with a root in it", []byte("<!-- <kml> -->" + root), "GPX"},
		{"document type", []byte("<!DOCTYPE gpx>" + root), "GPX"},
		{"prefixed root", []byte(`<g:gpx xmlns:g="x"/>`), "GPX"},
		{"root alone", []byte("<gpx/>"), "GPX"},
		{"root cut off", []byte("<gpx"), "GPX"},
		{"megabytes of white space", []byte(strings.Repeat(" \n", 1<<20) + root), "GPX"},
		{"UTF-16, big end first", inUTF16(root, true), "GPX"},
		{"UTF-16, little end first", inUTF16("<?xml version=\"1.0\"?>"+root, false), "GPX"},
		{"TCX", example(t, "tcx"), "TCX"},
		{"TCX with a prefix", []byte(`<t:TrainingCenterDatabase xmlns:t="x"/>`), "TCX"},
		{"TCX in UTF-16", inUTF16("<TrainingCenterDatabase>", false), "TCX"},
		{"KML", example(t, "kml"), "KML"},
		{"KML with a prefix", []byte("<k:kml>"), "KML"},
		{"zipped KML", archive(t, "doc.kml", example(t, "kml")), "KML"},
		{"zipped KML in capitals", archive(t, "Course.KML", example(t, "kml")), "KML"},
		{"zipped GPX", archive(t, "course.gpx", example(t, "gpx")), ""},
		{"zipped sheets", archive(t, "xl/worksheets/sheet1.xml", []byte("<worksheet/>")), ""},
		{"table of positions", example(t, "csv"), "a table"},
		{"table of distances", example(t, "profile.csv"), "a table"},
		{"decimal commas, Windows-1252", []byte("Strecke (km);H\xf6he\r0,0;210,5\r1,2;212,0\r"), "a table"},
		{"table in UTF-16", inUTF16("distance\televation\n0\t1\n", false), "a table"},
		{"columns of spaces", []byte("\ufeff# profile\n   0.0   210\n 100.0   212\n"), "a table"},
		{"hemispheres and a title", []byte("Orchard 2024\nlat,lon\n\"47.1 N\",\"3.2 E\"\n"), "a table"},
		{"header alone", []byte("distance,elevation\n"), ""},
		{"one column", []byte("1\n2\n3\n"), ""},
		{"numbers in prose", []byte("On 4 May 2024 we ride 3 laps of the orchard loop.\n"), ""},
		{"text with a zero byte", []byte("1,2\n3,4\n\x00"), ""},
		{"FIT", example(t, "fit"), "FIT"},
		{"head of FIT", example(t, "fit")[:12], "FIT"},
		{"GeoJSON", example(t, "geojson"), "GeoJSON"},
		{"JSON in UTF-16", inUTF16("\n {", true), "GeoJSON"},
		{"other JSON", []byte(`{"gpx": "<gpx/>"}`), "GeoJSON"}, // its reader says what is missing
		{"nothing", nil, ""},
		{"a list in JSON", []byte("[1, 2]"), ""},
		{"a byte order mark alone", []byte("\xff\xfe"), ""},
		{"half a unit of UTF-16", []byte("\xff\xfe<"), ""},
		{"white space", []byte("  \n"), ""},
		{"web page", []byte("<!DOCTYPE html><html><gpx/></html>"), ""},
		{"other XML", []byte("<svg xmlns='x'/>"), ""},
		{"comment without end", []byte("<!-- <gpx>"), ""},
		{"text", []byte("gpx"), ""},
		{"other case", []byte("<GPX/>"), ""},
		{"PDF", []byte("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<</Type/Catalog>>"), ""},
		{"PNG", []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), ""},
		{"JPEG", []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00"), ""},
		{"FIT with a header of another size", []byte("\x10       .FIT  "), ""},
		{"the signature of FIT elsewhere", []byte("\x0e       \x00.FIT"), ""},
		{"gzip", example(t, "gpx.gz"), ""}, // is unpacked before
	} {
		t.Run(tc.name, func(t *testing.T) {
			f, ok := recognised(tc.content)
			if f.name != tc.want || ok != (tc.want != "") {
				t.Errorf("%q, %v; want %q", f.name, ok, tc.want)
			}
		})
	}
}

// archive returns a zip archive of one file.
func archive(t testing.TB, name string, content []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	f, err := w.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(content); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestRecognisersAreExclusive demands that no file looks like two formats.
func TestRecognisersAreExclusive(t *testing.T) {
	for _, extension := range exampleFiles {
		content := example(t, extension)
		var found []string
		for _, f := range formats {
			if f.recognise(content) {
				found = append(found, f.name)
			}
		}
		if len(found) != 1 {
			t.Errorf("%s looks like %q", extension, found)
		}
	}
}

// exampleFiles are the examples that are not compressed.
var exampleFiles = []string{"gpx", "geojson", "kml", "fit", "tcx", "csv", "profile.csv"}

// TestPointsAreEstimated demands that the estimate of points is near, for it
// decides what is admitted beside it.
func TestPointsAreEstimated(t *testing.T) {
	for _, extension := range exampleFiles {
		content := example(t, extension)
		f, _ := recognised(content)
		if n := f.points(content); n < 180 || n > 500 {
			t.Errorf("%s: %d points, it has 241", extension, n)
		}
	}
}

func TestFormatOf(t *testing.T) {
	for _, tc := range []struct {
		name, mediaType string
		content         string
		// want is the code of the error, or the name of the format.
		want string
		says string
	}{
		{"named", "application/gpx+xml", "<gpx/>", "GPX", ""},
		{"named in capitals, with a parameter", "Application/GPX+XML; charset=utf-8", "<gpx/>", "GPX", ""},
		{"general XML", "text/xml", "<gpx/>", "GPX", ""},
		{"general XML, another root", "application/xml", "<TrainingCenterDatabase/>", "TCX", ""},
		{"not named", "", "<gpx/>", "GPX", ""},
		{"JSON", "application/json", "{}", "GeoJSON", ""},
		{"bytes of anything", "application/octet-stream", "<gpx/>", "GPX", ""},
		{"named, not recognised", "application/gpx+xml", "hello", "GPX", ""}, // its reader says more
		{"a sheet program's name", "application/vnd.ms-excel", "0,1\n2,3\n", "a table", ""},
		{"a table named GPX", "application/gpx+xml", "0,1\n2,3\n", track.CodeNotTheFormat, "looks like a table; name it text/csv"},
		{"named another", "application/gpx+xml", "<TrainingCenterDatabase/>", track.CodeNotTheFormat, "sent as GPX but looks like TCX; name it application/tcx+xml"},
		{"not named, not recognised", "", "x", track.CodeNotTheFormat, "send GPX"},
		{"named, not read here", "image/png", "<gpx/>", CodeUnsupportedMediaType, "application/gpx+xml"},
		{"nothing", "", "", track.CodeNotTheFormat, "empty"},
		{"nothing, named", "application/fit", "", track.CodeNotTheFormat, "empty"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f, err := formatOf(tc.mediaType, []byte(tc.content))
			got, says := f.name, ""
			if err != nil {
				got, says = codeOf(err), err.Error()
			}
			if got != tc.want || !strings.Contains(says, tc.says) {
				t.Errorf("%q, %q; want %q, %q", got, says, tc.want, tc.says)
			}
		})
	}
}

// TestMediaTypesAreUnique demands that a media type names one format or none.
func TestMediaTypesAreUnique(t *testing.T) {
	named, general := FileTypes()
	seen := map[string]bool{}
	for _, mediaType := range append(named, general...) {
		if seen[mediaType] || mediaType != strings.ToLower(mediaType) {
			t.Errorf("%q stands twice or in capitals", mediaType)
		}
		seen[mediaType] = true
	}
}

// codeOf returns the code of an error of ours or of the reader, "" for none.
func codeOf(err error) string {
	var asked *Error
	var file *track.Error
	var made *course.Error
	switch {
	case errors.As(err, &made):
		return made.Code
	case errors.As(err, &asked):
		return asked.Code
	case errors.As(err, &file):
		return file.Code
	case err != nil:
		return err.Error()
	}
	return ""
}

// FuzzRecognise demands that every file looks like one format at most, and that
// its points can be estimated.
func FuzzRecognise(f *testing.F) {
	f.Add([]byte("<?xml?><!-- --><gpx>"))
	f.Add(inUTF16("<gpx/>", true))
	for _, extension := range exampleFiles {
		f.Add(example(f, extension)[:200])
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		n := 0
		for _, f := range formats {
			if f.recognise(content) {
				n++
			}
			if p := f.points(content); p < 0 || p > len(content) {
				t.Errorf("%s: %d points in %d bytes", f.name, p, len(content))
			}
		}
		if n > 1 {
			t.Errorf("%q looks like %d formats", content, n)
		}
	})
}
