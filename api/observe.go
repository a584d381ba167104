package api

import (
	"log/slog"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
	"go.opentelemetry.io/otel/trace"
)

// statusClientGone is logged and counted where the caller left before the reply, or before its
// end.
const statusClientGone = 499

// goneKey is set in the context of a request whose caller is found to have left.
const goneKey = "parcours.gone"

// meter holds the handler's metrics. No label takes a value that a caller chooses.
type meter struct {
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
	inflight prometheus.Gauge
	panics   prometheus.Counter
}

// newMeter registers the handler's metrics.
func newMeter(registry *prometheus.Registry) (*meter, error) {
	m := &meter{
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_http_requests_total", Help: "Requests by route, method and status; 499 where the caller left before the reply.",
		}, []string{"route", "method", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "parcours_http_request_duration_seconds",
			Help:    "Time to answer by route and outcome: ok, rejected for the caller's fault, refused for want of room, failed for ours, gone where the caller left.",
			Buckets: []float64{.0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30, 60},
		}, []string{"route", "outcome"}),
		inflight: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "parcours_http_inflight", Help: "Requests that are being answered.",
		}),
		panics: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "parcours_panics_total", Help: "Faults of ours that were caught while answering; the log has each one's stack.",
		}),
	}
	for _, c := range []prometheus.Collector{m.requests, m.seconds, m.inflight, m.panics} {
		if err := registry.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// observe counts, times and logs each request once it is answered.
func (s *server) observe(c *gin.Context) {
	start := time.Now()
	s.meter.inflight.Inc()
	defer s.meter.inflight.Dec()
	c.Next()
	elapsed := time.Since(start)
	route, method, status := routeLabel(c), methodLabel(methodAsked(c.Request)), answeredStatus(c)
	s.meter.requests.WithLabelValues(route, method, strconv.Itoa(status)).Inc()
	s.meter.seconds.WithLabelValues(route, outcomeLabel(status)).Observe(elapsed.Seconds())
	record := []slog.Attr{
		slog.String("route", route), slog.String("method", method),
		slog.Int("status", status), slog.Int("bytes", max(c.Writer.Size(), 0)),
		slog.Float64("ms", float64(elapsed.Microseconds())/1000), slog.String("request_id", requestID(c)),
	}
	if traced := trace.SpanContextFromContext(c.Request.Context()); traced.IsSampled() {
		record = append(record, slog.String("trace_id", traced.TraceID().String()))
	}
	s.logger.LogAttrs(c.Request.Context(), requestLevel(route, status), "request", record...)
}

// answeredStatus is the status that a request was answered with, or that its caller left.
func answeredStatus(c *gin.Context) int {
	if c.GetBool(goneKey) || c.Request.Context().Err() != nil && !c.Writer.Written() {
		return statusClientGone
	}
	return c.Writer.Status()
}

// requestLevel is the level of a request's record: an error where the service failed, a warning
// where it refused work, debugging where a probe found it well, of which there is one a second.
func requestLevel(route string, status int) slog.Level {
	switch outcomeLabel(status) {
	case outcomeFailed:
		return slog.LevelError
	case outcomeRefused:
		return slog.LevelWarn
	case outcomeOK:
		if route == "/livez" || route == "/readyz" || route == "/metrics" {
			return slog.LevelDebug
		}
	}
	return slog.LevelInfo
}

// routeLabel is the route as the contract has it, never an address of the caller's choice.
func routeLabel(c *gin.Context) string {
	if route := c.FullPath(); route != "" {
		return route
	}
	return "other"
}

// methodLabel bounds the methods that are told apart.
func methodLabel(method string) string {
	switch method {
	case http.MethodGet, http.MethodPost, http.MethodHead, http.MethodOptions, http.MethodPut, http.MethodDelete:
		return method
	}
	return "other"
}

// What becomes of requests.
const (
	outcomeOK       = "ok"
	outcomeRejected = "rejected"
	outcomeRefused  = "refused"
	outcomeFailed   = "failed"
	outcomeGone     = "gone"
)

// outcomeLabel says what became of a request that was answered with a status.
func outcomeLabel(status int) string {
	switch {
	case status == http.StatusServiceUnavailable, status == http.StatusTooManyRequests:
		return outcomeRefused
	case status == statusClientGone:
		return outcomeGone
	case status >= http.StatusInternalServerError:
		return outcomeFailed
	case status >= http.StatusBadRequest:
		return outcomeRejected
	}
	return outcomeOK
}
