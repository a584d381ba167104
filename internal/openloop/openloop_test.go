package openloop

import (
	"context"
	"math"
	"testing"
	"time"
)

// A server that stalls makes those wait who come meanwhile: they are sent, and their waits show.
func TestStallsShow(t *testing.T) {
	start := time.Now()
	const stall = 300 * time.Millisecond
	r := Run(t.Context(), Load{PerSecond: 200, For: time.Second, Seed: 1, Send: func(context.Context, int) string {
		if since := time.Since(start); since < stall {
			time.Sleep(stall - since)
		}
		return "200"
	}})
	n := len(r.Outcomes)
	if math.Abs(float64(n)-200) > 60 {
		t.Errorf("%d requests in a second at 200 a second", n)
	}
	if stalled := len(r.Between(0, stall).Outcomes); stalled < 30 || r.Between(0, stall).Quantile("200", 0.5) < 100*time.Millisecond {
		t.Errorf("%d requests came while the server stalled, half of them answered within %v", stalled, r.Between(0, stall).Quantile("200", 0.5))
	}
	if r.Counts()["200"] != n || r.Quantile("none", 0.5) != 0 {
		t.Errorf("%v", r.Counts())
	}
}

func TestEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	r := Run(ctx, Load{PerSecond: 100, For: time.Hour, Send: func(context.Context, int) string { return "" }})
	if r.Took > 10*time.Second {
		t.Errorf("went on for %v", r.Took)
	}
}
