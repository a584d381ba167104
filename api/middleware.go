package api

import (
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"regexp"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
)

// requestIDField is the header field of a request's id, both ways.
const requestIDField = "Request-Id"

// statusClientGone is logged where the caller left before the reply.
const statusClientGone = 499

// saneID is what a caller may choose as id.
var saneID = regexp.MustCompile(`^[A-Za-z0-9._-]{1,64}$`)

// identify gives each request its id: the caller's if it is sane, else a new one.
func identify(c *gin.Context) {
	id := c.GetHeader(requestIDField)
	if !saneID.MatchString(id) {
		id = rand.Text()
	}
	c.Header(requestIDField, id)
}

// requestID returns the id that identify gave.
func requestID(c *gin.Context) string { return c.Writer.Header().Get(requestIDField) }

// secure sets the header fields that every reply has.
func secure(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	h.Add("Link", `</openapi.yaml>; rel="service-desc"`)
	h.Add("Link", `</docs>; rel="service-doc"`)
}

// recover turns a panic into a problem. The stack goes to the log with the
// request's id; the caller sees a constant.
func (s *server) recover(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if err, ok := v.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(v) // net/http's own way to drop a connection
		}
		s.logger.Error("panic", slog.Any("value", v), slog.String("request_id", requestID(c)), slog.String("stack", string(debug.Stack())))
		if !c.Writer.Written() {
			writeProblem(c, &problem{kind: kindInternal, detail: "Something went wrong while answering; the request_id is in our log."})
		}
		c.Abort()
	}()
	c.Next()
}

// meter counts and times requests.
type meter struct {
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

// newMeter registers the handler's metrics.
func newMeter(registry *prometheus.Registry) (*meter, error) {
	m := &meter{
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "parcours_http_requests_total", Help: "Requests by route, method and status.",
		}, []string{"route", "method", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "parcours_http_seconds", Help: "Time to answer, by route.",
			Buckets: []float64{.001, .003, .01, .03, .1, .3, 1, 3, 10},
		}, []string{"route"}),
	}
	for _, c := range []prometheus.Collector{m.requests, m.seconds} {
		if err := registry.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// observe logs and counts each request once it is answered.
func (s *server) observe(m *meter) gin.HandlerFunc {
	return func(c *gin.Context) {
		start := time.Now()
		c.Next()
		elapsed := time.Since(start)
		route, status := c.FullPath(), c.Writer.Status()
		if route == "" {
			route = "other" // never a label of the caller's choice
		}
		if c.Request.Context().Err() != nil && !c.Writer.Written() {
			status = statusClientGone
		}
		m.requests.WithLabelValues(route, methodLabel(c.Request.Method), strconv.Itoa(status)).Inc()
		m.seconds.WithLabelValues(route).Observe(elapsed.Seconds())
		s.logger.Info("request", slog.String("route", route), slog.String("method", methodLabel(c.Request.Method)),
			slog.Int("status", status), slog.Int("bytes", max(c.Writer.Size(), 0)),
			slog.Float64("ms", float64(elapsed.Microseconds())/1000), slog.String("request_id", requestID(c)))
	}
}

// methodLabel bounds the methods that are told apart.
func methodLabel(method string) string {
	switch method {
	case http.MethodGet, http.MethodPost, http.MethodHead, http.MethodOptions, http.MethodPut, http.MethodDelete:
		return method
	}
	return "other"
}
