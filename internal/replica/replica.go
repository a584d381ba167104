// Package replica runs the real service as processes of their own, for tests. Nothing that
// ships imports it.
package replica

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
)

// Patience bounds every wait; nothing should take nearly as long.
const Patience = 30 * time.Second

// build makes the program once for a process of tests, unless PARCOURS_PROGRAM names one: that
// must be of the tree as it is.
var build = sync.OnceValues(func() (binary string, err error) {
	if program := os.Getenv("PARCOURS_PROGRAM"); program != "" {
		return program, nil
	}
	dir, err := os.MkdirTemp("", "parcours-replica-")
	if err != nil {
		return "", err
	}
	binary = filepath.Join(dir, "service")
	if out, err := exec.Command("go", "build", "-o", binary, "parcours.example/service").CombinedOutput(); err != nil { //nolint:noctx,gosec // constant arguments
		return "", fmt.Errorf("build: %w\n%s", err, out)
	}
	return binary, nil
})

// Binary returns the program, built from the tree as it is. Main removes what it built.
func Binary(t testing.TB) string {
	t.Helper()
	binary, err := build()
	if err != nil {
		t.Fatal(err)
	}
	if binary != os.Getenv("PARCOURS_PROGRAM") {
		built.Do(func() { builtAt = filepath.Dir(binary) })
	}
	return binary
}

var (
	built   sync.Once
	builtAt string
)

// Main runs a package's tests and removes the program that they ran. TestMain calls it.
func Main(m *testing.M) int {
	defer func() {
		if builtAt != "" {
			_ = os.RemoveAll(builtAt)
		}
	}()
	return m.Run()
}

// Process is a running service.
type Process struct {
	t   testing.TB
	cmd *exec.Cmd
	// Address is host:port.
	Address string

	// AdminAddress is host:port of the admin listener, empty where there is none.
	AdminAddress string

	mu     sync.Mutex
	log    bytes.Buffer
	exited chan struct{}
	code   int
}

// Start runs the service on a free port with further settings, like "PARCOURS_WORKERS=2", and
// ends it with the test. The environment's own PARCOURS_ settings don't reach it.
func Start(t testing.TB, settings ...string) *Process {
	t.Helper()
	return start(t, "serve", settings)
}

// StartWorker is Start of a process that works on jobs and serves nobody.
func StartWorker(t testing.TB, settings ...string) *Process {
	t.Helper()
	return start(t, "work", settings)
}

func start(t testing.TB, command string, settings []string) *Process {
	t.Helper()
	cmd := exec.Command(Binary(t), command) //nolint:gosec,noctx // the program under test, ended by the test
	cmd.Env = append(slices.DeleteFunc(os.Environ(), func(e string) bool { return strings.HasPrefix(e, "PARCOURS_") }), "PARCOURS_LISTEN=127.0.0.1:0")
	cmd.Env = append(cmd.Env, settings...)
	errors, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p := &Process{t: t, cmd: cmd, exited: make(chan struct{})}
	address := make(chan served, 1)
	go func() {
		lines := bufio.NewScanner(errors)
		lines.Buffer(nil, 1<<20)
		var at served
		for lines.Scan() {
			p.take(lines.Bytes(), &at, address)
		}
		_ = cmd.Wait()
		p.code = cmd.ProcessState.ExitCode()
		close(p.exited)
	}()
	t.Cleanup(func() { p.Kill(); <-p.exited })
	select {
	case at := <-address:
		p.Address, p.AdminAddress = at.address, at.admin
	case <-p.exited:
		t.Fatalf("the service ended with %d:\n%s", p.code, p.Log())
	case <-time.After(Patience):
		t.Fatal("the service doesn't say where it listens")
	}
	return p
}

// served is where a service listens.
type served struct{ address, admin string }

// take keeps a line of the log and looks for the addresses in it.
func (p *Process) take(line []byte, at *served, serving chan<- served) {
	p.mu.Lock()
	p.log.Write(line)
	p.log.WriteByte('\n')
	p.mu.Unlock()
	var record struct {
		Msg, Address string
		AdminAddress string `json:"admin_address"`
	}
	if json.Unmarshal(line, &record) != nil {
		return
	}
	switch record.Msg {
	case "serving the administrator": // before the other
		at.admin = record.AdminAddress
	case "serving":
		at.address = record.Address
		select {
		case serving <- *at:
		default:
		}
	}
}

// URL returns the address of a path.
func (p *Process) URL(path string) string { return "http://" + p.Address + path }

// PID is the process's number.
func (p *Process) PID() int { return p.cmd.Process.Pid }

// Log returns what the service has logged so far.
func (p *Process) Log() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.log.String()
}

// Signal sends a signal.
func (p *Process) Signal(s os.Signal) {
	p.t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil {
		p.t.Fatal(err)
	}
}

// Kill ends the process at once; it may have ended already.
func (p *Process) Kill() { _ = p.cmd.Process.Kill() }

// Exited is closed once the process has ended.
func (p *Process) Exited() <-chan struct{} { return p.exited }

// ExitCode waits for the process's end and returns its code.
func (p *Process) ExitCode() int {
	p.t.Helper()
	select {
	case <-p.exited:
		return p.code
	case <-time.After(Patience):
		p.t.Fatal("the service doesn't end")
		return 0
	}
}

// Await polls until done, or fails the test.
func (p *Process) Await(what string, done func() bool) {
	p.t.Helper()
	deadline := time.Now().Add(Patience)
	for !done() {
		if time.Now().After(deadline) {
			p.t.Fatalf("waited in vain for %s", what)
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// AwaitStatus waits until a path answers with a status.
func (p *Process) AwaitStatus(path string, status int) {
	p.t.Helper()
	p.Await(fmt.Sprintf("%s to answer %d", path, status), func() bool {
		reply, err := http.Get(p.URL(path)) //nolint:noctx // a test's
		if err != nil {
			return false
		}
		_ = reply.Body.Close()
		return reply.StatusCode == status
	})
}

// Metric returns the sum of a metric's samples whose labels are as given, like "route", "/livez";
// a histogram counts its observations. 0 where there are none.
func (p *Process) Metric(name string, labels ...string) float64 {
	p.t.Helper()
	reply, err := http.Get(p.URL("/metrics")) //nolint:noctx // a test's
	if err != nil {
		p.t.Fatal(err)
	}
	defer reply.Body.Close()
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(reply.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	sum := 0.0
	for _, m := range families[name].GetMetric() {
		if hasLabels(m, labels) {
			sum += m.GetCounter().GetValue() + m.GetGauge().GetValue() + m.GetUntyped().GetValue() + float64(m.GetHistogram().GetSampleCount())
		}
	}
	return sum
}

func hasLabels(m *dto.Metric, labels []string) bool {
	for i := 0; i+1 < len(labels); i += 2 {
		if !slices.ContainsFunc(m.GetLabel(), func(l *dto.LabelPair) bool { return l.GetName() == labels[i] && l.GetValue() == labels[i+1] }) {
			return false
		}
	}
	return true
}
