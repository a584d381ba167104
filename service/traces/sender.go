package traces

import (
	"context"
	"fmt"
	"log/slog"
	"sync/atomic"

	"github.com/prometheus/client_golang/prometheus"
	sdk "go.opentelemetry.io/otel/sdk/trace"
)

// What becomes of spans.
const spanSent, spanFailed, spanDropped = "sent", "failed", "dropped"

// meter counts spans.
type meter struct{ spans *prometheus.CounterVec }

func newMeter(r prometheus.Registerer) (*meter, error) {
	m := &meter{prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "parcours_trace_spans_total", Help: "Spans by what became of them: sent, failed where the collector didn't take them, dropped where too many waited.",
	}, []string{"outcome"})}
	for _, outcome := range []string{spanSent, spanFailed, spanDropped} { // shown from the start
		m.spans.WithLabelValues(outcome)
	}
	if r == nil {
		return m, nil
	}
	if err := r.Register(m.spans); err != nil {
		return nil, fmt.Errorf("traces: metrics: %w", err)
	}
	return m, nil
}

// sender sends spans, counts them, and logs when the collector goes and comes back. It is called
// by one goroutine at a time.
type sender struct {
	to     sdk.SpanExporter
	meter  *meter
	logger *slog.Logger
	// waiting is the number of spans that aren't sent yet.
	waiting atomic.Int64
	// away is whether the collector didn't take the last ones.
	away bool
}

// ExportSpans implements sdk.SpanExporter. It never fails: the library's own way of telling
// failures is a log apart from the service's.
func (s *sender) ExportSpans(ctx context.Context, spans []sdk.ReadOnlySpan) error {
	defer s.waiting.Add(-int64(len(spans)))
	err := s.to.ExportSpans(ctx, spans)
	outcome := spanSent
	if err != nil {
		outcome = spanFailed
	}
	s.meter.spans.WithLabelValues(outcome).Add(float64(len(spans)))
	switch {
	case err != nil && !s.away:
		s.logger.Warn("the collector doesn't take traces: they are dropped until it does", slog.String("error", clip(err.Error())))
	case err == nil && s.away:
		s.logger.Info("the collector takes traces again")
	}
	s.away = err != nil
	return nil
}

// Shutdown implements sdk.SpanExporter.
func (s *sender) Shutdown(ctx context.Context) error { return s.to.Shutdown(ctx) }

// clip bounds what the collector says.
func clip(text string) string {
	const most = 300
	return text[:min(len(text), most)]
}

// bounded drops and counts the spans that end while too many wait.
type bounded struct {
	sdk.SpanProcessor
	sender *sender
}

// OnEnd implements sdk.SpanProcessor.
func (b *bounded) OnEnd(s sdk.ReadOnlySpan) {
	if b.sender.waiting.Add(1) > mostWaiting {
		b.sender.waiting.Add(-1)
		b.sender.meter.spans.WithLabelValues(spanDropped).Inc()
		return
	}
	b.SpanProcessor.OnEnd(s)
}
