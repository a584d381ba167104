package trials

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"parcours.example/internal/replica"
)

// balanced are replicas with a balancer in front.
type balanced struct {
	t        *testing.T
	replicas []*replica.Process
	// url is where callers come, inside where the balancer tells of itself.
	url, inside string
	courses     [][]byte
}

// startBalanced starts replicas and the balancer of deploy/haproxy, which the test needs.
func startBalanced(t *testing.T, n int) *balanced {
	t.Helper()
	if _, err := exec.LookPath("haproxy"); err != nil {
		if os.Getenv("PARCOURS_REQUIRE") == "1" {
			t.Fatal("haproxy isn't installed")
		}
		t.Skip("haproxy isn't installed")
	}
	callers, inside := freeAddress(t), freeAddress(t)
	b := &balanced{t: t, url: "http://" + callers, inside: "http://" + inside}
	settings := []string{"BALANCER_LISTEN=" + callers, "BALANCER_INSIDE=" + inside}
	for i := range n {
		b.replicas = append(b.replicas, launched(t, "PARCOURS_STOP_DELAY="+stopDelay.String()))
		settings = append(settings, fmt.Sprintf("REPLICA_%d=%s", i+1, b.replicas[i].Address))
	}
	for _, name := range []string{"quellmere-criterium-lap", "hoskerrow-eight-lap", "skarnholt-hill-climb"} {
		course, err := os.ReadFile("../../testdata/season/" + name + ".gpx")
		if err != nil {
			t.Fatal(err)
		}
		b.courses = append(b.courses, course)
	}
	var log bytes.Buffer
	haproxy := exec.Command("haproxy", "-db", "-f", "../../deploy/haproxy/haproxy.cfg")
	haproxy.Env, haproxy.Stdout, haproxy.Stderr = append(os.Environ(), settings...), &log, &log
	if err := haproxy.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = haproxy.Process.Kill()
		_ = haproxy.Wait()
		if t.Failed() {
			t.Logf("the balancer:\n%s", log.Bytes())
		}
	})
	b.awaitServers(n)
	return b
}

// send sends one of several kinds of requests through the balancer, a second time if it has to,
// and returns its status or what went wrong.
func (b *balanced) send(i int, twice *atomic.Int64) string {
	path, mediaType, body := "/v1/courses", "application/gpx+xml", b.courses[i%len(b.courses)]
	if i%4 > 0 {
		path, mediaType = "/v1/predictions", "application/json"
		content, _ := json.Marshal(string(b.courses[0])) // a text always can
		body = fmt.Appendf(nil, `{"course":{"file":{"media_type":"application/gpx+xml","content":%s,"encoding":"utf-8"}},
			"riders":[{"mass_kg":%d}],"effort":{"kind":"power","power_w":250}}`, content, 60+i%30)
	}
	status, _ := b.post(b.url+path, mediaType, body)
	if status != http.StatusOK {
		twice.Add(1)
		status, _ = b.post(b.url+path, mediaType, body)
	}
	return fmt.Sprint(status)
}

// post returns a reply's status and body; 0 where it fails or is cut short.
func (b *balanced) post(url, mediaType string, body []byte) (status int, reply []byte) {
	r, err := http.Post(url, mediaType, bytes.NewReader(body)) //nolint:gosec // a test's own servers
	if err != nil {
		return 0, []byte(err.Error())
	}
	defer r.Body.Close()
	reply, err = io.ReadAll(r.Body)
	if err != nil {
		return 0, []byte(err.Error())
	}
	return r.StatusCode, reply
}

// restart ends a replica as an update does, starts it anew at its address and waits until
// the balancer uses it.
func (b *balanced) restart(i int) {
	b.t.Helper()
	old := b.replicas[i]
	old.Signal(syscall.SIGTERM)
	if code := old.ExitCode(); code != 0 {
		b.t.Errorf("a replica ended with %d:\n%s", code, old.Log())
	}
	b.replicas[i] = launched(b.t, "PARCOURS_LISTEN="+old.Address, "PARCOURS_STOP_DELAY="+stopDelay.String())
	b.awaitServers(len(b.replicas))
}

// awaitServers waits until the balancer takes as many replicas to be ready.
func (b *balanced) awaitServers(n int) {
	b.t.Helper()
	b.replicas[0].Await(fmt.Sprintf("the balancer to use %d replicas", n), func() bool {
		status, body := b.get(b.inside + "/metrics")
		return status == http.StatusOK && strings.Contains(string(body), fmt.Sprintf("haproxy_backend_active_servers{proxy=\"replicas\"} %d\n", n))
	})
}

func (b *balanced) get(url string) (status int, body []byte) {
	r, err := http.Get(url) //nolint:gosec // a test's own servers
	if err != nil {
		return 0, nil
	}
	defer r.Body.Close()
	body, _ = io.ReadAll(r.Body)
	return r.StatusCode, body
}

// checkClosed checks what callers don't get to see, and what they are told when nobody is left.
func (b *balanced) checkClosed() {
	b.t.Helper()
	for path, want := range map[string]int{"/metrics": 404, "/%6detrics": 404, "/METRICS": 404, "/metrics?x": 404, "/livez": 200} {
		if status, _ := b.get(b.url + path); status != want {
			b.t.Errorf("%s answers %d, want %d", path, status, want)
		}
	}
	for _, p := range b.replicas {
		p.Kill()
	}
	b.awaitServers(0)
	r, err := http.Get(b.url + "/livez")
	if err != nil {
		b.t.Fatal(err)
	}
	defer r.Body.Close()
	if r.StatusCode != http.StatusServiceUnavailable || r.Header.Get("Content-Type") != "application/problem+json" || r.Header.Get("Retry-After") == "" {
		b.t.Errorf("without a replica: %s, %v", r.Status, r.Header)
	}
	if status, _ := b.get(b.inside + "/health"); status != http.StatusServiceUnavailable {
		b.t.Errorf("without a replica the balancer's health is %d", status)
	}
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
