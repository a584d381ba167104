package engine

import (
	"bytes"
	"errors"
	"io"
	"testing"
)

// TestUnpackedFilesAreHeld demands that what a file unpacks to counts, while it is
// used and no longer.
func TestUnpackedFilesAreHeld(t *testing.T) {
	content := gpx("Oster loop", 100)
	packed := compressed(t, content)
	e := newEngine(t, Config{HeldBytes: int64(len(content))})
	other := e.Claim()
	if _, err := io.ReadAll(other.Reader(bytes.NewReader([]byte{1}))); err != nil {
		t.Fatal(err)
	}
	var busy *BusyError
	if _, err := e.Course(t.Context(), fromFile(packed)); !errors.As(err, &busy) || busy.RetryAfter <= 0 {
		t.Errorf("beside another's byte: %v", err)
	}
	other.Release()
	if _, err := e.Course(t.Context(), fromFile(packed)); err != nil {
		t.Errorf("alone: %v", err)
	}
	if held := e.held.Load(); held != 0 {
		t.Errorf("%d bytes are held by nobody", held)
	}
}
