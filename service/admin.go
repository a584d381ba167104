package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/pprof"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// adminWriteTimeout bounds an answer of the admin listener; a profile is taken for less.
const adminWriteTimeout = 2 * time.Minute

// adminIndex is what the admin listener has.
const adminIndex = `/metrics        metrics for Prometheus
/build          which program runs
/configuration  its settings, without secrets
/debug/pprof/   profiles
`

// startAdmin serves what is for those who run the service, on an address of its own that callers
// can't reach; nil where none is configured.
func startAdmin(s settings, registry *prometheus.Registry, logger *slog.Logger) (*http.Server, error) {
	if s.adminListen == "" {
		return nil, nil //nolint:nilnil // none is configured
	}
	listener, err := new(net.ListenConfig).Listen(context.Background(), "tcp", s.adminListen)
	if err != nil {
		return nil, fmt.Errorf("listen for the administrator: %w", err)
	}
	server := newServer(s, admin(s, registry), logger)
	server.WriteTimeout = adminWriteTimeout
	go func() {
		if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			logger.Error("the admin listener ended", slog.Any("error", err))
		}
	}()
	logger.Info("serving the administrator", "admin_address", listener.Addr().String())
	return server, nil
}

// admin answers on the admin listener. The command line isn't shown as it was given, as the
// profiler's own page would: it may hold a password.
func admin(s settings, registry *prometheus.Registry) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte(adminIndex)) })
	mux.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	mux.HandleFunc("GET /build", shows(thisBuild()))
	mux.HandleFunc("GET /configuration", shows(s.shown))
	mux.HandleFunc("GET /debug/pprof/", pprof.Index)
	mux.HandleFunc("GET /debug/pprof/profile", pprof.Profile)
	mux.HandleFunc("GET /debug/pprof/symbol", pprof.Symbol)
	mux.HandleFunc("GET /debug/pprof/trace", pprof.Trace)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		mux.ServeHTTP(w, r)
	})
}

// shows answers with a value as JSON.
func shows(v any) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		encoder := json.NewEncoder(w)
		encoder.SetIndent("", "  ")
		_ = encoder.Encode(v) // a caller who has left
	}
}

// adminAddress reads the admin listener's address: one that names its host, so that nobody opens
// it to the world by leaving something out, and is not the service's own.
func (r *reader) adminAddress(flag, text, listen string) string {
	if text == "" {
		return ""
	}
	r.address(flag, text)
	host, port, err := net.SplitHostPort(text)
	if err != nil {
		return text
	}
	if host == "" {
		r.fault(flag, text, "an address that names its host; 127.0.0.1 is reached from this machine alone, 0.0.0.0 from anywhere")
	}
	if mainHost, mainPort, err := net.SplitHostPort(listen); err == nil && port == mainPort && port != "0" && meet(host, mainHost) {
		r.fault(flag, text, "an address beside that of --listen, "+listen)
	}
	return text
}

// meet reports whether listeners on two hosts and the same port would be in each other's way.
func meet(a, b string) bool {
	return a == b || everywhere(a) || everywhere(b)
}

// everywhere reports whether a host stands for all of the machine's addresses.
func everywhere(host string) bool {
	ip := net.ParseIP(host)
	return host == "" || ip != nil && ip.IsUnspecified()
}
