package track_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// drawnLine is a random line to be written and read back.
type drawnLine struct {
	points [][3]float64 // latitude, longitude, elevation or NaN
	breaks []int
	// segments are the points in pieces, some of them empty.
	segments [][][3]float64
}

func drawLine(t *rapid.T) drawnLine {
	var d drawnLine
	for range rapid.IntRange(1, 4).Draw(t, "segments") {
		var segment [][3]float64
		for range rapid.IntRange(0, 30).Draw(t, "points") {
			p := [3]float64{rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon"), math.NaN()}
			if rapid.Bool().Draw(t, "has elevation") {
				p[2] = math.Round(rapid.Float64Range(-400, 5000).Draw(t, "ele")*1000) / 1000
			}
			segment = append(segment, p)
		}
		if len(segment) > 0 && len(d.points) > 0 {
			d.breaks = append(d.breaks, len(d.points))
		}
		d.points = append(d.points, segment...)
		d.segments = append(d.segments, segment)
	}
	return d
}

// check holds what was read of a written line against it.
func (d drawnLine) check(t *rapid.T, got *track.Track, err error) {
	if len(d.points) < 2 {
		var e *track.Error
		if !errors.As(err, &e) || e.Code != track.CodeNoLine {
			t.Fatalf("got %v for %d points", err, len(d.points))
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Points) != len(d.points) || !slices.Equal(got.Breaks, d.breaks) {
		t.Fatalf("%d points, breaks %v; want %d, %v", len(got.Points), got.Breaks, len(d.points), d.breaks)
	}
	for i, w := range d.points {
		lat, lon := got.Points[i].Pos.Degrees()
		ele := got.Points[i].Elevation
		// Near a pole a degree of longitude is short, and only the place comes back.
		offLon := math.Remainder(lon-w[1], 360) * math.Cos(w[0]*math.Pi/180)
		if math.Abs(lat-w[0]) > 1e-9 || math.Abs(offLon) > 1e-9 || ele != w[2] && !(math.IsNaN(ele) && math.IsNaN(w[2])) {
			t.Fatalf("point %d: %v %v %v, want %v", i, lat, lon, ele, w)
		}
	}
}

// TestReadGeoJSONGivesBackWhatWasWritten writes random lines in random dress and
// reads them.
func TestReadGeoJSONGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := drawLine(t)
		space := rapid.SampledFrom([]string{"", "\n", "\r\n\t "}).Draw(t, "space")
		var segments []string
		for _, s := range line.segments {
			var positions []string
			for _, p := range s {
				third := fmt.Sprintf(",%s%.3f", space, p[2])
				if math.IsNaN(p[2]) {
					third = rapid.SampledFrom([]string{"", ",null"}).Draw(t, "none")
				}
				positions = append(positions, fmt.Sprintf("[%s%.10f,%.10f%s]%s", space, p[1], p[0], third, space))
			}
			segments = append(segments, "["+space+strings.Join(positions, ",")+"]")
		}
		members := []string{`"type":` + space + `"MultiLineString"`, `"coordinates":[` + strings.Join(segments, space+",") + "]", `"x":{"type":1}`}
		in := "{" + strings.Join(rapid.Permutation(members).Draw(t, "order"), ",") + "}"
		members = []string{`"type":"Feature"`, `"geometry":` + in, `"properties":{"name":"A"}`}
		if rapid.Bool().Draw(t, "feature") {
			in = "{" + strings.Join(rapid.Permutation(members).Draw(t, "order"), space+",") + "}"
		}
		got, err := track.ReadGeoJSON(context.Background(), []byte(in), track.Options{})
		line.check(t, got, err)
	})
}

func FuzzReadGeoJSON(f *testing.F) {
	f.Add([]byte(features(point("Top", "[7,45,2000]"), feature(`{"name":"A","kind":"sprint"}`, lineString), lineString)), 0)
	f.Add([]byte(`{"coordinates":[[[7.1,45.1,null],[7.2,45.2,NaN,4]],[[7,46]]],"type":"MultiLineString"}`), 1)
	f.Add([]byte(`{"type":"MultiPolygon","coordinates":[[[[7,45],[8,45],[7,46],[7,45]]]]}`), 0)
	f.Add([]byte(`{"crs":{"type":"name","properties":{"name":"EPSG:4326"}},"type":"GeometryCollection","geometries":[`+lineString+`]}`), 0)
	f.Add([]byte("{\"type\":\"Feature\",\"properties\":{\"name\":\"\\u00e9\xe9\"},\"geometry\":"+lineString+"}x"), 0)
	f.Add([]byte("\xff\xfe{\x00\"\x00t\x00"), 0)
	fuzzReader(f, track.ReadGeoJSON)
}

// manyPositions is a feature with a line of many points, as programs write it.
func manyPositions(points int) []byte {
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"Loop"},"geometry":{"type":"LineString","coordinates":[`)
	for i := range points {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "[%.7f,%.7f,%.1f]", 7+float64(i%100)*1e-6, 45+float64(i)*1e-5, 300+float64(i%977)/10)
	}
	b.WriteString(`]}}]}`)
	return []byte(b.String())
}

// BenchmarkReadGeoJSON tells how long reading takes against the standard library
// unmarshalling the same file.
func BenchmarkReadGeoJSON(b *testing.B) {
	data := manyPositions(10_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var ours, plain time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := track.ReadGeoJSON(context.Background(), data, track.Options{}); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		b.StopTimer()
		start = time.Now()
		var v any
		if err := json.Unmarshal(data, &v); err != nil {
			b.Fatal(err)
		}
		plain += time.Since(start)
		b.StartTimer()
	}
	b.ReportMetric(ours.Seconds()/plain.Seconds(), "x-plain-parse")
}

// livesSmall reads very many points: what stands in memory at any time must be near
// what is handed back. perPoint is how many bytes a point may take.
func livesSmall(t *testing.T, read func(context.Context, []byte, track.Options) (*track.Track, error), perPoint int, write func(points int) []byte) {
	t.Helper()
	points := 100_000
	switch {
	case testing.Short():
		t.Skip("long")
	case os.Getenv("PARCOURS_FULL") != "":
		points = track.DefaultLimits().Points
	}
	data := write(points)
	debug.FreeOSMemory()
	before := heapInUse()
	start := time.Now()
	got, err := read(context.Background(), data, track.Options{})
	if err != nil || len(got.Points) != points {
		t.Fatal(err)
	}
	took := time.Since(start)
	grown := heapInUse() - before
	t.Logf("the heap grew by %d MB for %d points, %d MB of file, in %v", grown>>20, points, len(data)>>20, took)
	if most := int64(30<<20 + perPoint*points); grown > most {
		t.Errorf("the heap grew by %d MB, at most %d expected", grown>>20, most>>20)
	}
}

func TestReadGeoJSONLivesSmall(t *testing.T) {
	livesSmall(t, track.ReadGeoJSON, 200, manyPositions)
}

// TestReadGeoJSONBreaksOffAnywhere reads every beginning of a file: each must be
// refused.
func TestReadGeoJSONBreaksOffAnywhere(t *testing.T) {
	in := features(point("Top", "[7,45,2000]"), feature(`{"name":"A\u00e9","kind":"sprint"}`, lineString))
	for n := 1; n < len(in); n++ {
		_, err := track.ReadGeoJSON(context.Background(), []byte(in[:n]), track.Options{})
		wantCode(t, err, track.CodeMalformed)
	}
}
