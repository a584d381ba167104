package api

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"syscall"
	"time"
)

// paceBytes is what must come of a body, and be taken of an answer, in each pace.
const paceBytes = 64 << 10

// defaultPace is the time in which paceBytes must go over the wire: 52 kbit/s.
const defaultPace = 10 * time.Second

// paced bounds how long callers may take to send and to receive, from what they do: what
// they hold of the memory meanwhile others can't have. A body must bring paceBytes in each
// pace, and an answer be taken as fast, however long all of it takes up to the server's own
// timeouts. How long an answer takes to make, the limits of requests bound, not the clock.
func paced(next http.Handler, pace time.Duration) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var readTimeout, writeTimeout time.Duration
		if server, ok := r.Context().Value(http.ServerContextKey).(*http.Server); ok {
			readTimeout, writeTimeout = server.ReadTimeout, server.WriteTimeout
		}
		control := http.NewResponseController(w)
		if r.Body != nil && r.Body != http.NoBody {
			asked := *r
			r = &asked
			r.Body = &pacedBody{ReadCloser: r.Body, control: control, pace: pace, whole: readTimeout}
		}
		next.ServeHTTP(&pacedWriter{ResponseWriter: w, control: control, pace: pace, whole: writeTimeout}, r)
	})
}

// slowError says that only so many bytes of a body came in a time in which at least least
// must, or in all the time that there is for it where least is 0.
type slowError struct {
	came, least int64
	in          time.Duration
}

// Error implements error.
func (e *slowError) Error() string {
	if e.least == 0 {
		return fmt.Sprintf("The body isn't whole after %v; %d bytes of it came.", e.in, e.came)
	}
	return fmt.Sprintf("Only %d bytes of the body came in %v; at least %d must.", e.came, e.in, e.least)
}

// errBrokenOff says that a caller left in the midst of a body.
var errBrokenOff = errors.New("the body breaks off")

// pacedBody is a body that must come at a pace.
type pacedBody struct {
	io.ReadCloser
	control *http.ResponseController
	// pace is the time for the next bytes, whole that for all of them, 0 for any; end is when
	// the latter is over.
	pace, whole time.Duration
	end         time.Time
	// due is when this pace is over. A reader that rests until what came is worked off moves it and
	// the end: that time isn't the caller's.
	due, rests time.Time
	// before is what came in earlier paces, now what came in this one.
	before, now int64
}

// Read implements io.Reader. It fails with a *slowError, or errBrokenOff.
func (b *pacedBody) Read(p []byte) (int, error) {
	if b.end.IsZero() {
		b.begin()
	} else if rest := time.Since(b.rests); rest >= leastRest {
		b.end, b.due = b.end.Add(rest), b.due.Add(rest)
		_ = b.control.SetReadDeadline(b.due) // what can't set deadlines has none
	}
	n, err := b.ReadCloser.Read(p)
	b.rests = time.Now()
	b.now += int64(n)
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		err = b.slow()
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, syscall.ECONNRESET):
		err = errBrokenOff
	case err == nil && b.now >= b.least(): // not at the end: from there on the server reads to learn when the caller leaves
		b.before, b.now = b.before+b.now, 0
		b.extend()
	}
	return n, err
}

// leastRest is from where on a rest between reads counts as one.
const leastRest = 10 * time.Millisecond

// slow is the error of a body whose time is over.
func (b *pacedBody) slow() *slowError {
	if b.whole > 0 && !time.Now().Before(b.end) {
		return &slowError{came: b.before + b.now, in: b.whole}
	}
	return &slowError{came: b.now, least: b.least(), in: b.pace}
}

// begin starts the clock.
func (b *pacedBody) begin() {
	b.end = time.Now().Add(b.whole)
	b.extend()
}

// extend starts another pace.
func (b *pacedBody) extend() {
	b.due = time.Now().Add(b.pace)
	if b.whole > 0 && b.end.Before(b.due) {
		b.due = b.end
	}
	_ = b.control.SetReadDeadline(b.due) // what can't set deadlines has none
}

// least is what must come in this pace. Who sent much must go on in proportion: at an even
// rate a body that comes in time always does, and who sends much quickly to hold it for long
// is found out.
func (b *pacedBody) least() int64 {
	if b.whole <= 0 {
		return paceBytes
	}
	return max(paceBytes, int64(float64(b.before)*b.pace.Seconds()/b.whole.Seconds()))
}

// pacedWriter writes an answer that must be taken at a pace.
type pacedWriter struct {
	http.ResponseWriter
	control *http.ResponseController
	// pace is the time for the next bytes, whole that for all that is written at once, 0 for
	// any.
	pace, whole time.Duration
}

// Write implements io.Writer.
func (w *pacedWriter) Write(p []byte) (written int, err error) {
	end := time.Now().Add(w.whole)
	for first := true; err == nil && (first || len(p) > 0); first = false {
		due := time.Now().Add(w.pace)
		if w.whole > 0 && end.Before(due) {
			due = end
		}
		_ = w.control.SetWriteDeadline(due) // what can't set deadlines has none
		var n int
		n, err = w.ResponseWriter.Write(p[:min(len(p), paceBytes)])
		written, p = written+n, p[n:]
	}
	return written, err
}

// Flush implements http.Flusher. What is flushed was written at a pace.
func (w *pacedWriter) Flush() { _ = w.control.Flush() }

// Unwrap lets http.ResponseController find what it controls.
func (w *pacedWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }
