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

// TestLargeClaimsLeaveRoom demands that callers who send much leave a quarter of the budget
// to those who don't.
func TestLargeClaimsLeaveRoom(t *testing.T) {
	const most = 64 << 20
	e := newEngine(t, Config{HeldBytes: most})
	take := func(c *Claim, n int) error {
		_, err := io.Copy(io.Discard, c.Reader(bytes.NewReader(make([]byte, n))))
		return err
	}
	var busy *BusyError
	large := e.Claim()
	if err := take(large, most); !errors.As(err, &busy) || large.held > most*3/4 || large.held < most*2/3 {
		t.Errorf("one caller holds %d of %d bytes: %v", large.held, most, err)
	}
	for range most / 4 / largeClaim {
		if err := take(e.Claim(), largeClaim); err != nil {
			t.Fatalf("an ordinary file beside large ones: %v", err)
		}
	}
	if err := take(e.Claim(), largeClaim); !errors.As(err, &busy) {
		t.Errorf("more than there is: %v", err)
	}
}
