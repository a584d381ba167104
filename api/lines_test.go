package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"parcours.example/service/engine"
)

// TestStreamOfFailures demands a problem with its status from work that fails before it
// tells anything, a problem in its line and an end from work that fails later, and nothing
// more, above all no end, once the caller has left.
func TestStreamOfFailures(t *testing.T) {
	busy := &engine.BusyError{RetryAfter: time.Second}
	for name, tc := range map[string]struct {
		told  int
		leave bool
		err   error
		// status and ends are the reply's, lines the number of its lines.
		status, lines int
		ends          string
	}{
		"at once":        {0, false, busy, http.StatusServiceUnavailable, 1, "}"},
		"later":          {1, false, &engine.PanicError{Value: "secret"}, http.StatusOK, 3, `{"end":{"runs":9,"runs_done":0}}`},
		"left":           {1, true, context.Canceled, http.StatusOK, 1, `{"progress":{"runs":9,"runs_done":0}}`},
		"left at once":   {0, true, context.Canceled, http.StatusOK, 0, ""},
		"not at all":     {1, false, nil, http.StatusOK, 3, `{"end":{"runs":9,"runs_done":0}}`},
		"something else": {1, false, errors.New("secret"), http.StatusOK, 3, `{"end":{"runs":9,"runs_done":0}}`},
	} {
		var log bytes.Buffer
		s := &server{logger: slog.New(slog.NewJSONHandler(&log, nil)), meter: newTestMeter(t)}
		ctx, leave := context.WithCancel(t.Context())
		g := gin.New()
		g.POST("/", identify, func(c *gin.Context) {
			s.stream(c, func(progress func(done, of int)) (*engine.Answer, error) {
				for i := range tc.told {
					progress(i, 9)
				}
				if tc.leave {
					leave()
				}
				return &engine.Answer{Body: []byte(`{"a":1}` + "\n")}, tc.err
			})
		})
		w := httptest.NewRecorder()
		g.ServeHTTP(w, httptest.NewRequest(http.MethodPost, "/", nil).WithContext(ctx))
		leave()
		body := strings.TrimSpace(w.Body.String())
		if w.Code != tc.status || strings.Count(w.Body.String(), "\n") != tc.lines || !strings.HasSuffix(body, tc.ends) || strings.Contains(body, "secret") {
			t.Errorf("%s: status %d: %s", name, w.Code, body)
		}
		if failed := tc.err != nil && !tc.leave; failed != strings.Contains(body, `"/problems/`) || (tc.err == nil) != strings.Contains(body, `{"result":{"a":1}}`) {
			t.Errorf("%s: %s", name, body)
		}
		if told := strings.Contains(log.String(), "secret"); told != (tc.err != nil && strings.Contains(tc.err.Error(), "secret")) {
			t.Errorf("%s: log %s", name, log.String())
		}
	}
}

// TestNobodyHoldsUpTheWork demands that work goes on, and is told to its last, whatever the
// caller takes, and that one who takes nothing is cut off.
func TestNobodyHoldsUpTheWork(t *testing.T) {
	const runs = 1000
	for name, tc := range map[string]struct {
		pace time.Duration
		cut  bool
	}{"takes it late": {time.Hour, false}, "takes nothing": {10 * time.Millisecond, true}} {
		s := &server{logger: slog.New(slog.DiscardHandler)}
		worked, handled := make(chan bool), make(chan bool)
		g := gin.New()
		g.POST("/", identify, func(c *gin.Context) {
			defer close(handled)
			s.stream(c, func(progress func(done, of int)) (*engine.Answer, error) {
				for i := range runs {
					progress(i+1, runs)
				}
				close(worked)
				if tc.cut {
					<-c.Request.Context().Done()
				}
				return &engine.Answer{Body: []byte(`{"a":1}` + "\n")}, c.Request.Context().Err()
			})
		})
		caller, served := net.Pipe() // holds nothing: each byte is taken or waits
		listener := &connections{conns: make(chan net.Conn, 1)}
		listener.conns <- served
		server := &http.Server{Handler: paced(g, tc.pace), ReadHeaderTimeout: time.Minute}
		var serving sync.WaitGroup
		serving.Go(func() { _ = server.Serve(listener) })
		if _, err := io.WriteString(caller, "POST / HTTP/1.1\r\nHost: test\r\nConnection: close\r\nContent-Length: 0\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
		<-worked // though nothing was taken
		if tc.cut {
			<-handled
		}
		answer, err := io.ReadAll(caller)
		last := fmt.Appendf(nil, `{"progress":{"runs":%d,"runs_done":%[1]d}}`, runs)
		if whole := bytes.Contains(answer, last) && bytes.Contains(answer, []byte(`{"end":`)); whole == tc.cut {
			t.Errorf("%s: %v: %.600s", name, err, answer)
		}
		server.Close() //nolint:errcheck // done
		serving.Wait()
	}
}

// TestSlowReadersHoldNoWorker demands that who doesn't take what is told of work that is done
// doesn't keep others from theirs.
func TestSlowReadersHoldNoWorker(t *testing.T) {
	e, err := engine.New(engine.Config{Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	s := &server{engine: e, logger: slog.New(slog.DiscardHandler)}
	worked := make(chan bool)
	g := gin.New()
	g.POST("/", identify, func(c *gin.Context) {
		ctx, err := e.Begin(c.Request.Context(), 0)
		if err != nil {
			t.Error(err)
		}
		c.Request = c.Request.WithContext(ctx)
		s.stream(c, func(progress func(done, of int)) (*engine.Answer, error) {
			defer close(worked)
			progress(1, 1)
			return &engine.Answer{Body: []byte(`{"a":1}` + "\n")}, nil
		})
	})
	caller, served := net.Pipe() // holds nothing, and nobody reads
	listener := &connections{conns: make(chan net.Conn, 1)}
	listener.conns <- served
	server := &http.Server{Handler: g, ReadHeaderTimeout: time.Minute}
	var serving sync.WaitGroup
	serving.Go(func() { _ = server.Serve(listener) })
	if _, err := io.WriteString(caller, "POST / HTTP/1.1\r\nHost: test\r\nConnection: close\r\nContent-Length: 0\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	<-worked
	if _, err := e.Begin(t.Context(), 0); err != nil {
		t.Errorf("the next one: %v", err)
	}
	_ = caller.Close()
	server.Close() //nolint:errcheck // done
	serving.Wait()
}

// connections hands out the connections that it holds until it is closed.
type connections struct {
	conns chan net.Conn
	once  sync.Once
}

func (l *connections) Accept() (net.Conn, error) {
	if conn, ok := <-l.conns; ok {
		return conn, nil
	}
	return nil, net.ErrClosed
}

func (l *connections) Close() error {
	l.once.Do(func() { close(l.conns) })
	return nil
}

func (l *connections) Addr() net.Addr { return &net.UnixAddr{Name: "pipe", Net: "pipe"} }
