package main

import (
	"errors"
	"log/slog"
	"net/http"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// workCommand works on the jobs that servers accept, as many processes of it as are wanted. It
// answers nobody but those who look after it.
type workCommand struct {
	computing

	Listen string `default:"127.0.0.1:8081" placeholder:"HOST:PORT" help:"Address that answers /livez, /readyz and /metrics, and nothing else (${default})."`
}

// Run works until a signal ends it: the first lets jobs that are worked on finish, the second
// gives them back.
func (c *workCommand) Run(std streams) error {
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

// probeTimeout bounds all that probes take.
const probeTimeout = 10 * time.Second

// check turns the texts into settings, or names every fault in a *usageError.
func (c *workCommand) check() (settings, error) {
	r := &reader{}
	s := c.computing.read(r, c.Listen)
	s.jobsOnly = true
	s.listen = r.address("listen", c.Listen)
	s.jobWorkers = int(r.integer("job-workers", c.JobWorkers, 1, maxWorkers))
	s.readHeaderTimeout, s.readTimeout, s.writeTimeout, s.idleTimeout, s.stallTimeout = probeTimeout, probeTimeout, probeTimeout, probeTimeout, probeTimeout
	s.maxHeaderBytes, s.connections = minHeaderBytes, 64
	s.shown = shown(c)
	if len(s.jobsRedisURLs) == 0 {
		r.faults = append(r.faults, errors.New("--jobs-redis-url (PARCOURS_JOBS_REDIS_URL): there are no jobs to work on without it"))
	}
	return r.result(s)
}

// probesOnly lets through what looks after a process.
func probesOnly(next http.Handler) http.Handler {
	mux := http.NewServeMux()
	for _, path := range []string{"/livez", "/readyz", "/metrics"} {
		mux.Handle("GET "+path, next)
	}
	return mux
}
