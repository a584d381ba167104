package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// patience bounds every wait; nothing here should take nearly as long.
const patience = 30 * time.Second

func TestServer(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	binary := filepath.Join(t.TempDir(), "service")
	if out, err := exec.Command("go", "build", "-o", binary, ".").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	t.Run("answers a running request after the signal", func(t *testing.T) {
		s := start(t, binary)
		s.awaitStatus(http.StatusOK)
		open := s.openRequest(courseFile())
		s.signal(syscall.SIGTERM)
		s.awaitRefused()
		status, body := open.finish()
		if status != http.StatusOK || !strings.Contains(body, `"course_id"`) {
			t.Errorf("the request that was running got %d: %s", status, body)
		}
		if code := s.exitCode(); code != exitDone {
			t.Errorf("exit code %d, want %d", code, exitDone)
		}
	})
	t.Run("ends at once on the second signal", func(t *testing.T) {
		s := start(t, binary)
		s.awaitStatus(http.StatusOK)
		s.openRequest(courseFile()) // and never finished
		s.signal(syscall.SIGTERM)
		s.awaitRefused()
		s.signal(syscall.SIGTERM)
		if code := s.exitCode(); code != exitFailed {
			t.Errorf("exit code %d, want %d", code, exitFailed)
		}
	})
	t.Run("says that it is stopping", func(t *testing.T) {
		s := start(t, binary, "PARCOURS_STOP_DELAY=1h")
		s.awaitStatus(http.StatusOK)
		s.signal(os.Interrupt)
		s.awaitStatus(http.StatusServiceUnavailable)
		s.signal(os.Interrupt)
		if code := s.exitCode(); code != exitFailed {
			t.Errorf("exit code %d, want %d", code, exitFailed)
		}
	})
	t.Run("fails where it can't listen", func(t *testing.T) {
		taken, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer taken.Close()
		cmd := exec.Command(binary, "--listen", taken.Addr().String())
		out, _ := cmd.CombinedOutput()
		if code := cmd.ProcessState.ExitCode(); code != exitFailed || !strings.Contains(string(out), "listen") {
			t.Errorf("exit code %d: %s", code, out)
		}
	})
}

// server is a running process of the service.
type server struct {
	t       *testing.T
	cmd     *exec.Cmd
	address string
	exited  chan error
}

// start runs the binary on a free port, which it reads from the log.
func start(t *testing.T, binary string, env ...string) *server {
	t.Helper()
	cmd := exec.Command(binary)
	cmd.Env = append(append(os.Environ(), "PARCOURS_LISTEN=127.0.0.1:0"), env...)
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	s := &server{t: t, cmd: cmd, exited: make(chan error, 1)}
	address := make(chan string, 1)
	go func() {
		lines := bufio.NewScanner(log)
		for lines.Scan() {
			var record struct{ Msg, Address string }
			if json.Unmarshal(lines.Bytes(), &record) == nil && record.Msg == "serving" {
				address <- record.Address
			}
		}
		s.exited <- cmd.Wait()
	}()
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	select {
	case s.address = <-address:
	case err := <-s.exited:
		t.Fatalf("the server ended: %v", err)
	case <-time.After(patience):
		t.Fatal("the server doesn't say where it listens")
	}
	return s
}

func (s *server) signal(sig os.Signal) {
	s.t.Helper()
	if err := s.cmd.Process.Signal(sig); err != nil {
		s.t.Fatal(err)
	}
}

// await polls until done.
func (s *server) await(what string, done func() bool) {
	s.t.Helper()
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	deadline := time.After(patience)
	for !done() {
		select {
		case <-tick.C:
		case <-deadline:
			s.t.Fatalf("waited in vain for %s", what)
		}
	}
}

// awaitStatus waits until /readyz answers with a status.
func (s *server) awaitStatus(status int) {
	s.t.Helper()
	s.await(fmt.Sprintf("/readyz to answer %d", status), func() bool {
		reply, err := http.Get("http://" + s.address + "/readyz")
		if err != nil {
			return false
		}
		defer reply.Body.Close()
		return reply.StatusCode == status
	})
}

// awaitRefused waits until no connection is taken any more.
func (s *server) awaitRefused() {
	s.t.Helper()
	s.await("connections to be refused", func() bool {
		conn, err := net.Dial("tcp", s.address)
		if err != nil {
			return true
		}
		conn.Close()
		return false
	})
}

func (s *server) exitCode() int {
	s.t.Helper()
	select {
	case <-s.exited:
		return s.cmd.ProcessState.ExitCode()
	case <-time.After(patience):
		s.t.Fatal("the server doesn't end")
		return 0
	}
}

// openRequest is a request whose handler is running and waits for its body.
type openRequest struct {
	t      *testing.T
	conn   net.Conn
	answer *bufio.Reader
	body   []byte
}

// openRequest posts a course up to its body. That the server asks for the body
// proves that the handler runs.
func (s *server) openRequest(body []byte) *openRequest {
	s.t.Helper()
	conn, err := net.Dial("tcp", s.address)
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { conn.Close() })
	if err := conn.SetDeadline(time.Now().Add(patience)); err != nil {
		s.t.Fatal(err)
	}
	fmt.Fprintf(conn, "POST /v1/courses HTTP/1.1\r\nHost: test\r\nContent-Type: application/gpx+xml\r\n"+
		"Content-Length: %d\r\nExpect: 100-continue\r\nConnection: close\r\n\r\n", len(body))
	answer := bufio.NewReader(conn)
	line, err := answer.ReadString('\n')
	if err != nil || !strings.Contains(line, "100") {
		s.t.Fatalf("%q, %v; want 100 Continue", line, err)
	}
	if _, err := answer.ReadString('\n'); err != nil { // the empty line
		s.t.Fatal(err)
	}
	return &openRequest{t: s.t, conn: conn, answer: answer, body: body}
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
