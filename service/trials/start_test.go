package trials

import (
	"net/http"
	"os"
	"testing"

	"parcours.example/internal/replica"
)

// launched starts a replica as a process of its own; tests with -short leave those out.
func launched(t *testing.T, settings ...string) *replica.Process {
	t.Helper()
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	return replica.Start(t, settings...)
}

// A replica that was just started is ready and counts what it is asked.
func TestReplicaStarts(t *testing.T) {
	p := launched(t)
	p.AwaitStatus("/readyz", http.StatusOK)
	if n := p.Metric("parcours_http_requests_total", "route", "/readyz", "status", "200"); n < 1 {
		t.Errorf("%v requests counted", n)
	}
	p.Signal(os.Interrupt)
	if code := p.ExitCode(); code != 0 {
		t.Errorf("exit code %d:\n%s", code, p.Log())
	}
}
