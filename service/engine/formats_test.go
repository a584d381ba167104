package engine

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf16"

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

func TestRecognise(t *testing.T) {
	const root = `<gpx version="1.1"><trk/></gpx>`
	for _, tc := range []struct {
		name    string
		content []byte
		want    bool
	}{
		{"bare root", []byte(root), true},
		{"declaration", []byte("<?xml version=\"1.0\"?>\n" + root), true},
		{"byte order mark", []byte("\xef\xbb\xbf<?xml version=\"1.0\"?>" + root), true},
		{"comment with a root in it", []byte("<!-- <kml> -->" + root), true},
		{"document type", []byte("<!DOCTYPE gpx>" + root), true},
		{"prefixed root", []byte(`<g:gpx xmlns:g="x"/>`), true},
		{"root alone", []byte("<gpx/>"), true},
		{"root cut off", []byte("<gpx"), true},
		{"megabytes of white space", []byte(strings.Repeat(" \n", 1<<20) + root), true},
		{"UTF-16, big end first", inUTF16(root, true), true},
		{"UTF-16, little end first", inUTF16("<?xml version=\"1.0\"?>"+root, false), true},
		{"nothing", nil, false},
		{"a byte order mark alone", []byte("\xff\xfe"), false},
		{"white space", []byte("  \n"), false},
		{"another root", []byte(`<html><gpx/></html>`), false},
		{"comment without end", []byte("<!-- <gpx>"), false},
		{"text", []byte("gpx"), false},
		{"JSON", []byte(`{"gpx": 1}`), false},
		{"other case", []byte("<GPX/>"), false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			mediaType, ok := Recognise(tc.content)
			if ok != tc.want || ok && mediaType != "application/gpx+xml" {
				t.Errorf("Recognise = %q, %v; want recognised %v", mediaType, ok, tc.want)
			}
		})
	}
}

func TestFormatOf(t *testing.T) {
	gpx := []byte("<gpx/>")
	for _, tc := range []struct {
		name string
		file File
		// want is the code of the error, empty for none.
		want string
	}{
		{"named", File{MediaType: "application/gpx+xml", Content: gpx}, ""},
		{"named in capitals, with a parameter", File{MediaType: "Application/GPX+XML; charset=utf-8", Content: gpx}, ""},
		{"general XML", File{MediaType: "text/xml", Content: gpx}, ""},
		{"not named", File{Content: gpx}, ""},
		{"bytes of anything", File{MediaType: "application/octet-stream", Content: gpx}, ""},
		{"not named, not recognised", File{Content: []byte("x")}, track.CodeNotTheFormat},
		{"named, not read here", File{MediaType: "image/png", Content: gpx}, CodeUnsupportedMediaType},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, err := formatOf(&tc.file)
			if got := codeOf(err); got != tc.want {
				t.Errorf("code %q, want %q", got, tc.want)
			}
		})
	}
}

// codeOf returns the code of an error of ours or of the reader, "" for none.
func codeOf(err error) string {
	var asked *Error
	var file *track.Error
	switch {
	case errors.As(err, &asked):
		return asked.Code
	case errors.As(err, &file):
		return file.Code
	case err != nil:
		return err.Error()
	}
	return ""
}

func FuzzRecognise(f *testing.F) {
	f.Add([]byte("<?xml?><!-- --><gpx>"))
	f.Add(inUTF16("<gpx/>", true))
	f.Fuzz(func(t *testing.T, content []byte) {
		if mediaType, ok := Recognise(content); ok != (mediaType != "") {
			t.Errorf("Recognise = %q, %v", mediaType, ok)
		}
	})
}
