package track_test

import (
	"bytes"
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/tkrajina/gpxgo/gpx"

	"parcours.example/analysis/track"
)

// ordinaryFile is a recording as devices write them: elevation, time and an
// extension at every point.
func ordinaryFile(points int) []byte {
	var b bytes.Buffer
	b.WriteString(head + "\n <trk>\n  <name>Loop</name>\n  <trkseg>\n")
	for i := range points {
		fmt.Fprintf(&b, "   <trkpt lat=\"%.7f\" lon=\"%.7f\">\n    <ele>%.1f</ele>\n    <time>2024-05-04T10:%02d:%02dZ</time>\n"+
			"    <extensions>\n     <power>%d</power>\n    </extensions>\n   </trkpt>\n",
			45+float64(i)*1e-5, 7+float64(i%100)*1e-6, 300+float64(i%977)/10, i/60%60, i%60, 150+i%100)
	}
	b.WriteString("  </trkseg>\n </trk>\n</gpx>\n")
	return b.Bytes()
}

// BenchmarkReadGPX tells how long reading takes against the parser alone, without
// filter and conversion, on the same file.
func BenchmarkReadGPX(b *testing.B) {
	data := ordinaryFile(10_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var ours, plain time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := track.ReadGPX(context.Background(), data, track.Options{}); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		b.StopTimer()
		start = time.Now()
		if _, err := gpx.ParseBytes(data); err != nil {
			b.Fatal(err)
		}
		plain += time.Since(start)
		b.StartTimer()
	}
	b.ReportMetric(ours.Seconds()/plain.Seconds(), "x-plain-parse")
}
