package trials

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"parcours.example/internal/redistest"
	"parcours.example/internal/replica"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// keyFile is a file of keys that a test changes.
type keyFile struct {
	t    *testing.T
	name string
}

func newKeyFile(t *testing.T, lines ...string) *keyFile {
	f := &keyFile{t, filepath.Join(t.TempDir(), "keys")}
	f.write(lines...)
	return f
}

// write puts a new version in the old one's place at once.
func (f *keyFile) write(lines ...string) {
	f.t.Helper()
	fresh := f.name + ".new"
	if err := os.WriteFile(fresh, []byte(strings.Join(lines, "\n")), 0o600); err != nil {
		f.t.Fatal(err)
	}
	if err := os.Rename(fresh, f.name); err != nil {
		f.t.Fatal(err)
	}
}

// ask sends a cheap call with a key and returns its status, and what is left of its quotas.
func ask(t *testing.T, p *replica.Process, key string) (status int, left string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.URL("/v1/courses/"+strings.Repeat("0", 32)), nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+key)
	reply, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	_, _ = io.Copy(io.Discard, reply.Body)
	return reply.StatusCode, reply.Header.Get("RateLimit")
}

// A key is changed for another without a restart and without a refused call: the new one works
// before the old one goes, a broken file changes nothing, and both share their client's quota.
func TestKeysAreChangedWithoutARestart(t *testing.T) {
	before, after := keys.New(), keys.New()
	client := keys.Client{Name: "bot", Limits: quota.Limits{PerDay: 1000}}
	file := newKeyFile(t, keys.Line(client, before))
	p := launched(t, "PARCOURS_KEYS_FILE="+file.name)
	served := func(key string) bool {
		status, _ := ask(t, p, key)
		return status == http.StatusNotFound // the course, and not the key, is unknown
	}
	if !served(before) || served(after) {
		t.Fatal("the key before isn't the only one")
	}
	file.write(keys.Line(client, before), keys.Line(client, after))
	p.Await("the new key to work", func() bool { return served(after) })
	if !served(before) {
		t.Error("the old key doesn't work beside the new one")
	}
	file.write(keys.Line(client, after), "client=")
	p.Await("the broken file to be refused", func() bool { return strings.Contains(p.Log(), "line 2: sha256 is missing") })
	if !served(before) || !served(after) {
		t.Error("a broken file changes who may call")
	}
	file.write(keys.Line(client, after))
	p.Await("the old key to go", func() bool { return !served(before) })
	if !served(after) {
		t.Error("the new key went with the old one")
	}
	if n := p.Metric("parcours_keys_loads_total", "outcome", "taken"); n != 3 {
		t.Errorf("%v versions were taken", n)
	}
	if strings.Contains(p.Log(), before) || strings.Contains(p.Log(), after) {
		t.Error("a key is in the log")
	}
}

// Replicas hold a client's quota together, whichever is asked; without Redis each goes on
// counting alone, and no call fails for it.
func TestQuotaIsSharedByReplicas(t *testing.T) {
	const perDay = 200
	key := keys.New()
	file := newKeyFile(t, keys.Line(keys.Client{Name: "bot", Limits: quota.Limits{PerDay: perDay}}, key))
	if testing.Short() {
		t.Skip("builds and runs the program")
	}
	server := redistest.Start(t)
	settings := []string{"PARCOURS_KEYS_FILE=" + file.name, "PARCOURS_REDIS_URL=" + server.URL()}
	replicas := []*replica.Process{launched(t, settings...), launched(t, settings...)}
	count := func(from, to int) (taken, refused int) {
		for i := from; i < to; i++ {
			switch status, left := ask(t, replicas[i%2], key); {
			case status == http.StatusTooManyRequests:
				refused++
			case status == http.StatusNotFound && left != "":
				taken++
			default:
				t.Fatalf("status %d, %q left", status, left)
			}
		}
		return taken, refused
	}
	taken, _ := count(0, perDay+20)
	alone := 0.0 // calls for which Redis was too slow just then
	for _, p := range replicas {
		alone += p.Metric("parcours_quota_calls_total", "by", "replica")
	}
	if spare := int(alone); taken < perDay-spare || taken > perDay+spare {
		t.Errorf("%d calls of %d were taken, %d counted alone", taken, perDay, spare)
	}
	server.Kill()
	if taken, refused := count(0, 40); refused > 0 || taken != 40 {
		t.Errorf("without Redis %d are taken and %d refused", taken, refused)
	}
}

// A stranger is answered before anything of a body is read, however much is announced; an
// endless header is cut off.
func TestStrangersCostNothing(t *testing.T) {
	file := newKeyFile(t, keys.Line(keys.Client{Name: "bot"}, keys.New()))
	p := launched(t, "PARCOURS_KEYS_FILE="+file.name)
	for name, c := range map[string]struct {
		header string
		status int
	}{
		"a large body to come": {"Content-Length: 33554432\r\n", http.StatusUnauthorized},
		"an endless body":      {"Transfer-Encoding: chunked\r\n", http.StatusUnauthorized},
		"a small body to come": {"Content-Length: 9\r\n", http.StatusUnauthorized},
		"a body on demand":     {"Content-Length: 33554432\r\nExpect: 100-continue\r\n", http.StatusUnauthorized},
		"a key of a megabyte":  {"Authorization: Bearer " + strings.Repeat("A", 1<<20) + "\r\n", http.StatusRequestHeaderFieldsTooLarge},
		"a key of 60 kB":       {"Authorization: Bearer " + strings.Repeat("A", 60_000) + "\r\n", http.StatusUnauthorized},
	} {
		if status := answered(t, p.Address, "POST /v1/courses HTTP/1.1\r\nHost: x\r\n"+c.header+"\r\n"); status != c.status {
			t.Errorf("%s: status %d, want %d", name, status, c.status)
		}
	}
}

// answered sends the start of a request, waits for the reply without sending more, and returns
// its status.
func answered(t *testing.T, address, start string) int {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), replica.Patience)
	defer cancel()
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if err := conn.SetDeadline(time.Now().Add(replica.Patience)); err != nil {
		t.Fatal(err)
	}
	go func() { _, _ = fmt.Fprint(conn, start) }() // the service may answer and close before all is sent
	reply, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatalf("%.60q: %v", start, err)
	}
	defer reply.Body.Close()
	return reply.StatusCode
}
