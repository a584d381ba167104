// Package local answers a client's calls within its own process: the service's real handler
// and engine, with no port opened. What a program asks this way it can ask a server just as
// well, and gets the same bytes.
package local

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/client"
	"parcours.example/service/engine"
)

// queueWait is how long a computation waits for a worker. There is nobody but this process's
// own callers, who mean to wait.
const queueWait = time.Hour

// address stands for this process in requests. It is never looked up.
const address = "http://parcours.invalid"

// New returns a client whose calls this process answers. Options that say how requests are
// sent, like client.WithHTTPClient, take the service's place; use Open with them. The returned
// function waits for what is still computed and frees its memory, and so does the end of ctx;
// no call may be made after it.
func New(ctx context.Context, options ...client.Option) (*client.Client, func(), error) {
	service, err := Open()
	if err != nil {
		return nil, nil, err
	}
	c, err := service.Client(options...)
	if err != nil {
		service.Close()
		return nil, nil, err
	}
	context.AfterFunc(ctx, service.Close)
	return c, service.Close, nil
}

// Service is the service within this process. It is an http.RoundTripper that answers every
// request itself, whatever its address, and safe for concurrent use.
type Service struct {
	handler http.Handler
	close   func()
}

// Open starts a service with the defaults of one that listens, but for the patience of its
// queue.
func Open() (*Service, error) {
	registry := prometheus.NewRegistry()
	eng, err := engine.New(engine.Config{QueueWait: queueWait, Registerer: registry})
	if err != nil {
		return nil, fmt.Errorf("local: %w", err)
	}
	handler, err := api.New(api.Config{
		Engine: eng, Logger: slog.New(slog.DiscardHandler), Registry: registry, Ready: func() bool { return true },
	})
	if err != nil {
		eng.Close()
		return nil, fmt.Errorf("local: %w", err)
	}
	return &Service{handler: handler, close: sync.OnceFunc(eng.Close)}, nil
}

// Close waits for what is still computed and frees its memory. No request may be sent after
// it; a second Close does nothing.
func (s *Service) Close() { s.close() }

// Client returns a client of the service. An option of client.WithHTTPClient would lead it
// elsewhere.
func (s *Service) Client(options ...client.Option) (*client.Client, error) {
	own := client.WithHTTPClient(&http.Client{Transport: s})
	return client.New(address, append([]client.Option{own}, options...)...)
}
