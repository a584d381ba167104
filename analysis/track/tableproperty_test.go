package track_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// TestReadTableGivesBackWhatWasWritten writes random tables of distances in random dress
// and reads them.
func TestReadTableGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		separator := rapid.SampledFrom([]string{";", "\t", " | ", ",", "   "}).Draw(t, "separator")
		decimal := "."
		if separator != "," {
			decimal = rapid.SampledFrom([]string{".", ","}).Draw(t, "decimal")
		}
		end := rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(t, "end")
		quote := rapid.SampledFrom([]string{"", `"`}).Draw(t, "quote")
		unit := rapid.SampledFrom([]string{"km", "m", "ft"}).Draw(t, "unit")
		metres := map[string]float64{"km": 1000, "m": 1, "ft": 0.3048}[unit]
		swapped := rapid.Bool().Draw(t, "swapped")
		var b strings.Builder
		write := func(distance, elevation string) {
			if swapped {
				distance, elevation = elevation, distance
			}
			b.WriteString(quote + distance + quote + separator + quote + elevation + quote + end)
		}
		write("distance_"+unit, "elevation")
		var s, z []float64
		at := 0.0
		for range rapid.IntRange(2, 30).Draw(t, "rows") {
			at += float64(rapid.IntRange(1, 100_000).Draw(t, "step")) / 10_000
			// The text is what counts: 4 and 2 places after the point.
			text, ele := fmt.Sprintf("%.4f", at), "-"
			height := math.NaN()
			if rapid.Bool().Draw(t, "has elevation") {
				height = float64(rapid.IntRange(-40_000, 500_000).Draw(t, "ele")) / 100
				ele = fmt.Sprintf("%.2f", height)
			}
			s, z = append(s, at*metres), append(z, height)
			write(strings.Replace(text, ".", decimal, 1), strings.Replace(ele, ".", decimal, 1))
		}
		got, err := track.ReadTable(context.Background(), []byte(b.String()), track.Options{})
		if err != nil || len(got.Points) != len(s) {
			t.Fatalf("%v, %v of\n%s", got, err, b.String())
		}
		for i := range s {
			ele := got.Points[i].Elevation
			if math.Abs(got.DistanceM[i]-s[i]) > 1e-9*max(1, math.Abs(s[i])) || ele != z[i] && !(math.IsNaN(ele) && math.IsNaN(z[i])) {
				t.Fatalf("row %d: %v %v, want %v %v", i+1, got.DistanceM[i], ele, s[i], z[i])
			}
		}
	})
}

// TestReadTableGivesBackPositions does the same for tables of positions.
func TestReadTableGivesBackPositions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := drawLine(t)
		line.breaks = nil
		var b strings.Builder
		b.WriteString("lon;lat;ele\n")
		for _, p := range line.points {
			lat, lon := fmt.Sprintf("%.10f", p[0]), fmt.Sprintf("%.10f", p[1])
			if p[0] < 0 && rapid.Bool().Draw(t, "letter") {
				lat = lat[1:] + " S"
			}
			fmt.Fprintf(&b, "%s;%s;%g\n", lon, lat, p[2])
		}
		got, err := track.ReadTable(context.Background(), []byte(b.String()), track.Options{})
		line.check(t, got, err)
	})
}

func FuzzReadTable(f *testing.F) {
	for _, seed := range []string{
		"distance_m,elevation_m\n0,310.5\n1250,330\n",
		"Mill loop;;\n\nkm;Höhe (ft);Ort;Art\r\n0;1.000,5;Start;gate\r\n1,25;;\"a \"\"b\"\"\nc\";\r\n",
		"sep=|\nlat|lon|ele\n45.1 N|7.1 E|100\n45.2|7.2|\n||5\n",
		"# x y z\n7.1 45.1 100\n7.2 45.2 -\n",
		"dist\tslope %\n0\t5\n1'000.5\t-2e0\n",
		"0 310,5\n1250 330,0\n",
		"-37.1,144.1,100\r-37.2,144.2,200.5\r",
		"distance (km),ele\n0 km,5 m\n1 km,6 m\n1 km,7 m\n",
		"\xff\xfed\x00i\x00s\x00t\x00",
	} {
		f.Add([]byte(seed), 0)
	}
	fuzzReader(f, track.ReadTable)
}

// manyRows is a table of positions, as programs write it.
func manyRows(points int) []byte {
	var b strings.Builder
	b.WriteString("latitude,longitude,elevation_m\n")
	for i := range points {
		fmt.Fprintf(&b, "%.7f,%.7f,%.1f\n", 45+float64(i)*1e-5, 7+float64(i%100)*1e-6, 300+float64(i%977)/10)
	}
	return []byte(b.String())
}

func TestReadTableLivesSmall(t *testing.T) {
	livesSmall(t, track.ReadTable, 200, manyRows)
}

// TestReadTableBombs reads tables that a reader might take long over or make much of.
func TestReadTableBombs(t *testing.T) {
	const many = 100_000
	for name, c := range map[string]struct{ in, code string }{
		"cells":                    {strings.Repeat(",", 10*many), track.CodeTooMany},
		"cells in each line":       {strings.Repeat(strings.Repeat(",", 900)+"\n", 1000), track.CodeNotTheFormat},
		"quotation marks":          {"distance,ele\n0,1\n" + strings.Repeat("\"", many), track.CodeOutOfRange},
		"open cells":               {"distance,ele\n0,1\n" + strings.Repeat("\"a\n", many), track.CodeOutOfRange},
		"line ends":                {strings.Repeat("\r", 10*many), track.CodeNotTheFormat},
		"numbers that say nothing": {strings.Repeat("1 2\n", many), track.CodeNotTheFormat},
		"a long number":            {"distance,ele\n0,1\n" + strings.Repeat("1", 10*many) + ",1\n", track.CodeOutOfRange},
	} {
		_, err := track.ReadTable(context.Background(), []byte(c.in), track.Options{})
		e := &track.Error{}
		if !errors.As(err, &e) || e.Code != c.code {
			t.Errorf("%s: got %v, want %s", name, err, c.code)
		}
	}
}

// BenchmarkReadTable tells how long reading takes against encoding/csv alone on the same
// file.
func BenchmarkReadTable(b *testing.B) {
	data := manyRows(10_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var ours, plain time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := track.ReadTable(context.Background(), data, track.Options{}); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		b.StopTimer()
		start = time.Now()
		r := csv.NewReader(bytes.NewReader(data))
		r.ReuseRecord = true
		for {
			if _, err := r.Read(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
		plain += time.Since(start)
		b.StartTimer()
	}
	b.ReportMetric(ours.Seconds()/plain.Seconds(), "x-plain-csv")
}
