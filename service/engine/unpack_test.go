package engine

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// compressed returns content in gzip.
func compressed(t testing.TB, content []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(content); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestCompressedFiles demands of every format that a compressed file gives the
// course of the plain one, and damaged ones a refusal.
func TestCompressedFiles(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{Track: track.Limits{Bytes: 1 << 20}}})
	analyse := func(content []byte) (*Course, error) {
		return e.Course(context.Background(), CourseSource{File: &File{Content: content}, Options: CourseOptions{Options: course.Defaults()}})
	}
	for _, extension := range exampleFiles {
		plain := example(t, extension)
		want, err := analyse(plain)
		if err != nil {
			t.Fatal(extension, err)
		}
		half := len(plain) / 2
		for name, content := range map[string][]byte{
			"one member":  compressed(t, plain),
			"two members": append(compressed(t, plain[:half]), compressed(t, plain[half:])...),
		} {
			if got, err := analyse(content); err != nil || got != want {
				t.Errorf("%s, %s: %v, %v; want the same course", extension, name, got, err)
			}
		}
	}
	whole := compressed(t, example(t, "gpx"))
	flipped := slices.Clone(whole)
	flipped[len(flipped)/2] ^= 0xff
	for name, tc := range map[string]struct {
		content    []byte
		code, says string
	}{
		"header alone":      {whole[:10], track.CodeMalformed, "breaks off"},
		"broken off":        {whole[:len(whole)/2], track.CodeMalformed, "breaks off"},
		"without its end":   {whole[:len(whole)-3], track.CodeMalformed, "breaks off"},
		"damaged":           {flipped, track.CodeMalformed, "damaged"},
		"followed by text":  {append(slices.Clone(whole), "text"...), track.CodeMalformed, "gzip"},
		"twice":             {compressed(t, whole), track.CodeNotTheFormat, "no format"},
		"of nothing":        {compressed(t, nil), track.CodeNotTheFormat, "empty"},
		"of words":          {compressed(t, []byte("words")), track.CodeNotTheFormat, "no format"},
		"a broken file":     {compressed(t, []byte("<gpx><trk>")), track.CodeMalformed, "line 1"},
		"more than allowed": {compressed(t, bytes.Repeat([]byte(" "), 1<<20+1)), CodeTooLarge, "1048576 bytes"},
	} {
		_, err := analyse(tc.content)
		if got := codeOf(err); got != tc.code || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: %q, %v; want %q, %q", name, got, err, tc.code, tc.says)
		}
	}
	if _, err := analyse(compressed(t, append(bytes.Repeat([]byte(" "), 1<<20-20), "<gpx/>"...))); codeOf(err) != track.CodeNoLine {
		t.Errorf("just below the limit: %v", err)
	}
}

// TestUnpackingIsAdmitted demands that files are unpacked on a worker.
func TestUnpackingIsAdmitted(t *testing.T) {
	e := newEngine(t, Config{Workers: 1, QueueWait: 20 * time.Millisecond})
	_, leave, err := e.admit.enter(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = e.unpacked(context.Background(), e.Claim(), &File{Content: compressed(t, []byte("x"))})
	if busy := (*BusyError)(nil); !errors.As(err, &busy) {
		t.Errorf("%v, want busy", err)
	}
	leave()
	if content, err := e.unpacked(context.Background(), e.Claim(), &File{Content: compressed(t, []byte("x"))}); err != nil || string(content) != "x" {
		t.Errorf("%q, %v", content, err)
	}
}

// repeated yields a byte for ever, taking nothing.
type repeated byte

// Read implements io.Reader.
func (r repeated) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(r)
	}
	return len(p), nil
}

// TestLayersEndAtTheirLimits demands that what is unpacked may come to exactly as much as the
// limits say, and that hardly more than that is read before it is refused.
func TestLayersEndAtTheirLimits(t *testing.T) {
	e := newEngine(t, Config{Limits: Limits{Track: track.Limits{Bytes: 4 << 20}}})
	for _, tc := range []struct {
		name         string
		packed, sent int
		most, limit  int
	}{
		{"next to nothing", 0, 0, track.PlentifulBytes, track.PlentifulBytes},
		{"little", 1000, 1000, track.PlentifulBytes + 1000*track.MostPacked, track.PlentifulBytes},
		{"much", 1 << 20, 1 << 20, 4 << 20, 4 << 20},
		{"much that came as little", 1 << 20, 1000, track.PlentifulBytes + 1000*track.MostPacked, track.PlentifulBytes},
	} {
		for over := range 2 {
			sent := e.Sent(io.LimitReader(repeated(0), int64(tc.packed)))
			sent.sent = tc.sent
			if _, err := io.Copy(io.Discard, sent); err != nil {
				t.Fatal(err)
			}
			plain := sent.Decoded(io.LimitReader(repeated(0), int64(tc.most+over)))
			n, err := io.Copy(io.Discard, plain)
			if over == 0 && (err != nil || n != int64(tc.most)) {
				t.Errorf("%s: %d of %d bytes: %v", tc.name, n, tc.most, err)
			}
			if refused := (*Error)(nil); over == 1 && (!errors.As(err, &refused) || refused.Code != CodeTooLarge || refused.Limit != float64(tc.limit) || plain.Bytes() > tc.most+layerStep) {
				t.Errorf("%s: one more: %v after %d bytes", tc.name, err, plain.Bytes())
			}
		}
	}
	empty := e.Sent(repeated(0))
	empty.Decoded(repeated(0))
	n, err := io.Copy(io.Discard, empty)
	if refused := (*Error)(nil); !errors.As(err, &refused) || n > track.PlentifulBytes || empty.Bytes() > track.PlentifulBytes+layerStep {
		t.Errorf("of which nothing comes: %v after %d bytes", err, n)
	}
}
