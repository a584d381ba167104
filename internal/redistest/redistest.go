// Package redistest starts real Redis servers for tests. Nothing that ships imports it.
package redistest

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/redis/go-redis/v9"
)

// Server is a redis-server of a test.
type Server struct {
	t    testing.TB
	port int
	args []string
	// dir is where a node of a Cluster keeps who belongs to it.
	dir string
	// config is the file that a Sentinel keeps, else empty.
	config string
	cmd    *exec.Cmd
}

// Start starts a server without persistence on a free port and ends it with the test. Where
// no Redis is installed the test is skipped, or fails with PARCOURS_REQUIRE=1. Further
// arguments are redis-server's.
func Start(t testing.TB, args ...string) *Server {
	t.Helper()
	if _, err := exec.LookPath("redis-server"); err != nil {
		if os.Getenv("PARCOURS_REQUIRE") == "1" {
			t.Fatal("redis-server isn't installed")
		}
		t.Skip("redis-server isn't installed")
	}
	s := &Server{t: t, port: freePort(t), args: args, dir: t.TempDir()}
	s.Restart()
	t.Cleanup(s.Kill)
	return s
}

// Addr is host:port, URL the address as the service takes it.
func (s *Server) Addr() string { return net.JoinHostPort("127.0.0.1", strconv.Itoa(s.port)) }

// URL is the server's address as the service takes it.
func (s *Server) URL() string { return "redis://" + s.Addr() }

// Client returns a client of its own, closed with the test.
func (s *Server) Client() *redis.Client {
	c := redis.NewClient(&redis.Options{Addr: s.Addr()})
	s.t.Cleanup(func() { _ = c.Close() })
	return c
}

// Restart starts the server, empty, on its port, and waits until it answers. A node of a
// Cluster belongs to it again.
func (s *Server) Restart() {
	s.t.Helper()
	args := []string{"--port", strconv.Itoa(s.port), "--bind", "127.0.0.1", "--save", "", "--loglevel", "warning", "--dir", s.dir}
	if s.config != "" {
		args = append([]string{s.config}, args...)
	}
	args = append(args, s.args...)
	s.cmd = exec.Command("redis-server", args...) //nolint:gosec,noctx // ended by Kill
	if err := s.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	c := redis.NewClient(&redis.Options{Addr: s.Addr(), MaxRetries: 1000, MinRetryBackoff: 5 * time.Millisecond, MaxRetryBackoff: 20 * time.Millisecond})
	defer func() { _ = c.Close() }()
	if err := c.Ping(ctx).Err(); err != nil {
		s.t.Fatalf("redis-server doesn't answer: %v", err)
	}
}

// Kill ends the server at once, as a crash does.
func (s *Server) Kill() { s.end(syscall.SIGKILL) }

// Pause stops the server without closing its connections, and returns once it stands still;
// Resume lets it go on.
func (s *Server) Pause() {
	s.signal(syscall.SIGSTOP)
	var status syscall.WaitStatus
	for !status.Stopped() {
		if _, err := syscall.Wait4(s.cmd.Process.Pid, &status, syscall.WUNTRACED, nil); err != nil && !errors.Is(err, syscall.EINTR) {
			s.t.Fatalf("redis-server can't be stopped: %v", err)
		}
	}
}

// Resume lets a paused server go on.
func (s *Server) Resume() { s.signal(syscall.SIGCONT) }

func (s *Server) end(sig syscall.Signal) {
	if s.cmd == nil {
		return
	}
	s.signal(syscall.SIGCONT)
	s.signal(sig)
	_ = s.cmd.Wait() // it was killed
	s.cmd = nil
}

func (s *Server) signal(sig syscall.Signal) {
	if s.cmd != nil {
		_ = s.cmd.Process.Signal(sig) // a process that is gone needs none
	}
}

func freePort(t testing.TB) int {
	t.Helper()
	l, err := new(net.ListenConfig).Listen(context.Background(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	port := l.Addr().(*net.TCPAddr).Port
	if port > mostPort {
		return freePort(t)
	}
	return port
}

// mostPort leaves room for the port of a Cluster's bus, 10,000 above.
const mostPort = 55_535

// StartCluster starts a Cluster of three masters and returns them once all slots are served.
func StartCluster(t testing.TB) []*Server {
	t.Helper()
	var servers []*Server
	arguments := []string{"--cluster", "create"}
	for range 3 {
		s := Start(t, "--cluster-enabled", "yes", "--cluster-node-timeout", "1000", "--cluster-require-full-coverage", "no")
		servers, arguments = append(servers, s), append(arguments, s.Addr())
	}
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	arguments = append(arguments, "--cluster-replicas", "0", "--cluster-yes")
	if out, err := exec.CommandContext(ctx, "redis-cli", arguments...).CombinedOutput(); err != nil {
		t.Fatalf("no cluster: %v\n%s", err, out)
	}
	for _, s := range servers {
		s.await(ctx, func(c *redis.Client) bool {
			return strings.Contains(c.ClusterInfo(ctx).Val(), "cluster_state:ok")
		})
	}
	return servers
}

// StartSentinel starts a master with a replica, and a Sentinel that watches over them under
// the name "main". After a second of silence of the master the replica becomes the master.
func StartSentinel(t testing.TB) (master, replica, sentinel *Server) {
	t.Helper()
	master = Start(t)
	replica = Start(t, "--replicaof", "127.0.0.1 "+strconv.Itoa(master.port))
	config := filepath.Join(t.TempDir(), "sentinel.conf")
	text := fmt.Sprintf("sentinel monitor main 127.0.0.1 %d 1\nsentinel down-after-milliseconds main 1000\nsentinel failover-timeout main 3000\n", master.port)
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	sentinel = &Server{t: t, port: freePort(t), args: []string{"--sentinel"}, config: config, dir: t.TempDir()}
	sentinel.Restart()
	t.Cleanup(sentinel.Kill)
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	replica.await(ctx, func(c *redis.Client) bool {
		return strings.Contains(c.Info(ctx, "replication").Val(), "master_link_status:up")
	})
	sentinel.await(ctx, func(c *redis.Client) bool {
		return strings.Contains(c.Info(ctx, "sentinel").Val(), "status=ok,address="+master.Addr()+",slaves=1")
	})
	return master, replica, sentinel
}

// await asks the server until something holds.
func (s *Server) await(ctx context.Context, holds func(*redis.Client) bool) {
	s.t.Helper()
	c := s.Client()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for !holds(c) {
		select {
		case <-ctx.Done():
			s.t.Fatalf("redis at %s never got so far", s.Addr())
		case <-tick.C:
		}
	}
}
