// Package cache keeps immutable values in Redis, so that what one replica computed no other
// computes again. A value stands under a digest of all that it depends on and never changes:
// nothing is ever wrong by being old, and whatever goes wrong with Redis is a miss.
package cache

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/redis/go-redis/v9"

	"parcours.example/service/span"
)

// Config says where Redis is and how much of it is used.
type Config struct {
	// URLs name the servers: one of a single server or of a Sentinel set with ?master=NAME,
	// several of a Cluster. See Options.
	URLs []string
	// Password is that of Redis, where the addresses don't hold it.
	Password string
	// TTL is how long a value is kept after it was last written; 0 for a week.
	TTL time.Duration
	// Logger takes a record when Redis goes and comes back; required.
	Logger *slog.Logger
	// Registerer takes the metrics; nil for none.
	Registerer prometheus.Registerer
}

// Bounds of what is kept and of how long anybody waits.
const (
	defaultTTL = 7 * 24 * time.Hour
	// mostValueBytes is the largest value that is written or read, sealed: a network of 10 Gbit/s
	// carries it within readWait. mostOpenedBytes is the largest value as it was before.
	mostValueBytes, mostOpenedBytes = 8 << 20, 64 << 20
	// readWait is the longest that a reader waits, writeWait a writer in the background,
	// probeWait whoever asks whether a server is back.
	readWait, writeWait, probeWait = 20 * time.Millisecond, 500 * time.Millisecond, 500 * time.Millisecond
	// writersQueue is how many values may wait to be written, mostWaitingBytes what they may take
	// meanwhile; what comes beyond is dropped.
	writersQueue, mostWaitingBytes, writers = 64, 64 << 20, 2
)

// Shared is a cache in Redis. It is safe for concurrent use; make it with Open and end it with
// Close.
type Shared struct {
	client  redis.UniversalClient
	servers *servers
	ttl     time.Duration
	meter   *meter

	writes chan write
	// waiting is the memory of the values that wait to be written, or are being.
	waiting atomic.Int64
	closed  atomic.Bool
	stop    context.CancelFunc
	ending  sync.WaitGroup
}

// write is a value on its way: encode makes its bytes of something that takes so many bytes of
// memory.
type write struct {
	key    string
	bytes  int64
	encode func() ([]byte, error)
}

// Open starts to use a Redis. It doesn't wait for it: one that is away is used when it comes.
// It fails where the configuration is wrong.
func Open(cfg Config) (*Shared, error) {
	options, err := optionsOf(cfg.URLs, cfg.Password)
	if err != nil {
		return nil, err
	}
	return use(cfg, options)
}

// use is Open with the options of the client.
func use(cfg Config, options *redis.UniversalOptions) (*Shared, error) {
	redis.SetLogger(silent{}) // else the library writes to standard error what the breaker tells once
	if cfg.TTL == 0 {
		cfg.TTL = defaultTTL
	}
	client := newClient(options)
	s := &Shared{
		client: client, servers: watchServers(client, cfg.Logger), ttl: cfg.TTL,
		meter: newMeter(), writes: make(chan write, writersQueue),
	}
	if err := s.meter.register(cfg.Registerer, s.Degraded); err != nil {
		return nil, errors.Join(err, s.client.Close())
	}
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.ending.Go(func() { s.probe(ctx) })
	for range writers {
		s.ending.Go(func() { s.writeAll(ctx) })
	}
	return s, nil
}

// silent is a log that nothing is written to.
type silent struct{}

// Printf implements the library's logger.
func (silent) Printf(context.Context, string, ...any) {}

// GetAll returns the values of some keys, which it asks for in one trip, nil for each that is
// missing. It waits at most some tens of milliseconds; a miss is all that it says when Redis is
// away, slow, or holds something else.
func (s *Shared) GetAll(ctx context.Context, keys ...string) [][]byte {
	ctx, cancel := context.WithTimeout(ctx, readWait)
	defer cancel()
	trip := s.client.Pipeline()
	asked := make([]*redis.StringCmd, len(keys))
	for i, key := range keys {
		asked[i] = trip.Get(ctx, key)
	}
	_, step := span.Start(ctx, "redis")
	stop := s.meter.time(tripRead)
	_, _ = trip.Exec(ctx) // each command has its own error
	stop()
	step.End()
	values := make([][]byte, len(keys))
	for i, key := range keys {
		values[i] = s.opened(key, asked[i])
	}
	return values
}

// opened returns the value that was read of a key, nil for none.
func (s *Shared) opened(key string, read *redis.StringCmd) []byte {
	sealed, err := read.Bytes()
	if err != nil {
		s.meter.missed(err)
		return nil
	}
	value, err := openValue(key, sealed)
	if err != nil {
		s.meter.lookups.WithLabelValues(foundForeign).Inc()
		return nil
	}
	s.meter.lookups.WithLabelValues(foundHit).Inc()
	return value
}

// openValue opens what was read of a key.
func openValue(key string, sealed []byte) ([]byte, error) {
	if len(sealed) > mostValueBytes {
		return nil, errForeign
	}
	return Unseal(key, sealed)
}

// PutLater encodes and writes a value in the background, which keeps so many bytes of memory
// from being freed meanwhile. Where too many wait it is dropped: it costs the next reader a
// computation, and no caller a wait. A value of more than 64 MiB is never written: nobody could
// read it in time.
func (s *Shared) PutLater(key string, size int, encode func() ([]byte, error)) {
	w := write{key, int64(size), encode}
	if s.closed.Load() || !s.queue(w) {
		s.meter.writes.WithLabelValues(writeDropped).Inc()
	}
}

// queue lets a value wait; false where there is no room.
func (s *Shared) queue(w write) bool {
	if s.waiting.Add(w.bytes) <= mostWaitingBytes {
		select {
		case s.writes <- w:
			return true
		default:
		}
	}
	s.waiting.Add(-w.bytes)
	return false
}

// Degraded reports whether Redis, or a part of a Cluster, is left alone because it doesn't
// answer.
func (s *Shared) Degraded() bool { return len(s.servers.away()) > 0 }

// writeAll writes values as they come, and at the end those that wait.
func (s *Shared) writeAll(ctx context.Context) {
	for {
		select {
		case w := <-s.writes:
			s.finish(w)
			continue
		default:
		}
		select {
		case w := <-s.writes:
			s.finish(w)
		case <-ctx.Done():
			return
		}
	}
}

// finish writes a value and counts what became of it.
func (s *Shared) finish(w write) {
	outcome := s.write(w)
	s.waiting.Add(-w.bytes)
	s.meter.writes.WithLabelValues(outcome).Inc()
}

func (s *Shared) write(w write) (outcome string) {
	ctx, cancel := context.WithTimeout(context.Background(), writeWait)
	defer cancel()
	to := s.servers.of(ctx, w.key)
	if to == nil || !to.takes() {
		return writeDropped
	}
	value, err := w.encode()
	if err != nil {
		return writeFailed
	}
	if len(value) > mostOpenedBytes {
		return writeDropped
	}
	sealed := Seal(w.key, value)
	if len(sealed) > mostValueBytes {
		return writeDropped
	}
	err = s.set(w.key, sealed)
	to.offered(err)
	switch {
	case err == nil:
		return writeDone
	case refuses(replyCode(err)):
		return writeRefused
	}
	return writeFailed
}

func (s *Shared) set(key string, sealed []byte) error {
	ctx, cancel := context.WithTimeout(context.Background(), writeWait)
	defer cancel()
	defer s.meter.time(tripWrite)()
	return s.client.Set(ctx, key, sealed, s.ttl).Err()
}

// probe asks Redis whether it is back, while it is left alone.
func (s *Shared) probe(ctx context.Context) {
	tick := time.NewTicker(probeEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			s.servers.probe(ctx)
		}
	}
}

// Close writes what waits, as far as the context lets it, and ends the use of Redis. PutLater
// may still be called, and does nothing.
func (s *Shared) Close(ctx context.Context) error {
	if s.closed.Swap(true) {
		return nil
	}
	s.stop() // writers end once nothing waits
	done := make(chan struct{})
	go func() {
		s.ending.Wait()
		close(done)
	}()
	select {
	case <-done:
		return s.client.Close()
	case <-ctx.Done():
		return errors.Join(fmt.Errorf("cache: values were left unwritten: %w", ctx.Err()), s.client.Close())
	}
}
