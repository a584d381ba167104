package trials

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"parcours.example/internal/figures"
	"parcours.example/internal/replica"
)

// slowKind is a way to be slow.
type slowKind struct {
	name string
	// opening is what is sent at once; then a byte comes each time, or nothing more where it is 0.
	opening []byte
	each    time.Duration
	// reads says that the client takes what it is answered, which must begin with want.
	reads bool
	want  string
	// limit is the stated time after which it is cut off, at the earliest from its start.
	limit time.Duration
}

// slowKinds are those of the trial. Readers ask for more than their connection holds, as often
// as that takes.
func slowKinds(p *replica.Process, courseID string, headers, stall, each time.Duration) []slowKind {
	post := func(path, accept string, length int, body string) string {
		return fmt.Sprintf("POST %s HTTP/1.1\r\nHost: %s\r\nContent-Type: application/json\r\nAccept: %s\r\nContent-Length: %d\r\n\r\n%s", path, p.Address, accept, length, body)
	}
	race := fmt.Sprintf(`{"course":{"course_id":%q},"drawn":[{"name":"Bunch","count":5}],"rules":{"runs":4}}`, courseID)
	stream := post("/v1/scenarios", "application/x-ndjson", len(race), race)
	course := fmt.Sprintf("GET /v1/courses/%s HTTP/1.1\r\nHost: %s\r\n\r\n", courseID, p.Address)
	const late = "HTTP/1.1 408 "
	return []slowKind{
		{name: "headers", opening: []byte("GET /livez HTTP/1.1\r\nX-Slow: "), each: each, reads: true, limit: headers},
		{name: "bodies that stall", opening: []byte(post("/v1/predictions", "*/*", 200_000, `{"course":`)), reads: true, want: late, limit: stall},
		{name: "bodies that trickle", opening: []byte(post("/v1/predictions", "*/*", 200_000, `{"course":`)), each: each, reads: true, want: late, limit: stall},
		{name: "readers of answers", opening: []byte(strings.Repeat(course, 100)), each: each, limit: stall},
		{name: "readers of streams", opening: []byte(strings.Repeat(stream, 100)), each: each, limit: stall},
	}
}

// dialSmall connects with as little room on the way as there can be, so that an answer which
// isn't taken doesn't lie there whole.
func dialSmall(ctx context.Context, address string) (net.Conn, error) {
	dialer := net.Dialer{Control: func(_, _ string, c syscall.RawConn) error {
		return c.Control(func(fd uintptr) {
			_ = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_RCVBUF, 4<<10) // a system with larger ones takes longer
			_ = syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, syscall.TCP_MAXSEG, 536)
		})
	}}
	return dialer.DialContext(ctx, "tcp", address)
}

// suffer is slow towards a replica until it is cut off, and returns after how long it was.
func (k slowKind) suffer(ctx context.Context, p *replica.Process) (time.Duration, error) {
	start := time.Now()
	conn, err := dialSmall(ctx, p.Address)
	if err != nil {
		return 0, err
	}
	defer conn.Close() //nolint:errcheck // cut off
	if err := conn.SetDeadline(start.Add(k.limit + replica.Patience)); err != nil {
		return 0, err
	}
	if !k.reads {
		err := k.trickle(conn)
		return time.Since(start), unlessCut(err)
	}
	go func() { _ = k.trickle(conn) }() // until it is cut off
	answer, err := io.ReadAll(conn)
	if !bytes.HasPrefix(answer, []byte(k.want)) {
		return time.Since(start), fmt.Errorf("answered %.200q, %w", answer, err)
	}
	return time.Since(start), unlessCut(err)
}

// trickle sends until the connection is over.
func (k slowKind) trickle(conn net.Conn) error {
	_, err := conn.Write(k.opening)
	for err == nil && k.each > 0 {
		time.Sleep(k.each)
		_, err = conn.Write([]byte("a"))
	}
	return err
}

// unlessCut returns the error of a connection that was still open at the end of all patience.
func unlessCut(err error) error {
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return err
	}
	return nil
}

// T16: clients who send next to nothing, or take nothing, are cut off after the stated times;
// everybody else is answered meanwhile, and nothing is left of them.
func TestT16SlowClients(t *testing.T) {
	clients, headers, stall, each, usually, rate := 200, time.Second, 1500*time.Millisecond, 100*time.Millisecond, time.Second, 60.0
	settings := []string{"PARCOURS_READ_HEADER_TIMEOUT=1s", "PARCOURS_STALL_TIMEOUT=1500ms"}
	if inFull() { // as they are where nothing is set
		clients, headers, stall, each, usually, rate, settings = 2000, 5*time.Second, 10*time.Second, time.Second, 10*time.Second, 100, nil
	}
	coming := stall / 3
	p := launched(t, settings...)
	b := benchOf(t, 5, p)
	var course struct {
		CourseID string `json:"course_id"`
	}
	if _, _, body, err := b.calls[0].ask(t.Context(), b.client, p); err != nil || json.Unmarshal(body, &course) != nil {
		t.Fatalf("%v: %.300s", err, body)
	}
	before := b.footprint()
	b.start(rate)
	b.pause(usually)
	came := b.now()
	latest := b.slow(clients, coming, slowKinds(p, course.CourseID, headers, stall, each))
	left := b.now()
	result := b.end()
	ended := time.Now()
	after := b.awaitFootprint(before)
	p99 := func(from, to time.Duration) time.Duration { return result.Between(from, to).Quantile("", 0.99) }
	usual, held := p99(0, came), p99(came+coming, came+stall)
	figures.Report(t, "T16", "%d slow clients, headers cut off after %v, others after %v: the latest of %s; %d requests at %.0f/s meanwhile: 0 failed, p99 %v before, %v while they come, %v while they are there (%+.0f %%), %v while they are cut off; %d descriptors before, %d within %v; %.0f MiB resident before, %.0f after, at most %.0f",
		clients, headers, stall, latest, len(result.Between(came, left).Outcomes), rate, round(usual), round(p99(came, came+coming)), round(held), 100*(held.Seconds()/usual.Seconds()-1), round(p99(came+stall, left)),
		before.descriptors, after.descriptors, time.Since(ended).Round(10*time.Millisecond), mebibytes(before.resident), mebibytes(after.resident), mebibytes(most(t, p)))
}

// slow lets so many clients of all kinds in turn come one after the other within a time, be slow,
// and says by how much the latest of each kind was cut off late.
func (b *bench) slow(clients int, coming time.Duration, kinds []slowKind) (latest string) {
	b.t.Helper()
	late := make([]time.Duration, len(kinds))
	var mu sync.Mutex
	var all sync.WaitGroup
	for i := range clients {
		time.Sleep(coming / time.Duration(clients))
		all.Go(func() {
			k := kinds[i%len(kinds)]
			took, err := k.suffer(b.t.Context(), b.replicas[0])
			mu.Lock()
			defer mu.Unlock()
			if err != nil || took < k.limit {
				b.t.Errorf("%s: after %v: %v", k.name, took, err)
			}
			late[i%len(kinds)] = max(late[i%len(kinds)], took-k.limit)
		})
	}
	all.Wait()
	var texts []string
	for i, k := range kinds {
		texts = append(texts, fmt.Sprintf("%s %v late", k.name, late[i].Round(10*time.Millisecond)))
	}
	return strings.Join(texts, ", ")
}

// footprint is what a replica holds.
type footprint struct{ descriptors, goroutines, resident int }

// footprint tells of the first replica while the bench keeps no connection to it.
func (b *bench) footprint() footprint {
	b.t.Helper()
	b.client.CloseIdleConnections()
	p := b.replicas[0]
	open, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", p.PID()))
	if err != nil {
		b.t.Skip(err) // no Linux
	}
	return footprint{len(open), int(p.Metric("go_goroutines")), memory(b.t, p, "VmRSS:")}
}

// awaitFootprint waits until the first replica holds hardly more descriptors and goroutines
// than before: those of a connection that comes or goes.
func (b *bench) awaitFootprint(before footprint) (after footprint) {
	b.t.Helper()
	const few = 4
	b.replicas[0].Await(fmt.Sprintf("no more to be held than %+v", before), func() bool {
		after = b.footprint()
		return after.descriptors <= before.descriptors+few && after.goroutines <= before.goroutines+few
	})
	return after
}
