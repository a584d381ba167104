package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// occupy keeps the only worker of a harness busy until the returned function is
// called: with a matrix of predictions that takes seconds.
func occupy(t testing.TB, h *harness) (free func()) {
	t.Helper()
	distance := make([]string, 20_000)
	for i := range distance {
		distance[i] = fmt.Sprint(10 * i)
	}
	course := `{"profile": {"distance_m": [` + strings.Join(distance, ",") + `]}, "options": {"smoothing": "none"}}`
	ride := func(course string, riders int) *http.Request {
		list := strings.TrimSuffix(strings.Repeat(`{"mass_kg": 70},`, riders), ",")
		setups := strings.TrimSuffix(strings.Repeat(`{},`, 5), ",")
		return request(http.MethodPost, "/v1/predictions", "application/json",
			[]byte(`{"course": `+course+`, "riders": [`+list+`], "setups": [`+setups+`], "effort": {"kind": "power", "power_w": 200}}`))
	}
	var first struct {
		CourseID string `json:"course_id"`
	}
	if w := h.serve(ride(course, 1)); w.Code != http.StatusOK || json.Unmarshal(w.Body.Bytes(), &first) != nil {
		t.Fatalf("status %d: %.300s", w.Code, w.Body)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		h.serve(ride(`{"course_id": "`+first.CourseID+`"}`, 200).WithContext(ctx))
	}()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for range tick.C {
		if figures := h.serve(request(http.MethodGet, "/metrics", "", nil)).Body.String(); strings.Contains(figures, "\nparcours_inflight 1\n") {
			break
		}
		select {
		case <-done:
			t.Fatal("the long prediction ended at once")
		default:
		}
	}
	return func() { cancel(); <-done }
}

// decoded undoes a reply's coding.
func decoded(t testing.TB, coding string, body []byte) []byte {
	t.Helper()
	var r io.Reader
	var err error
	switch coding {
	case "gzip":
		r, err = gzip.NewReader(bytes.NewReader(body))
	case "zstd":
		var d *zstd.Decoder
		if d, err = zstd.NewReader(bytes.NewReader(body), zstd.WithDecoderConcurrency(1)); err == nil {
			defer d.Close()
		}
		r = d
	default:
		t.Fatalf("unknown coding %q", coding)
	}
	if err != nil {
		t.Fatal(err)
	}
	out, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return out
}
