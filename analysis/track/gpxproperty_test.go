package track_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// TestReadGPXGivesBackWhatWasWritten writes random tracks in random dress and
// reads them.
func TestReadGPXGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		var want [][3]float64
		var breaks []int
		b.WriteString(rapid.SampledFrom([]string{head, `<?xml version="1.0"?>` + "\n" + `<gpx version="1.0">`, "\ufeff" + head}).Draw(t, "head"))
		space := rapid.SampledFrom([]string{"", "\n", "\r\n\t "}).Draw(t, "space")
		b.WriteString("<trk>" + space)
		for range rapid.IntRange(1, 4).Draw(t, "segments") {
			b.WriteString("<trkseg>" + space)
			points := rapid.IntRange(0, 30).Draw(t, "points")
			if points > 0 && len(want) > 0 {
				breaks = append(breaks, len(want))
			}
			for range points {
				p := [3]float64{rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon"), math.NaN()}
				fmt.Fprintf(&b, `<trkpt lat="%.10f" lon="%.10f">%s`, p[0], p[1], space)
				if rapid.Bool().Draw(t, "has elevation") {
					p[2] = math.Round(rapid.Float64Range(-400, 5000).Draw(t, "ele")*1000) / 1000
					fmt.Fprintf(&b, `<ele>%s%.3f%s</ele>`, space, p[2], space)
				}
				b.WriteString(rapid.SampledFrom([]string{"", "<time>x</time>", "<extensions><ele>1</ele></extensions>", "<!-- c -->"}).Draw(t, "rest") + "</trkpt>" + space)
				want = append(want, p)
			}
			b.WriteString("</trkseg>" + space)
		}
		b.WriteString("</trk></gpx>")
		got, err := track.ReadGPX(context.Background(), []byte(b.String()), track.Options{})
		if len(want) < 2 {
			var e *track.Error
			if !errors.As(err, &e) || e.Code != track.CodeNoLine {
				t.Fatalf("got %v for %d points", err, len(want))
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Points) != len(want) || !slices.Equal(got.Breaks, breaks) {
			t.Fatalf("%d points, breaks %v; want %d, %v", len(got.Points), got.Breaks, len(want), breaks)
		}
		for i, w := range want {
			lat, lon := got.Points[i].Pos.Degrees()
			ele := got.Points[i].Elevation
			// Near a pole a degree of longitude is short, and only the place comes back.
			offLon := math.Remainder(lon-w[1], 360) * math.Cos(w[0]*math.Pi/180)
			if math.Abs(lat-w[0]) > 1e-9 || math.Abs(offLon) > 1e-9 || ele != w[2] && !(math.IsNaN(ele) && math.IsNaN(w[2])) {
				t.Fatalf("point %d: %v %v %v, want %v", i, lat, lon, ele, w)
			}
		}
	})
}

// FuzzReadGPX holds whatever comes out to what every reader of a track counts on.
func FuzzReadGPX(f *testing.F) {
	names, err := filepath.Glob(filepath.Join(recorded, "*.gpx"))
	if err != nil || len(names) == 0 {
		f.Fatal("no recorded files", err)
	}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		// Short seeds are mutated sooner in a place that matters.
		f.Add(data[:min(len(data), 4000)], 0)
	}
	f.Add([]byte(severalLines), 0)
	f.Add([]byte(severalLines), 3)
	f.Add([]byte(file(twoPoints)), 1)
	f.Add([]byte(`<?xml version="1.0" encoding="ISO-8859-1"?>`+file(twoPoints+"\xe9")), 0)
	f.Add([]byte("\xff\xfe<\x00g\x00p\x00x\x00>\x00"), 0)
	f.Add([]byte("<!DOCTYPE gpx>"+head+`<wpt lat="1" lon="1"><name>&amp;</name></wpt></gpx>`), 0)
	limits := track.Limits{Points: 2000, Marks: 100, NameRunes: 50}
	f.Fuzz(func(t *testing.T, data []byte, n int) {
		got, err := track.ReadGPX(context.Background(), data, track.Options{Track: n, Limits: limits})
		if err != nil {
			checkError(t, err, data)
			return
		}
		checkTrack(t, got, limits)
	})
}

// misformatted finds what fmt writes for a verb without its value or the other way
// round; a file may well hold "%!" in the name that is cited.
var misformatted = regexp.MustCompile(`%![a-zA-Z]?\(`)

// fuzzReader demands of a reader that whatever it is given is refused with a place or
// read into a sound track within its limits.
func fuzzReader(f *testing.F, read func(context.Context, []byte, track.Options) (*track.Track, error)) {
	limits := track.Limits{Points: 2000, Marks: 100, NameRunes: 50}
	f.Fuzz(func(t *testing.T, data []byte, n int) {
		got, err := read(context.Background(), data, track.Options{Track: n, Limits: limits})
		if err != nil {
			checkError(t, err, data)
			return
		}
		checkTrack(t, got, limits)
	})
}

func checkError(t *testing.T, err error, data []byte) {
	t.Helper()
	e := &track.Error{}
	ok := errors.As(err, &e)
	if !ok || e.Code == "" || len(e.Detail) < 20 || !utf8.ValidString(e.Detail) || misformatted.MatchString(e.Detail) {
		t.Fatalf("%T %v", err, err)
	}
	if e.Line < 0 || e.Line > 1+len(data) || e.Point < 0 || (e.Code == track.CodeTooMany) != (e.Limit > 0 && e.Actual > e.Limit) {
		t.Fatalf("%+v", e)
	}
}

func checkTrack(t *testing.T, got *track.Track, limits track.Limits) {
	t.Helper()
	if len(got.Points) < 2 || len(got.Points) > limits.Points || len(got.Marks) > limits.Marks {
		t.Fatalf("%d points, %d marks", len(got.Points), len(got.Marks))
	}
	if got.DistanceM != nil && (len(got.DistanceM) != len(got.Points) || !slices.IsSorted(got.DistanceM) || math.IsNaN(got.DistanceM[0])) {
		t.Fatalf("distances %v of %d points", got.DistanceM, len(got.Points))
	}
	for i, p := range got.Points {
		if got.DistanceM != nil {
			if p.Pos != (geodesy.Vec{}) || math.Abs(p.Elevation) > 9000 {
				t.Fatalf("point %d: %+v", i, p)
			}
			continue
		}
		lat, lon := p.Pos.Degrees()
		if !(math.Abs(lat) <= 90 && math.Abs(lon) <= 180) || math.Abs(p.Pos.Norm()-6.367e6) > 12e3 || math.Abs(p.Elevation) > 9000 {
			t.Fatalf("point %d: %+v", i, p)
		}
	}
	if len(got.Breaks) > 0 && (got.Breaks[0] < 1 || got.Breaks[len(got.Breaks)-1] >= len(got.Points)) || !slices.IsSorted(got.Breaks) ||
		len(slices.Compact(slices.Clone(got.Breaks))) != len(got.Breaks) {
		t.Fatalf("breaks %v of %d points", got.Breaks, len(got.Points))
	}
	for _, m := range got.Marks {
		if m.Name == "" || utf8.RuneCountInString(m.Name) > limits.NameRunes || !utf8.ValidString(m.Name) || m.Kind == "" {
			t.Fatalf("mark %+v", m)
		}
	}
	for _, w := range got.Warnings {
		if w.Code == "" || w.Point < -1 || w.Point >= len(got.Points) || !utf8.ValidString(w.Detail) {
			t.Fatalf("warning %+v", w)
		}
	}
}
