package analysis_test

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/tkrajina/gpxgo/gpx"

	"parcours.example/analysis/course"
	"parcours.example/analysis/track"
)

// BenchmarkAnalysis100km measures what comes after the parser, in units of what the
// parser alone takes for the same file, both in one run.
func BenchmarkAnalysis100km(b *testing.B) {
	for _, file := range []string{"ludwether-mountain-stage.gpx", "ludwether-mountain-stage-recorded.gpx"} {
		b.Run(file, func(b *testing.B) {
			content, err := os.ReadFile("../testdata/season/" + file)
			if err != nil {
				b.Fatal(err)
			}
			read, err := track.ReadGPX(context.Background(), content, track.Options{Limits: track.DefaultLimits()})
			if err != nil {
				b.Fatal(err)
			}
			var parsing, analysing time.Duration
			for b.Loop() {
				start := time.Now()
				if _, err := gpx.ParseBytes(content); err != nil {
					b.Fatal(err)
				}
				parsed := time.Now()
				c, err := course.FromTrack(context.Background(), read, course.Defaults())
				if err != nil {
					b.Fatal(err)
				}
				dissect(c)
				parsing += parsed.Sub(start)
				analysing += time.Since(parsed)
			}
			b.ReportMetric(float64(len(read.Points)), "points")
			b.ReportMetric(float64(analysing)/float64(parsing), "x-plain-parse")
		})
	}
}
