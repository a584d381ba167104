package keys

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// pollEvery is how often a file is looked at. A version is taken once it has lain still from
// one look to the next, so that one that is just being written isn't read half.
const pollEvery = 500 * time.Millisecond

// mostFileBytes bounds a file.
const mostFileBytes = 1 << 20

// File is a file of keys that may change while it is used. It is safe for concurrent use.
type File struct {
	name   string
	logger *slog.Logger
	ring   atomic.Pointer[Ring]
	loads  *prometheus.CounterVec

	seen, taken stamp  // of Watch alone
	told        string // the fault that was logged last
}

// stamp tells versions of a file apart.
type stamp struct {
	modified time.Time
	size     int64
}

// What became of a version of the file.
const (
	loadTaken   = "taken"
	loadRefused = "refused"
)

// Open reads a file of keys, as Parse says. The error names all that is wrong with it. The
// registerer, if any, takes the metrics.
func Open(name string, logger *slog.Logger, registerer prometheus.Registerer) (*File, error) {
	f := &File{name: name, logger: logger, loads: prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "parcours_keys_loads_total", Help: "Versions of the file of keys, by what became of them.",
	}, []string{"outcome"})}
	var err error
	if f.taken, err = stampOf(name); err != nil {
		return nil, err
	}
	f.seen = f.taken
	ring, err := read(name)
	if err != nil {
		return nil, err
	}
	f.ring.Store(ring)
	f.loads.WithLabelValues(loadTaken).Inc()
	f.loads.WithLabelValues(loadRefused)
	if registerer == nil {
		return f, nil
	}
	if err := registerer.Register(f.loads); err != nil {
		return nil, fmt.Errorf("keys: metrics: %w", err)
	}
	return f, nil
}

// Check reports all that is wrong with a file of keys.
func Check(name string) error {
	_, err := read(name)
	return err
}

// Client returns whose key a text is.
func (f *File) Client(key string) (Client, bool) { return f.ring.Load().Client(key) }

// Watch takes each new version of the file until the context ends. A version that is wrong is
// logged, and the one before stays in force.
func (f *File) Watch(ctx context.Context) {
	tick := time.NewTicker(pollEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			f.look()
		}
	}
}

// look takes the file's version if it is new and has been there at the last look.
func (f *File) look() {
	now, err := stampOf(f.name)
	if err != nil {
		f.refuse(err)
		return
	}
	still := now == f.seen
	f.seen = now
	if !still || now == f.taken {
		return
	}
	f.taken = now
	ring, err := read(f.name)
	if err != nil {
		f.refuse(err)
		return
	}
	f.ring.Store(ring)
	f.told = ""
	f.loads.WithLabelValues(loadTaken).Inc()
	f.logger.Info("the file of keys is taken", slog.Int("clients", ring.Clients()), slog.Int("keys", ring.Keys()))
}

// refuse logs a fault, once as long as it stays the same.
func (f *File) refuse(err error) {
	if err.Error() == f.told {
		return
	}
	f.told = err.Error()
	f.loads.WithLabelValues(loadRefused).Inc()
	f.logger.Error("the file of keys is refused: the keys before stay in force", slog.String("error", err.Error()))
}

func stampOf(name string) (stamp, error) {
	info, err := os.Stat(name)
	if err != nil {
		return stamp{}, err
	}
	return stamp{info.ModTime(), info.Size()}, nil
}

// read reads and parses a file.
func read(name string) (*Ring, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	text, err := io.ReadAll(io.LimitReader(f, mostFileBytes+1))
	if err != nil {
		return nil, err
	}
	if len(text) > mostFileBytes {
		return nil, errors.New("it has more than a mebibyte")
	}
	return Parse(string(text))
}
