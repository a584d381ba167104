// Package faultline lies between a client and a server of a test and does to their connections
// what networks do: it delays, stalls, cuts and slices. Nothing that ships imports it.
package faultline

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"net"
	"sync"
	"testing"
	"time"
)

// Fault is what goes wrong with what passes, either way. The zero value is nothing.
type Fault struct {
	// Delay is how long whatever passes takes, give or take up to Jitter.
	Delay, Jitter time.Duration
	// Stall holds everything back for as long as the fault lasts, new connections too.
	Stall bool
	// Cut resets each connection in the middle of the next reply.
	Cut bool
	// Slice is the size of the pieces in which everything arrives, in bytes; 0 for whole.
	Slice int
}

// Line is where a client connects to instead of the server.
type Line struct {
	listener net.Listener
	server   string
	ending   context.Context //nolint:containedctx // that of the goroutines, which have no caller
	running  sync.WaitGroup

	mu     sync.Mutex
	fault  Fault
	change chan struct{}
	// cutAt counts down the replies to the one that is cut; 0 for none.
	cutAt  int
	random *rand.Rand
	// ends are the two ends of each connection.
	ends map[net.Conn]net.Conn
}

// Start lays a line to a server at host:port and ends it with the test. The seed is that of
// the jitter.
func Start(t testing.TB, server string, seed uint64) *Line {
	t.Helper()
	listener, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(context.Background())
	l := &Line{
		listener: listener, server: server, ending: ctx, change: make(chan struct{}),
		random: rand.New(rand.NewPCG(seed, 1)), ends: map[net.Conn]net.Conn{},
	}
	l.running.Go(l.accept)
	t.Cleanup(func() {
		end()
		_ = listener.Close()
		l.hangUp()
		l.running.Wait()
	})
	return l
}

// Addr is where the line begins, host:port.
func (l *Line) Addr() string { return l.listener.Addr().String() }

// Set makes a fault begin, and the one before end.
func (l *Line) Set(f Fault) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fault = f
	close(l.change)
	l.change = make(chan struct{})
}

// CutNth resets the connection of the nth reply from now on, on whichever connection, in its
// middle; the others pass. It takes the place of an earlier one.
func (l *Line) CutNth(n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.cutAt = n
}

// HasCut reports whether the reply of CutNth has come.
func (l *Line) HasCut() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.cutAt == 0
}

// cuts reports whether a reply is to be cut.
func (l *Line) cuts(f Fault) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.cutAt > 0 {
		l.cutAt--
		return f.Cut || l.cutAt == 0
	}
	return f.Cut
}

// now returns the fault and what is closed when it ends.
func (l *Line) now() (Fault, <-chan struct{}) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.fault, l.change
}

func (l *Line) hangUp() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for a, b := range l.ends {
		_, _ = a.Close(), b.Close()
	}
}

func (l *Line) accept() {
	for {
		client, err := l.listener.Accept()
		if err != nil {
			return // the test is over
		}
		l.running.Go(func() { l.connect(client) })
	}
}

// connect carries what a client and the server say until one of them hangs up.
func (l *Line) connect(client net.Conn) {
	defer client.Close() //nolint:errcheck // over
	l.unstalled()
	server, err := new(net.Dialer).DialContext(l.ending, "tcp", l.server)
	if err != nil {
		return
	}
	defer server.Close() //nolint:errcheck // over
	l.mu.Lock()
	l.ends[client] = server
	over := l.ending.Err() != nil // and nobody hangs up any more
	l.mu.Unlock()
	if over {
		return
	}
	defer func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		delete(l.ends, client)
	}()
	var both sync.WaitGroup
	both.Go(func() { l.carry(server, client, false) })
	both.Go(func() { l.carry(client, server, true) })
	both.Wait()
}

// carry passes on what comes from one end to the other, and hangs up on both at its end.
func (l *Line) carry(to, from net.Conn, replies bool) {
	defer func() { _, _ = to.Close(), from.Close() }()
	buffer := make([]byte, 16<<10)
	for {
		n, err := from.Read(buffer)
		if n > 0 && !l.pass(to, buffer[:n], replies) {
			return
		}
		if err != nil {
			if !errors.Is(err, io.EOF) {
				reset(to)
			}
			return
		}
	}
}

// pass lets some bytes through; false when the connection is over.
func (l *Line) pass(to net.Conn, part []byte, replies bool) bool {
	f := l.unstalled()
	if replies && l.cuts(f) {
		_, _ = to.Write(part[:len(part)/2])
		reset(to)
		return false
	}
	if f.Delay > 0 && !l.sleep(f.Delay+l.jitter(f.Jitter)) {
		return false
	}
	size := f.Slice
	if size == 0 {
		size = len(part)
	}
	for len(part) > 0 {
		n := min(size, len(part))
		if _, err := to.Write(part[:n]); err != nil {
			return false
		}
		part = part[n:]
	}
	return true
}

// unstalled waits for the end of a stall and returns the fault that there is then.
func (l *Line) unstalled() Fault {
	for {
		f, change := l.now()
		if !f.Stall {
			return f
		}
		select {
		case <-change:
		case <-l.ending.Done():
			return Fault{}
		}
	}
}

// sleep waits, or returns false at the end of the test.
func (l *Line) sleep(d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-l.ending.Done():
		return false
	}
}

func (l *Line) jitter(most time.Duration) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	return time.Duration((2*l.random.Float64() - 1) * float64(most))
}

// reset makes the end of a connection one that the other side takes for a fault.
func reset(c net.Conn) {
	if tcp, ok := c.(*net.TCPConn); ok {
		_ = tcp.SetLinger(0)
	}
}
