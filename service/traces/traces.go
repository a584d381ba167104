// Package traces sends the traces of requests to a collector by OTLP over HTTP. Nobody ever waits
// for it: what the collector doesn't take, or too late, is dropped and counted.
package traces

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	"go.opentelemetry.io/otel/sdk/resource"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/trace"
)

// Config says where traces go and how many of them.
type Config struct {
	// Endpoint is the collector's URL; without a path it is completed to /v1/traces. See Check.
	Endpoint string
	// Ratio is the share of requests that are traced, from 0 to 1.
	Ratio float64
	// Version is the program's.
	Version string
	// Logger takes a record when the collector stops taking traces and when it does so again;
	// required.
	Logger *slog.Logger
	// Registerer takes the metrics; nil for none.
	Registerer prometheus.Registerer
}

// Bounds of what waits and of how long.
const (
	// mostWaiting spans wait to be sent, mostSent at a time; what comes beyond is dropped.
	mostWaiting, mostSent = 2048, 512
	// sendEvery is how long a span waits at most until it is sent, sendWait how long the collector
	// may take to accept a batch.
	sendEvery, sendWait = 2 * time.Second, 5 * time.Second
)

// Traces makes and sends traces; nil makes none. It is safe for concurrent use; make it with Open
// and end it with Close.
type Traces struct{ provider *sdk.TracerProvider }

// Open starts to send traces. It doesn't wait for the collector, and fails where the configuration
// is wrong.
func Open(cfg Config) (*Traces, error) {
	to, err := endpointOf(cfg.Endpoint)
	if err != nil {
		return nil, err
	}
	if !(cfg.Ratio >= 0 && cfg.Ratio <= 1) {
		return nil, errors.New("traces: the ratio is not from 0 to 1")
	}
	exporter, err := otlptracehttp.New(context.Background(),
		otlptracehttp.WithEndpointURL(to), otlptracehttp.WithTimeout(sendWait),
		otlptracehttp.WithRetry(otlptracehttp.RetryConfig{Enabled: false})) // a batch that is tried again holds back those behind it
	if err != nil {
		return nil, fmt.Errorf("traces: %w", err)
	}
	m, err := newMeter(cfg.Registerer)
	if err != nil {
		return nil, err
	}
	sending := &sender{to: exporter, meter: m, logger: cfg.Logger}
	share := sdk.TraceIDRatioBased(cfg.Ratio)
	return &Traces{sdk.NewTracerProvider(
		// A caller can take its request out of those that are traced, not into them beyond the ratio.
		sdk.WithSampler(sdk.ParentBased(share, sdk.WithRemoteParentSampled(share))),
		sdk.WithResource(described(cfg.Version)),
		sdk.WithSpanProcessor(&bounded{
			SpanProcessor: sdk.NewBatchSpanProcessor(sending, sdk.WithMaxQueueSize(mostWaiting), sdk.WithMaxExportBatchSize(mostSent),
				sdk.WithBatchTimeout(sendEvery), sdk.WithExportTimeout(sendWait)),
			sender: sending,
		}),
	)}, nil
}

// described says who sends the traces.
func described(version string) *resource.Resource {
	attributes := []attribute.KeyValue{attribute.String("service.name", "parcours"), attribute.String("service.version", version)}
	if host, err := os.Hostname(); err == nil {
		attributes = append(attributes, attribute.String("service.instance.id", host))
	}
	return resource.NewSchemaless(attributes...)
}

// Tracer makes traces; it is nil where there are none.
func (t *Traces) Tracer() trace.Tracer {
	if t == nil {
		return nil
	}
	return t.provider.Tracer("parcours.example")
}

// Close sends what waits, as far as the context lets it, and ends. Spans that end later are
// dropped.
func (t *Traces) Close(ctx context.Context) error {
	if t == nil {
		return nil
	}
	if err := t.provider.Shutdown(ctx); err != nil {
		return fmt.Errorf("traces: some were left unsent: %w", err)
	}
	return nil
}

// Check reports what is wrong with a collector's URL, without repeating it.
func Check(endpoint string) error {
	_, err := endpointOf(endpoint)
	return err
}

// endpointOf completes a collector's URL.
func endpointOf(text string) (string, error) {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "" {
		return "", errors.New("it is no URL like http://collector:4318")
	}
	if u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return "", errors.New("it is a URL without user and query; OTEL_EXPORTER_OTLP_HEADERS takes what proves who sends")
	}
	if u.Path == "" || u.Path == "/" {
		u.Path = "/v1/traces"
	}
	return u.String(), nil
}
