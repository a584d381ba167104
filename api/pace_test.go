package api

import (
	"bytes"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// The server's times, as the program has them by default.
const readTimeout, writeTimeout = time.Minute, 2 * time.Minute

// connected serves one connection, which holds nothing on its way, in a bubble's time.
func connected(t *testing.T, handler http.Handler) (caller net.Conn) {
	t.Helper()
	caller, served := net.Pipe()
	l := &connections{conns: make(chan net.Conn, 1)}
	l.conns <- served
	server := &http.Server{
		Handler:           paced(handler, defaultPace),
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: readTimeout, WriteTimeout: writeTimeout, IdleTimeout: time.Minute,
	}
	go func() { _ = server.Serve(l) }()
	t.Cleanup(func() {
		_ = caller.Close()
		_ = server.Close()
		time.Sleep(time.Second) // the bubble's: connections that were cut off end a little later
	})
	return caller
}

// readsBody answers a body with its length, as the service reads it.
func readsBody(t *testing.T) http.Handler {
	t.Helper()
	e, err := engine.New(engine.Config{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(e.Close)
	s := &server{engine: e, logger: slog.New(slog.DiscardHandler)}
	gin.SetMode(gin.ReleaseMode)
	g := gin.New()
	g.POST("/", s.readBody, func(c *gin.Context) { c.String(http.StatusOK, "%d bytes", len(requestBody(c))) })
	return g
}

// rest waits, and reports whether the test goes on.
func rest(t *testing.T, d time.Duration) bool {
	t.Helper()
	select {
	case <-time.After(d):
		return true
	case <-t.Context().Done():
		return false
	}
}

// sent is a part of a body and the time after which it is sent.
type sent struct {
	after time.Duration
	bytes int
}

// TestBodiesComeAtAPace demands that bodies which come evenly are taken, as slow as the
// read timeout lets them be, and those that stall or trickle are cut off soon, also after a
// quick start.
func TestBodiesComeAtAPace(t *testing.T) {
	evenly := func(n int, each time.Duration, bytes int) (parts []sent) {
		for range n {
			parts = append(parts, sent{each, bytes})
		}
		return parts
	}
	for name, tc := range map[string]struct {
		parts []sent
		// cutAfter is 0 for a body that is taken.
		cutAfter time.Duration
	}{
		"at once":                    {[]sent{{0, 100}}, 0},
		"late, but small":            {[]sent{{9 * time.Second, 100}}, 0},
		"evenly, as slow as may be":  {evenly(590, 100*time.Millisecond, 56_000), 0}, // 33 MB in 59 s
		"evenly, with pauses":        {evenly(6, 9*time.Second, 2<<20), 0},
		"stalls":                     {[]sent{{0, 100}, {time.Hour, 1}}, defaultPace},
		"trickles":                   {evenly(100, time.Second, 100), defaultPace},
		"too slow":                   {evenly(100, time.Second, 1000), defaultPace},
		"goes on for too long":       {evenly(100, time.Second, 100_000), readTimeout},
		"trickles after a good part": {append([]sent{{0, 20 << 20}}, evenly(100, time.Second, 100_000)...), defaultPace},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				handler := readsBody(t)
				caller := connected(t, handler)
				total := 0
				for _, p := range tc.parts {
					total += p.bytes
				}
				start := time.Now()
				go func() {
					fmt.Fprintf(caller, "POST / HTTP/1.1\r\nHost: test\r\nContent-Length: %d\r\n\r\n", total)
					for _, p := range tc.parts {
						if !rest(t, p.after) {
							return
						}
						if _, err := caller.Write(make([]byte, p.bytes)); err != nil {
							return // cut off
						}
					}
				}()
				answer := make([]byte, 4<<10)
				n, err := caller.Read(answer)
				if err != nil {
					t.Fatal(err)
				}
				took, text := time.Since(start), string(answer[:n])
				switch {
				case tc.cutAfter == 0 && !strings.Contains(text, fmt.Sprintf("\r\n\r\n%d bytes", total)):
					t.Errorf("after %v: %s", took, text)
				case tc.cutAfter > 0 && (took != tc.cutAfter || !strings.HasPrefix(text, "HTTP/1.1 408 ") || !strings.Contains(text, "/problems/too-slow")):
					t.Errorf("after %v: %s; want 408 after %v", took, text, tc.cutAfter)
				}
			})
		})
	}
}

// TestAnswersAreTakenAtAPace demands that who takes an answer evenly gets all of it, and who
// takes nothing, or next to nothing, is cut off.
func TestAnswersAreTakenAtAPace(t *testing.T) {
	const size = 4 << 20
	for name, tc := range map[string]struct {
		each     time.Duration
		bytes    int
		cutAfter time.Duration
	}{
		"at once":  {0, size, 0},
		"evenly":   {time.Second, 40_000, 0}, // in 105 s
		"nothing":  {time.Hour, 1, defaultPace},
		"trickles": {time.Second, 1000, defaultPace},
		"for long": {time.Second, 20_000, writeTimeout},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				wrote := make(chan time.Duration, 1)
				caller := connected(t, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
					start := time.Now()
					_, err := w.Write(bytes.Repeat([]byte("x"), size))
					if (err != nil) != (tc.cutAfter > 0) {
						t.Error(err)
					}
					wrote <- time.Since(start)
				}))
				fmt.Fprint(caller, "GET / HTTP/1.1\r\nHost: test\r\nConnection: close\r\n\r\n")
				go func() {
					for rest(t, tc.each) {
						if _, err := io.CopyN(io.Discard, caller, int64(tc.bytes)); err != nil {
							return
						}
					}
				}()
				if took := <-wrote; tc.cutAfter > 0 && took != tc.cutAfter {
					t.Errorf("cut off after %v, want %v", took, tc.cutAfter)
				}
				_ = caller.Close()
			})
		})
	}
}

// TestWorkOutlastsTheTimeouts demands that an answer which takes longer to make than a body
// may take to come, or an answer to be taken, is given whole: the times are about the wire.
func TestWorkOutlastsTheTimeouts(t *testing.T) {
	const size = 3 * paceBytes
	synctest.Test(t, func(t *testing.T) {
		caller := connected(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if _, err := io.ReadFull(r.Body, make([]byte, size)); err != nil { // the last read brings a good part, and the end
				t.Error(err)
			}
			time.Sleep(10 * writeTimeout)
			if err := r.Context().Err(); err != nil {
				t.Errorf("a caller who waits is taken for one who left: %v", err)
			}
			_, _ = io.WriteString(w, "done")
		}))
		fmt.Fprintf(caller, "POST / HTTP/1.1\r\nHost: test\r\nContent-Length: %d\r\nConnection: close\r\n\r\n%s", size, make([]byte, size))
		if answer, err := io.ReadAll(caller); err != nil || !bytes.HasSuffix(answer, []byte("done")) {
			t.Errorf("%v: %s", err, answer)
		}
	})
}
