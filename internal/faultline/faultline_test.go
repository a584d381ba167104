package faultline

import (
	"bufio"
	"errors"
	"io"
	"net"
	"os"
	"testing"
	"time"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// echo is a server that says again what it is told.
func echo(t *testing.T) string {
	t.Helper()
	l, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			_, _ = io.Copy(c, c)
			_ = c.Close()
		}
	}()
	t.Cleanup(func() { _ = l.Close(); <-done })
	return l.Addr().String()
}

// said is what comes back of a line of text within a time, on a connection of its own.
func said(t *testing.T, l *Line, text string, within time.Duration) (string, error) {
	t.Helper()
	c, err := new(net.Dialer).DialContext(t.Context(), "tcp", l.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close() //nolint:errcheck // read
	if err := c.SetDeadline(time.Now().Add(within)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(c, text+"\n"); err != nil {
		t.Fatal(err)
	}
	return bufio.NewReader(c).ReadString('\n')
}

func TestFaults(t *testing.T) {
	const patience = 20 * time.Second
	l := Start(t, echo(t), 1)
	for name, f := range map[string]Fault{"none": {}, "slices": {Slice: 1}} {
		l.Set(f)
		if got, err := said(t, l, "up and down", patience); got != "up and down\n" || err != nil {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	const delay, jitter = 60 * time.Millisecond, 20 * time.Millisecond
	l.Set(Fault{Delay: delay, Jitter: jitter})
	start := time.Now()
	if got, err := said(t, l, "up", patience); got != "up\n" || err != nil || time.Since(start) < 2*(delay-jitter) {
		t.Errorf("delayed: %q, %v after %v", got, err, time.Since(start))
	}
	l.Set(Fault{Cut: true})
	if got, err := said(t, l, "up and down", patience); got != "up and" || err == nil || errors.Is(err, io.EOF) {
		t.Errorf("cut: %q, %v", got, err)
	}
	l.Set(Fault{})
	l.CutNth(2)
	for i, want := range []string{"up\n", "u", "up\n"} {
		if got, err := said(t, l, "up", patience); got != want || (err == nil) != (want == "up\n") || l.HasCut() != (i > 0) {
			t.Errorf("reply %d: %q, %v, cut %v", i+1, got, err, l.HasCut())
		}
	}
	l.Set(Fault{Stall: true})
	if got, err := said(t, l, "up", 50*time.Millisecond); got != "" || !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("stalled: %q, %v", got, err)
	}
	time.AfterFunc(20*time.Millisecond, func() { l.Set(Fault{}) })
	if got, err := said(t, l, "up", patience); got != "up\n" || err != nil {
		t.Errorf("after a stall: %q, %v", got, err)
	}
}
