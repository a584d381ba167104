package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// occupy keeps the only worker of each lane of a harness busy until the returned function is
// called: the heavy one's with a matrix of predictions that takes seconds, the light one's with
// callers who come again and again, so that there are always some who came before.
func occupy(t testing.TB, h *harness) (free func()) {
	t.Helper()
	const callers = 4
	distance := make([]string, 20_000)
	for i := range distance {
		distance[i] = fmt.Sprint(10 * i)
	}
	course := `{"profile": {"distance_m": [` + strings.Join(distance, ",") + `]}, "options": {"smoothing": "none"}}`
	var asked atomic.Int64 // so that no two ask the same, which would be answered once for all
	ride := func(course string, riders int) *http.Request {
		rider := fmt.Sprintf(`{"mass_kg": %.4f},`, 70+1e-4*float64(asked.Add(1)%100_000))
		list := strings.TrimSuffix(strings.Repeat(rider, riders), ",")
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
	held := `{"course_id": "` + first.CourseID + `"}`
	ctx, cancel := context.WithCancel(context.Background())
	var all sync.WaitGroup
	all.Go(func() { h.serve(ride(held, 200).WithContext(ctx)) })
	for range callers {
		all.Go(func() {
			for ctx.Err() == nil {
				h.serve(ride(held, 9).WithContext(ctx)) // 45 rides of 20,000 pieces are light
			}
		})
	}
	until(t, h, "\nparcours_inflight{lane=\"heavy\"} 1\n", "\nparcours_inflight{lane=\"light\"} 1\n", fmt.Sprintf("\nparcours_waiting{lane=\"light\"} %d\n", callers-1))
	return func() { cancel(); all.Wait() }
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
