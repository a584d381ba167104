package api

import (
	"bytes"
	"testing"
)

// A text is compressed once for each coding.
func TestFixedTextsAreCompressedOnce(t *testing.T) {
	var f fixedTexts
	text := bytes.Repeat([]byte("up and down "), 1000)
	form := func(coding, tag string) *byte {
		t.Helper()
		b, err := f.in(coding, tag, text)
		if err != nil || len(b) == 0 {
			t.Fatal(err)
		}
		return &b[0]
	}
	gzipped, zipped := form("gzip", "a-gzip"), form("zstd", "a-zstd")
	if gzipped == zipped || gzipped != form("gzip", "a-gzip") || zipped != form("zstd", "a-zstd") {
		t.Error("compressed anew, or one taken for the other")
	}
	if form("", "a") != &text[0] {
		t.Error("what is sent as it is was copied")
	}
}
