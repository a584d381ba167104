package api

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/trace"

	"parcours.example/service/span"
)

// traceparent is what is taken of a caller's trace (W3C Trace Context, section 3.2): its id, and not its
// tracestate, which may hold anything.
type traceparent http.Header

// Get implements propagation.TextMapCarrier.
func (t traceparent) Get(field string) string {
	if field != "traceparent" {
		return ""
	}
	return http.Header(t).Get(field)
}

// Set implements propagation.TextMapCarrier. Nothing is sent on.
func (traceparent) Set(string, string) {}

// Keys implements propagation.TextMapCarrier.
func (traceparent) Keys() []string { return []string{"traceparent"} }

// trace is the middleware that makes each request a span, of the caller's trace where its
// traceparent names one. Attributes are those of OpenTelemetry's conventions for HTTP servers
// that say nothing of the caller: no address, no query, no agent.
func (s *server) trace(c *gin.Context) {
	method, route := methodLabel(methodAsked(c.Request)), routeLabel(c)
	ctx := propagation.TraceContext{}.Extract(c.Request.Context(), traceparent(c.Request.Header))
	ctx, begun := s.tracer.Start(ctx, method+" "+route, trace.WithSpanKind(trace.SpanKindServer), trace.WithAttributes(
		attribute.String("http.request.method", method), attribute.String("http.route", route)))
	defer begun.End()
	c.Request = c.Request.WithContext(ctx)
	c.Next()
	status := answeredStatus(c)
	begun.SetAttributes(attribute.Int("http.response.status_code", status))
	if status >= http.StatusInternalServerError {
		begun.SetAttributes(attribute.String("error.type", strconv.Itoa(status)))
		begun.SetStatus(codes.Error, "")
	}
}

// step begins a step of a request; the returned function ends it.
func step(c *gin.Context, name string) (end func()) {
	_, begun := span.Start(c.Request.Context(), name)
	return begun.End
}
