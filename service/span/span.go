// Package span marks the steps of a request in its trace. The trace travels in the request's
// context; where there is none, as with most requests of most services, a step costs a look into
// the context and nothing else.
package span

import (
	"context"

	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/trace"
	"go.opentelemetry.io/otel/trace/noop"
)

// scope names what the spans come from.
const scope = "parcours.example"

// Step is a step that has begun. What is noted of it is a word that the program chose, never
// what a caller sent: traces leave the service.
type Step struct{ span trace.Span }

// Start begins a step below the one that ctx stands in. The returned context stands in the new
// step.
func Start(ctx context.Context, name string) (context.Context, Step) {
	parent := trace.SpanFromContext(ctx)
	if !parent.IsRecording() {
		return ctx, Step{noop.Span{}}
	}
	within, begun := parent.TracerProvider().Tracer(scope).Start(ctx, name)
	return within, Step{begun}
}

// Within returns the step that ctx stands in.
func Within(ctx context.Context) Step { return Step{trace.SpanFromContext(ctx)} }

// Note adds what became of the step.
func (s Step) Note(key, value string) {
	if s.span.IsRecording() {
		s.span.SetAttributes(attribute.String("parcours."+key, value))
	}
}

// End ends the step.
func (s Step) End() { s.span.End() }
