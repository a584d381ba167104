package main

import (
	"context"
	"fmt"
	"log/slog"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/service/traces"
)

// flushWait is the longest that the end of the program waits for the collector of traces.
const flushWait = 5 * time.Second

// openTraces starts to send traces; nil where none are wanted.
func openTraces(s settings, logger *slog.Logger, registry *prometheus.Registry) (*traces.Traces, error) {
	if s.traceEndpoint == "" {
		return nil, nil //nolint:nilnil // none are wanted
	}
	return traces.Open(traces.Config{
		Endpoint: s.traceEndpoint, Ratio: s.traceRatio, Version: thisBuild().Version, Logger: logger, Registerer: registry,
	})
}

// closeTraces sends what waits, within the grace.
func closeTraces(t *traces.Traces, grace time.Duration, logger *slog.Logger) {
	ctx, cancel := context.WithTimeout(context.Background(), min(grace, flushWait))
	defer cancel()
	if err := t.Close(ctx); err != nil {
		logger.Warn("stopping", slog.Any("error", err))
	}
}

// traceEndpoint reads a collector's URL; the fault doesn't repeat it.
func (r *reader) traceEndpoint(flag, text string) string {
	if text == "" {
		return ""
	}
	if err := traces.Check(text); err != nil {
		r.faults = append(r.faults, fmt.Errorf("--%s (%s): %w", flag, environmentTwin(flag), err))
	}
	return text
}

func (r *reader) ratio(flag, text string) float64 {
	ratio, err := strconv.ParseFloat(text, 64)
	if err != nil || !(ratio >= 0 && ratio <= 1) {
		r.fault(flag, text, "a number from 0 to 1")
	}
	return ratio
}
