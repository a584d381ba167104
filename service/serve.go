package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"runtime"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"golang.org/x/net/netutil"

	"parcours.example/analysis"
	"parcours.example/api"
	"parcours.example/service/cache"
	"parcours.example/service/engine"
)

// Run serves until a signal ends it: the first lets running requests finish, the
// second ends them.
func (c *serveCommand) Run(std streams) error {
	s, err := c.check()
	if err != nil {
		return err
	}
	signals := make(chan os.Signal, 2)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	defer signal.Stop(signals)
	logger := slog.New(slog.NewJSONHandler(std.err, &slog.HandlerOptions{Level: s.logLevel}))
	return serve(s, logger, signals)
}

// spareThreads run beside those of workers, so that requests are refused, answered from memory
// and told of health while every core computes: else they would wait until the scheduler takes
// a core from a computation, which it does each 10 ms.
const spareThreads = 2

// spareSome lets more threads run than there are cores for workers. The returned function undoes
// that.
func (s *settings) spareSome() (undo func()) {
	cores := runtime.GOMAXPROCS(0)
	if s.workers == 0 {
		s.workers = cores
	}
	runtime.GOMAXPROCS(cores + spareThreads)
	return func() { runtime.GOMAXPROCS(cores) }
}

// serve runs the server and returns once it has stopped.
func serve(s settings, logger *slog.Logger, signals <-chan os.Signal) error {
	defer s.spareSome()()
	registry := prometheus.NewRegistry()
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), thisBuild().metric())
	shared, err := openShared(s, logger, registry)
	if err != nil {
		return err
	}
	eng, err := engine.New(engine.Config{
		Shared:     shared,
		CacheBytes: s.cacheBytes, AnswerBytes: s.answerBytes, HeldBytes: s.heldBytes, Workers: s.workers, QueueWait: s.queueWait, Registerer: registry,
	})
	if err != nil {
		return err
	}
	tracing, err := openTraces(s, logger, registry)
	if err != nil {
		return err
	}
	queue, err := openJobs(s, logger, registry)
	if err != nil {
		return err
	}
	var stopping atomic.Bool
	cfg := api.Config{
		Engine: eng, Logger: logger, Registry: registry, Ready: func() bool { return !stopping.Load() }, Tracer: tracing.Tracer(), StallTimeout: s.stallTimeout, Jobs: queue,
		PerAddress: s.ratePerAddress, TrustedProxies: s.trustedProxies, Origins: s.corsOrigins,
	}
	unwatch, err := openGate(&cfg, s, shared)
	if err != nil {
		return err
	}
	defer unwatch()
	handler, err := api.New(cfg)
	if err != nil {
		return err
	}
	if s.jobsOnly {
		handler = probesOnly(handler)
	}
	forAdmin, err := startAdmin(s, registry, logger)
	if err != nil {
		return err
	}
	if forAdmin != nil {
		defer func() { _ = forAdmin.Close() }() // it tells of the service to the last
	}
	listener, err := new(net.ListenConfig).Listen(context.Background(), "tcp", s.listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	server := newServer(s, handler, logger)
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(netutil.LimitListener(listener, s.connections)) }()
	logger.Info("serving", "address", listener.Addr().String(), "engine_version", analysis.EngineVersion)

	select {
	case err := <-failed:
		return fmt.Errorf("serve: %w", err)
	case sig := <-signals:
		logger.Info("stopping", "signal", sig.String())
	}
	stopping.Store(true)
	grace, end := graceOf(s, signals)
	defer end()
	if err := stop(grace, server, s.stopDelay); err != nil {
		return err // at once, without waiting for what still runs
	}
	if err := queue.Close(grace); err != nil {
		logger.Warn("stopping", slog.Any("error", err))
	}
	if !closed(grace, eng) {
		return nil // all were answered; what still runs nobody waits for
	}
	if shared != nil {
		if err := shared.Close(grace); err != nil {
			logger.Warn("stopping", slog.Any("error", err)) // costs another replica a computation
		}
	}
	closeTraces(tracing, remaining(grace), logger)
	logger.Info("stopped")
	return nil
}

// openShared opens the Redis that replicas share; nil where none is configured.
func openShared(s settings, logger *slog.Logger, registry *prometheus.Registry) (*cache.Shared, error) {
	if len(s.redisURLs) == 0 {
		return nil, nil //nolint:nilnil // none is configured
	}
	return cache.Open(cache.Config{URLs: s.redisURLs, Password: s.redisPassword, TTL: s.redisTTL, Logger: logger, Registerer: registry})
}

// newServer returns a server in which no phase of a connection is without a
// limit.
func newServer(s settings, handler http.Handler, logger *slog.Logger) *http.Server {
	return &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: s.readHeaderTimeout,
		ReadTimeout:       s.readTimeout,
		WriteTimeout:      s.writeTimeout,
		IdleTimeout:       s.idleTimeout,
		MaxHeaderBytes:    s.maxHeaderBytes,
		ErrorLog:          slog.NewLogLogger(logger.Handler(), slog.LevelWarn),
	}
}

// errCutShort says that requests were still running when the server ended.
var errCutShort = errors.New("stopped before all requests were answered")

// graceOf returns a context that ends once all there is to end must have ended: with the grace,
// which begins after the delay, or with a further signal.
func graceOf(s settings, signals <-chan os.Signal) (context.Context, context.CancelFunc) {
	grace, end := context.WithTimeout(context.Background(), s.stopDelay+s.stopGrace)
	go func() {
		select {
		case <-signals:
			end()
		case <-grace.Done():
		}
	}()
	return grace, end
}

// stop keeps answering for the delay, in which balancers learn that the service is
// no longer ready, then takes no more connections and waits for the running
// requests. The end of the grace ends them.
func stop(grace context.Context, server *http.Server, delay time.Duration) error {
	select {
	case <-time.After(delay):
	case <-grace.Done():
		if errors.Is(grace.Err(), context.Canceled) { // a further signal
			return errors.Join(errCutShort, server.Close())
		}
	}
	if err := server.Shutdown(grace); err != nil {
		return errors.Join(errCutShort, server.Close())
	}
	return nil
}

// closed ends an engine, and reports whether it ended within the grace.
func closed(grace context.Context, eng *engine.Engine) bool {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		eng.Close()
	}()
	select {
	case <-ended:
		return true
	case <-grace.Done():
		return false
	}
}

// remaining is what is left of a grace.
func remaining(grace context.Context) time.Duration {
	end, _ := grace.Deadline()
	return time.Until(end)
}
