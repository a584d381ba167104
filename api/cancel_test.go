package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/api"
	"parcours.example/internal/figures"
	"parcours.example/internal/seeded"
	"parcours.example/service/engine"
)

// leaving is a call whose callers leave; the nth request differs from all others.
type leaving struct {
	name    string
	request func(t *testing.T, nth int) *http.Request
}

// leavings are all calls that take long, those that read a file with so many
// points, the others on so many laps.
func leavings(t *testing.T, points, laps int) []leaving {
	t.Helper()
	of := func(operation, target string, change func(body object)) func(*testing.T, int) *http.Request {
		return func(t *testing.T, nth int) *http.Request {
			return post(t, target, longer(t, operation, laps, nth, change))
		}
	}
	as := func(mediaType string, request func(*testing.T, int) *http.Request) func(*testing.T, int) *http.Request {
		return func(t *testing.T, nth int) *http.Request {
			r := request(t, nth)
			r.Header.Set("Accept", mediaType)
			return r
		}
	}
	nothing := func(object) {}
	manyRuns := func(body object) { body["rules"].(map[string]any)["runs"] = 5 * laps }
	file, lines, table := zipped(t, pointsOf(points)), geojsonOf(points), tableOf(points)
	read := func(content []byte) func(*testing.T, int) *http.Request {
		return func(_ *testing.T, nth int) *http.Request {
			return request(http.MethodPost, fmt.Sprintf("/v1/courses?name=%d", nth), "", content)
		}
	}
	return []leaving{
		{"course", func(t *testing.T, nth int) *http.Request {
			r := read(file)(t, nth) // a million points are more than a body may have unpacked
			r.Header.Set("Content-Encoding", "gzip")
			return r
		}},
		{"course of GeoJSON", read(lines)},
		{"course of a table", read(table)},
		{"plan", of("plan", "/v1/plans", nothing)},
		{"scenario", of("runScenario", "/v1/scenarios", manyRuns)},
		{"stream", as("application/x-ndjson", of("runScenario", "/v1/scenarios", manyRuns))},
		{"comparison", of("compare", "/v1/comparisons", nothing)},
		{"aids", of("placeAids", "/v1/aids", nothing)},
		{"launches", of("launch", "/v1/launches", nothing)},
		{"brief", of("brief", "/v1/briefs", nothing)},
		{"predictions", of("predict", "/v1/predictions", manyRiders(20))},
		{"season", func(t *testing.T, nth int) *http.Request {
			body := longer(t, "predict", laps, nth, manyRiders(4))
			var rounds []any
			for n := range 3 {
				rounds = append(rounds, object{"name": fmt.Sprint(n), "course": body["course"]})
			}
			return post(t, seasonsPath, object{"rounds": rounds, "riders": body["riders"], "effort": body["effort"]})
		}},
		{"picture", as("image/png", of("predict", "/v1/predictions", manyRiders(2)))},
	}
}

// longer is the request that has about every field, on a course of laps of 3 km.
func longer(t *testing.T, operation string, laps, nth int, change func(object)) object {
	t.Helper()
	body := object{}
	if err := json.Unmarshal([]byte(everything[operation]), &body); err != nil {
		t.Fatal(err)
	}
	for _, narrows := range []string{"start_m", "end_m", "surfaces", "given_effort", "bounds", "end_reserve_j"} {
		delete(body, narrows)
	}
	var distances, elevations []float64
	for i := range 61 {
		s := 50 * float64(i)
		distances, elevations = append(distances, s), append(elevations, 200-50*math.Cos(2*math.Pi*s/3000)+2*math.Sin(2*math.Pi*s/500))
	}
	body["course"] = object{
		"profile": object{"distance_m": distances, "elevation_m": elevations},
		"options": object{"laps": laps, "marks": []any{object{"name": "Mill", "kind": "sprint", "at_m": 2000.0}}},
	}
	if effort, ok := body["effort"].(map[string]any); ok && effort["kind"] != "power" {
		body["effort"] = object{"kind": "power", "power_w": 190.0}
	}
	for _, rider := range body["riders"].([]any) {
		delete(rider.(map[string]any), "effort")
		delete(rider.(map[string]any), "orders") // they name places without a lap
	}
	body["riders"].([]any)[0].(map[string]any)["mass_kg"] = 60 + float64(nth)/100
	change(body)
	return body
}

func manyRiders(n int) func(object) {
	return func(body object) {
		first := body["riders"].([]any)[0].(map[string]any)
		var riders []any
		for i := range n {
			riders = append(riders, with(first, object{"mass_kg": first["mass_kg"].(float64) + float64(i)}))
		}
		body["riders"], body["uncertainties"] = riders, object{}
	}
}

// windingRoad calls point with the places of a road that winds and rolls.
func windingRoad(points int, point func(lat, lon, ele float64)) {
	for i := range points {
		s := float64(i)
		point(46+s*2e-6+0.02*math.Sin(s/2000), 7+0.004*math.Sin(s/170), 300+200*math.Sin(s/3000)+10*math.Sin(s/211))
	}
}

func pointsOf(points int) []byte {
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>`)
	windingRoad(points, func(lat, lon, ele float64) {
		fmt.Fprintf(&b, `<trkpt lat="%.6f" lon="%.6f"><ele>%.1f</ele></trkpt>`, lat, lon, ele)
	})
	b.WriteString("</trkseg></trk></gpx>")
	return b.Bytes()
}

func geojsonOf(points int) []byte {
	var b bytes.Buffer
	b.WriteString(`{"type":"LineString","coordinates":[[6.99,45.99,300]`)
	windingRoad(points-1, func(lat, lon, ele float64) { fmt.Fprintf(&b, ",[%.6f,%.6f,%.1f]", lon, lat, ele) })
	b.WriteString("]}")
	return b.Bytes()
}

func tableOf(points int) []byte {
	var b bytes.Buffer
	b.WriteString("latitude,longitude,elevation_m\n")
	windingRoad(points, func(lat, lon, ele float64) { fmt.Fprintf(&b, "%.6f,%.6f,%.1f\n", lat, lon, ele) })
	return b.Bytes()
}

// T15: whoever leaves, or runs out of time, leaves no work behind.
func TestT15WorkThatNobodyWaitsForEnds(t *testing.T) {
	leavesNothing(t)
	points, laps, cuts, calls := 30_000, 2, 4, 0
	switch {
	case os.Getenv("PARCOURS_FULL") == "1":
		points, laps, cuts = 1_000_000, 10, 20
	case testing.Short(): // as the race detector has it
		points, cuts = 10_000, 2
	}
	rng := rand.New(rand.NewPCG(seeded.First(t), 15))
	var all []time.Duration
	for _, l := range leavings(t, points, laps) {
		t.Run(l.name, func(t *testing.T) {
			calls++
			registry := prometheus.NewRegistry()
			h := newHarnessOf(t, engine.Config{Workers: 2}, api.Config{Registry: registry})
			start := time.Now()
			if w := h.serve(l.request(t, 0)); w.Code != http.StatusOK {
				t.Fatalf("status %d: %.1000s", w.Code, w.Body)
			}
			whole := time.Since(start)
			var took []time.Duration
			for nth := 1; nth <= cuts; nth++ {
				after := time.Duration(rng.Float64() * float64(whole))
				if d, left := abandoned(t, h, registry, l.request(t, nth), after, nth%2 == 0); left {
					took = append(took, d)
				}
			}
			for _, status := range []string{"500", "503"} {
				if n := sum(t, registry, "parcours_http_requests_total", "status", status); n > 0 {
					t.Errorf("%v answered with %s", n, status)
				}
			}
			t.Logf("%v whole; work ended after %v", whole.Round(time.Millisecond), took)
			all = append(all, took...)
		})
	}
	if len(all) == 0 {
		t.Fatal("nobody left in time")
	}
	if t.Failed() {
		return // what was measured says nothing
	}
	slices.Sort(all)
	figures.Report(t, "T15", "%d callers of %d calls left or ran out of time, a course of %d points among them: workers and flights idle after %.1f ms (p50), %.1f ms (p99), %.1f ms at most; 0 goroutines left, all counted as 499",
		len(all), calls, points, inMs(all[len(all)/2]), inMs(all[len(all)*99/100]), inMs(all[len(all)-1]))
}

func inMs(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// abandoned sends a request whose caller leaves, or whose time is over, after a while. It
// returns how long after that nothing was under way any more; left is false where the answer
// came first.
func abandoned(t *testing.T, h *harness, registry *prometheus.Registry, r *http.Request, after time.Duration, deadline bool) (took time.Duration, left bool) {
	t.Helper()
	before := sum(t, registry, "parcours_http_requests_total", "status", "499")
	ctx, cancel := context.WithCancel(t.Context())
	if deadline {
		ctx, cancel = context.WithTimeout(t.Context(), after)
	}
	defer cancel()
	answered := make(chan int, 1)
	go func() {
		w := h.serve(r.WithContext(ctx))
		answered <- w.Body.Len()
	}()
	if !deadline {
		time.AfterFunc(after, cancel)
	}
	<-ctx.Done()
	start := time.Now()
	bytes := <-answered
	for sum(t, registry, "parcours_inflight", "", "")+sum(t, registry, "parcours_waiting", "", "")+sum(t, registry, "parcours_held_bytes", "", "") > 0 {
		if time.Since(start) > patience {
			t.Fatal("the work never ended")
		}
		time.Sleep(time.Millisecond / 4)
	}
	took = time.Since(start)
	left = sum(t, registry, "parcours_http_requests_total", "status", "499") > before
	if bytes == 0 && !left {
		t.Error("a caller who got nothing isn't counted as gone")
	}
	return took, left
}

// sum adds up the series of a metric whose label has a value; all of them without a label.
func sum(t *testing.T, registry *prometheus.Registry, metric, label, value string) float64 {
	t.Helper()
	families, err := registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	total := 0.0
	for _, f := range families {
		if f.GetName() != metric {
			continue
		}
		for _, m := range f.GetMetric() {
			for _, l := range m.GetLabel() {
				if label != "" && l.GetName() == label && l.GetValue() != value {
					goto next
				}
			}
			total += m.GetCounter().GetValue() + m.GetGauge().GetValue()
		next:
		}
	}
	return total
}
