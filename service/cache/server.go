package cache

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"sync/atomic"
	"time"

	"github.com/redis/go-redis/v9"
)

const (
	// tripAfter failures in a row, a server is left alone; it is asked every probeEvery
	// whether it is back.
	tripAfter  = 3
	probeEvery = 500 * time.Millisecond
	// restFor is how long a server that refused as many values in a row is offered none.
	restFor = time.Second
)

// errAway is what a command fails with at once whose server is left alone.
var errAway = errors.New("cache: the server is left alone")

// server is one Redis server as this process finds it. It is a hook of the server's client,
// so that in a Cluster each has its own: one that is dead costs the values that lie on it,
// and nobody a wait for those that lie on others.
type server struct {
	address string
	logger  *slog.Logger
	// failures counts those in a row; away is set when there were too many, and unset by a
	// probe alone: a caller never finds out by waiting.
	failures atomic.Int32
	away     atomic.Bool
	// probed is set once a probe has told why it is away.
	probed atomic.Bool
	// refusals counts values in a row that the server didn't take, being full, say;
	// offerAgain is when it is offered the next, in nanoseconds since 1970.
	refusals   atomic.Int32
	offerAgain atomic.Int64
}

// DialHook implements redis.Hook.
func (s *server) DialHook(next redis.DialHook) redis.DialHook {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		return next(ctx, network, address)
	}
}

// ProcessHook implements redis.Hook.
func (s *server) ProcessHook(next redis.ProcessHook) redis.ProcessHook {
	return func(ctx context.Context, cmd redis.Cmder) error {
		if !watched(ctx, cmd) {
			return next(ctx, cmd)
		}
		if s.away.Load() {
			cmd.SetErr(errAway)
			return errAway
		}
		err := next(ctx, cmd)
		s.note(err)
		return err
	}
}

// ProcessPipelineHook implements redis.Hook.
func (s *server) ProcessPipelineHook(next redis.ProcessPipelineHook) redis.ProcessPipelineHook {
	return func(ctx context.Context, cmds []redis.Cmder) error {
		if !watched(ctx, cmds[0]) {
			return next(ctx, cmds)
		}
		if s.away.Load() {
			for _, cmd := range cmds {
				cmd.SetErr(errAway)
			}
			return errAway
		}
		err := next(ctx, cmds)
		worst := err
		for _, cmd := range cmds {
			if answers(worst) {
				worst = cmd.Err()
			}
		}
		s.note(worst)
		return err
	}
}

// probing marks a context whose commands go to servers that are left alone as well.
type probing struct{}

// watched reports whether a command is one that somebody waits for: not the library's
// handshakes, nor a probe.
func watched(ctx context.Context, cmd redis.Cmder) bool {
	switch cmd.Name() {
	case "get", "set", "eval", "evalsha", "cluster":
		return ctx.Value(probing{}) == nil
	}
	return false
}

// note takes note of what became of a command.
func (s *server) note(err error) {
	switch {
	case errors.Is(err, context.Canceled): // the caller left, which says nothing of the server
	case answers(err):
		s.failures.Store(0)
	case s.failures.Add(1) >= tripAfter && s.away.CompareAndSwap(false, true):
		s.probed.Store(false)
		s.logger.Warn("redis doesn't answer: going on without it", slog.String("cache", "degraded"), slog.String("server", s.address), reason(err))
	}
}

// reason is an error in a log. Errors of the library and of servers hold no keys, values or
// passwords.
func reason(err error) slog.Attr { return slog.String("reason", fmt.Sprintf("%.200s", err.Error())) }

// probe asks a server that is left alone whether it can be used. The first time it tells why
// not: it waits longer than callers, who may not have learnt of a wrong password, say.
func (s *server) probe(ctx context.Context, c *redis.Client) {
	if err := usable(ctx, c); err == nil {
		s.back()
	} else if !s.probed.Swap(true) {
		s.logger.Warn("redis can't be used yet", slog.String("server", s.address), reason(err))
	}
}

// back takes note that the server can be used.
func (s *server) back() {
	s.failures.Store(0)
	if s.away.CompareAndSwap(true, false) {
		s.logger.Info("redis is back", slog.String("cache", "ok"), slog.String("server", s.address))
	}
}

// takes reports whether it makes sense to offer the server a value.
func (s *server) takes() bool {
	return !s.away.Load() && time.Now().UnixNano() >= s.offerAgain.Load()
}

// offered takes note of what became of a value. A server that refuses is offered one now and
// then: encoding values is work.
func (s *server) offered(err error) {
	switch code := replyCode(err); {
	case err == nil:
		if s.refusals.Swap(0) >= tripAfter {
			s.logger.Info("redis keeps values again", slog.String("server", s.address))
		}
	case refuses(code):
		switch n := s.refusals.Add(1); {
		case n == tripAfter:
			s.logger.Warn("redis refuses to keep values", slog.String("server", s.address), slog.String("reply", code))
			fallthrough
		case n > tripAfter:
			s.offerAgain.Store(time.Now().Add(restFor).UnixNano())
		}
	}
}

// usable fails unless a server answers a reader in time. Making a connection may take longer,
// so that is done first.
func usable(ctx context.Context, c *redis.Client) error {
	if err := c.Ping(ctx).Err(); err != nil {
		return err
	}
	asking, cancel := context.WithTimeout(ctx, readWait)
	defer cancel()
	if err := c.Get(asking, probeKey).Err(); !answers(err) {
		return err
	}
	return nil
}

// probeKey is never written.
const probeKey = "parcours:probe"

// answers reports whether an error is an answer of a server that is working: a key that
// isn't there or holds something else, a value that is refused, a script that isn't known yet,
// another server's name.
func answers(err error) bool {
	if err == nil || errors.Is(err, redis.Nil) {
		return true
	}
	switch code := replyCode(err); code {
	case codeWrongType, "NOSCRIPT", "MOVED", "ASK", "TRYAGAIN":
		return true
	default:
		return refuses(code)
	}
}

// codeWrongType is the reply where a key holds a list, say.
const codeWrongType = "WRONGTYPE"

// refuses reports the replies of a server that reads and doesn't write: it is full, a
// replica, can't save, or has too few replicas.
func refuses(code string) bool {
	switch code {
	case "OOM", "READONLY", "MISCONF", "NOREPLICAS":
		return true
	}
	return false
}

// replyCode returns the first word of an error that a server replied with, "" for other
// errors.
func replyCode(err error) string {
	var reply redis.Error
	if !errors.As(err, &reply) {
		return ""
	}
	code, _, _ := strings.Cut(reply.Error(), " ")
	return code
}
