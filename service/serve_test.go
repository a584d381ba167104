package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/replica"
	"parcours.example/service/engine"
)

func TestMain(m *testing.M) { os.Exit(replica.Main(m)) }

func TestServer(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	t.Run("answers a running request after the signal", func(t *testing.T) {
		p := replica.Start(t)
		p.AwaitStatus("/readyz", http.StatusOK)
		open := openCourse(t, p, courseFile())
		p.Signal(syscall.SIGTERM)
		awaitRefused(p)
		status, body := open.finish()
		if status != http.StatusOK || !strings.Contains(body, `"course_id"`) {
			t.Errorf("the request that was running got %d: %s", status, body)
		}
		if code := p.ExitCode(); code != exitDone {
			t.Errorf("exit code %d, want %d", code, exitDone)
		}
	})
	t.Run("ends at once on the second signal", func(t *testing.T) {
		p := replica.Start(t)
		p.AwaitStatus("/readyz", http.StatusOK)
		openCourse(t, p, courseFile()) // and never finished
		p.Signal(syscall.SIGTERM)
		awaitRefused(p)
		p.Signal(syscall.SIGTERM)
		if code := p.ExitCode(); code != exitFailed {
			t.Errorf("exit code %d, want %d", code, exitFailed)
		}
	})
	t.Run("says that it is stopping", func(t *testing.T) {
		p := replica.Start(t, "PARCOURS_STOP_DELAY=1h")
		p.AwaitStatus("/readyz", http.StatusOK)
		p.Signal(os.Interrupt)
		p.AwaitStatus("/readyz", http.StatusServiceUnavailable)
		p.Signal(os.Interrupt)
		if code := p.ExitCode(); code != exitFailed {
			t.Errorf("exit code %d, want %d", code, exitFailed)
		}
	})
	t.Run("fails where it can't listen", func(t *testing.T) {
		taken, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer taken.Close()
		cmd := exec.Command(replica.Binary(t), "--listen", taken.Addr().String())
		out, _ := cmd.CombinedOutput()
		if code := cmd.ProcessState.ExitCode(); code != exitFailed || !strings.Contains(string(out), "listen") {
			t.Errorf("exit code %d: %s", code, out)
		}
	})
}

// awaitRefused waits until no connection is taken any more.
func awaitRefused(p *replica.Process) {
	p.Await("connections to be refused", func() bool {
		conn, err := net.Dial("tcp", p.Address)
		if err != nil {
			return true
		}
		conn.Close()
		return false
	})
}

// openRequest is a request whose handler is running and waits for its body.
type openRequest struct {
	t      *testing.T
	conn   net.Conn
	answer *bufio.Reader
	body   []byte
}

// openCourse posts a course up to its body. That the server asks for the body
// proves that the handler runs.
func openCourse(t *testing.T, p *replica.Process, body []byte) *openRequest {
	t.Helper()
	conn, err := net.Dial("tcp", p.Address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	if err := conn.SetDeadline(time.Now().Add(replica.Patience)); err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(conn, "POST /v1/courses HTTP/1.1\r\nHost: test\r\nContent-Type: application/gpx+xml\r\n"+
		"Content-Length: %d\r\nExpect: 100-continue\r\nConnection: close\r\n\r\n", len(body))
	answer := bufio.NewReader(conn)
	line, err := answer.ReadString('\n')
	if err != nil || !strings.Contains(line, "100") {
		t.Fatalf("%q, %v; want 100 Continue", line, err)
	}
	if _, err := answer.ReadString('\n'); err != nil { // the empty line
		t.Fatal(err)
	}
	return &openRequest{t: t, conn: conn, answer: answer, body: body}
}

// finish sends the body and returns the answer.
func (r *openRequest) finish() (status int, body string) {
	r.t.Helper()
	if _, err := r.conn.Write(r.body); err != nil {
		r.t.Fatal(err)
	}
	reply, err := http.ReadResponse(r.answer, nil)
	if err != nil {
		r.t.Fatal(err)
	}
	defer reply.Body.Close()
	content, err := io.ReadAll(reply.Body)
	if err != nil {
		r.t.Fatal(err)
	}
	return reply.StatusCode, string(content)
}

// TestHeaderLimit demands that a header of as many bytes as are taken is read, and a larger one
// refused; net/http gives 4 KiB on top, and its buffer.
func TestHeaderLimit(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	p := replica.Start(t)
	for extra, status := range map[int]int{0: http.StatusOK, 8 << 10: http.StatusRequestHeaderFieldsTooLarge} {
		r, err := http.NewRequest(http.MethodGet, p.URL("/livez"), nil)
		if err != nil {
			t.Fatal(err)
		}
		const others = 200 // the request's line and the fields that the client adds
		r.Header.Set("Note", strings.Repeat("x", engine.MostHeaderBytes-others+extra))
		reply, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		reply.Body.Close()
		if reply.StatusCode != status {
			t.Errorf("%d bytes beyond the limit: status %d, want %d", extra, reply.StatusCode, status)
		}
	}
}

// T17: services that start and stop all the time, in one process, do so cleanly.
func TestT17StartAndStop(t *testing.T) {
	times := 3
	if os.Getenv("PARCOURS_FULL") == "1" {
		times = 50
	}
	command := parse(t, "--listen=127.0.0.1:0")
	s, err := command.check()
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 10 {
		all.Go(func() {
			for range times {
				startAndStop(t, s)
			}
		})
	}
	all.Wait()
	figures.Report(t, "T17", "10 × %d services started, asked and stopped in one process: all cleanly", times)
}

// startAndStop runs a service as long as it takes to ask it something.
func startAndStop(t *testing.T, s settings) {
	log := &addressLog{address: make(chan string, 1)}
	signals := make(chan os.Signal, 1)
	ended := make(chan error, 1)
	go func() { ended <- serve(s, slog.New(slog.NewJSONHandler(log, nil)), signals) }()
	select {
	case address := <-log.address:
		reply, err := http.Post("http://"+address+"/v1/courses", "application/gpx+xml", bytes.NewReader(courseFile()))
		if err != nil {
			t.Error(err)
		} else {
			if reply.StatusCode != http.StatusOK {
				t.Errorf("status %d", reply.StatusCode)
			}
			_ = reply.Body.Close()
		}
		signals <- syscall.SIGTERM
		if err := <-ended; err != nil {
			t.Error(err)
		}
	case err := <-ended:
		t.Errorf("ended at once: %v", err)
	}
}

// addressLog finds in a log where the service listens.
type addressLog struct{ address chan string }

func (l *addressLog) Write(line []byte) (int, error) {
	var record struct{ Msg, Address string }
	if json.Unmarshal(line, &record) == nil && record.Msg == "serving" {
		l.address <- record.Address
	}
	return len(line), nil
}
