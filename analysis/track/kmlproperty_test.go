package track_test

import (
	"bytes"
	"context"
	"encoding/xml"
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

// elevations writes the elevations of a track.
func elevations(t *track.Track) string {
	var b strings.Builder
	for i, p := range t.Points {
		if i > 0 {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%g", p.Elevation)
	}
	return b.String()
}

// TestReadKMLGivesBackWhatWasWritten writes random lines in random dress and reads
// them.
func TestReadKMLGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := drawLine(t)
		space := rapid.SampledFrom([]string{" ", "\n", "\r\n\t ", "<!-- c -->\n"}).Draw(t, "space")
		asTrack := rapid.Bool().Draw(t, "as tracks")
		var b strings.Builder
		for _, s := range line.segments {
			b.WriteString("<LineString><altitudeMode>absolute</altitudeMode><coordinates>" + space)
			for _, p := range s {
				fmt.Fprintf(&b, "%.10f,%.10f", p[1], p[0])
				if !math.IsNaN(p[2]) {
					fmt.Fprintf(&b, ",%.3f", p[2])
				}
				b.WriteString(space)
			}
			b.WriteString("</coordinates></LineString>")
		}
		in := "<MultiGeometry>" + b.String() + "</MultiGeometry>"
		if asTrack {
			b.Reset()
			for _, s := range line.segments {
				b.WriteString("<gx:Track><altitudeMode>absolute</altitudeMode>")
				for _, p := range s {
					third := ""
					if !math.IsNaN(p[2]) {
						third = fmt.Sprintf("%.3f", p[2])
					}
					fmt.Fprintf(&b, "<gx:coord>%.10f %.10f %s</gx:coord>", p[1], p[0], third)
				}
				b.WriteString("</gx:Track>")
			}
			in = "<gx:MultiTrack>" + b.String() + "</gx:MultiTrack>"
		}
		got, err := track.ReadKML(context.Background(), []byte(kmlFile(placemark("A", in))), track.Options{})
		line.check(t, got, err)
	})
}

func FuzzReadKML(f *testing.F) {
	f.Add([]byte(kmlFile(placemark("Top", "<Point><coordinates>7,45,0</coordinates></Point>"), placemark("A", kmlLine))), 0)
	f.Add([]byte(kmlFile(placemark("A", "<MultiGeometry>"+kmlLine+kmlLine+"</MultiGeometry>"))), 1)
	f.Add([]byte(coordinates("7.1, 45.1, 0 7.2,\n45.2 ,0 7,46")), 0)
	f.Add([]byte(kmlFile(placemark("A", "<gx:MultiTrack><gx:Track><gx:coord>7 45 3</gx:coord><gx:coord/><gx:coord>7 46</gx:coord></gx:Track></gx:MultiTrack>"))), 0)
	f.Add([]byte(kmlFile("<NetworkLink/><Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>7,45 8,45 7,45</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>")), 0)
	f.Add([]byte(`<?xml version="1.0" encoding="ISO-8859-1"?>`+kmlFile(placemark("\xe9", kmlLine))), 0)
	f.Add([]byte(zipped(f, "doc.kml", kmlFile(placemark("A", kmlLine)))), 0)
	fuzzReader(f, track.ReadKML)
}

// manyTuples is a line of many points, as programs write it.
func manyTuples(points int) []byte {
	var b strings.Builder
	b.WriteString(kmlHead + "\n<Document>\n<Placemark>\n<LineString>\n<altitudeMode>absolute</altitudeMode>\n<coordinates>\n")
	for i := range points {
		fmt.Fprintf(&b, "%.7f,%.7f,%.1f\n", 7+float64(i%100)*1e-6, 45+float64(i)*1e-5, 300+float64(i%977)/10)
	}
	b.WriteString("</coordinates></LineString></Placemark></Document></kml>")
	return []byte(b.String())
}

func TestReadKMLLivesSmall(t *testing.T) {
	livesSmall(t, track.ReadKML, 400, manyTuples)
}

// TestReadKMLBreaksOffAnywhere reads every beginning of a file: each must be refused.
func TestReadKMLBreaksOffAnywhere(t *testing.T) {
	in := kmlFile(placemark("Top", "<Point><coordinates>7,45,0</coordinates></Point>"), placemark("A", kmlLine))
	for n := 1; n < len(in); n++ {
		_, err := track.ReadKML(context.Background(), []byte(in[:n]), track.Options{})
		var e *track.Error
		if !errors.As(err, &e) || e.Code != track.CodeMalformed && e.Code != track.CodeNotTheFormat {
			t.Fatalf("%d bytes: %v", n, err)
		}
	}
	archive := zipped(t, "doc.kml", in)
	for n := 1; n < len(archive); n++ {
		_, err := track.ReadKML(context.Background(), []byte(archive[:n]), track.Options{})
		var e *track.Error
		if !errors.As(err, &e) || e.Code != track.CodeMalformed && e.Code != track.CodeNotTheFormat {
			t.Fatalf("zipped, %d bytes: %v", n, err)
		}
	}
}

// TestReadKMLManyPieces reads text that comments cut into very many pieces.
func TestReadKMLManyPieces(t *testing.T) {
	_, err := track.ReadKML(context.Background(), []byte(coordinates(strings.Repeat("1<!---->", 100_000))), track.Options{})
	wantCode(t, err, track.CodeOutOfRange)
}

// BenchmarkReadKML tells how long reading takes against the standard library's bare
// tokens of the same file.
func BenchmarkReadKML(b *testing.B) {
	data := manyTuples(10_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var ours, plain time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := track.ReadKML(context.Background(), data, track.Options{}); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		b.StopTimer()
		start = time.Now()
		dec := xml.NewDecoder(bytes.NewReader(data))
		for {
			if _, err := dec.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
		plain += time.Since(start)
		b.StartTimer()
	}
	b.ReportMetric(ours.Seconds()/plain.Seconds(), "x-plain-tokens")
}
