package api_test

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"parcours.example/service/engine"
)

// FuzzSeasonBodies sends any bytes as forms and archives of rounds: never a 5xx, never a line
// outside the contract; items count up, and an end or a problem is the last.
func FuzzSeasonBodies(f *testing.F) {
	course := namedFile{"dyke.csv", dyke}
	_, form := formOf(f, twoRiders, course, namedFile{"words", "just words"}, namedFile{"more.zip", string(zipOf(f, course))})
	for _, body := range [][]byte{
		form, zipOf(f, course, namedFile{name: "a/"}), tarOf(f, course, namedFile{"b@", "c"}), gzipped(tarOf(f, course)),
		readFile(f, "testdata/examples/season.zip"), readFile(f, "testdata/examples/season.tar.gz"),
	} {
		f.Add(body, "application/zip")
		f.Add(body, "multipart/form-data; boundary=rounds")
	}
	limits := quickLimits
	limits.SeasonBytes, limits.SeasonPredictions = 1<<20, 200
	h := newHarness(f, engine.Config{CacheBytes: 4 << 20, QueueWait: time.Minute, Limits: limits})
	f.Fuzz(func(t *testing.T, body []byte, contentType string) {
		if manyLaps(body) || manyPlans(body) {
			return
		}
		r := request(http.MethodPost, seasonsPath, contentType, body)
		noFault(t, h, r)
		w := h.serve(request(http.MethodPost, seasonsPath, contentType, body))
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "application/x-ndjson" {
			return
		}
		items, last := itemsOf(seasonLines(t, w))
		for i, item := range items {
			if item.Index != i || (item.Result == nil) == (item.Problem == nil) {
				t.Errorf("item %d: %+v", i, item)
			}
		}
		if (last.End == nil) == (last.Problem == nil) {
			text, _ := json.Marshal(last)
			t.Errorf("the last line is %s", text)
		}
		if last.End != nil && last.End.Answered+last.End.Failed != len(items) {
			t.Errorf("%d items, %d answered, %d failed", len(items), last.End.Answered, last.End.Failed)
		}
	})
}
