package api_test

import (
	"bytes"
	"io"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"parcours.example/service/engine"
)

// occupy holds the only worker of each lane of a harness until the returned function is called.
func occupy(t testing.TB, h *harness) (free func()) {
	t.Helper()
	const small, big = 0, 16 << 20
	light, err := h.engine.Begin(t.Context(), small)
	if err != nil {
		t.Fatal(err)
	}
	heavy, err := h.engine.Begin(t.Context(), big)
	if err != nil {
		t.Fatal(err)
	}
	return func() { engine.Finish(light); engine.Finish(heavy) }
}

// decoded undoes a reply's coding.
func decoded(t testing.TB, coding string, body []byte) []byte {
	t.Helper()
	var r io.Reader
	var err error
	switch coding {
	case "gzip":
		r, err = gzip.NewReader(bytes.NewReader(body))
	case "zstd":
		var d *zstd.Decoder
		if d, err = zstd.NewReader(bytes.NewReader(body), zstd.WithDecoderConcurrency(1)); err == nil {
			defer d.Close()
		}
		r = d
	default:
		t.Fatalf("unknown coding %q", coding)
	}
	if err != nil {
		t.Fatal(err)
	}
	out, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return out
}
