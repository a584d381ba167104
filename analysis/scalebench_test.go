package analysis_test

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// placed puts points in the plane, in metres east and north, onto the ellipsoid.
func placed(n int, at func(i int) (east, north, up float64)) *track.Track {
	origin := geodesy.FromDegrees(46, 7)
	frame := geodesy.FrameAt(origin)
	t := &track.Track{Points: make([]track.Point, n)}
	for i := range t.Points {
		east, north, up := at(i)
		lat, lon := origin.Add(frame.East.Scale(east)).Add(frame.North.Scale(north)).Degrees()
		t.Points[i] = track.Point{Pos: geodesy.FromDegrees(lat, lon), Elevation: up}
	}
	return t
}

// kinds are lines of n points that are hard on one step of the analysis or another.
var kinds = map[string]func(n int) *track.Track{
	// A road that winds its way for 1,000 km, or as far as points a metre apart reach.
	"winding road": func(n int) *track.Track {
		return placed(n, func(i int) (east, north, up float64) {
			s := float64(i) * min(1e6/float64(n), 10)
			return 0.1 * s, 3000*math.Sin(s/2000) + 300*math.Sin(s/170), 300 + 200*math.Sin(s/3000) + 10*math.Sin(s/211)
		})
	},
	// A hundred laps of 10 km.
	"100 laps": func(n int) *track.Track {
		return placed(n, func(i int) (east, north, up float64) {
			turn := 200 * math.Pi * float64(i) / float64(n-1)
			sin, cos := math.Sincos(turn)
			r := 1500 + 300*math.Sin(5*turn)
			return r * cos, r * sin, 200 + 80*math.Sin(turn) + 5*math.Sin(17*turn)
		})
	},
	// To and fro in all directions within a kilometre.
	"crawl": func(n int) *track.Track {
		return placed(n, func(i int) (east, north, up float64) {
			t := float64(i) / 100 * min(1, 3e5/float64(n))
			return 500 * math.Sin(1.37*t), 500 * math.Sin(1.71*t+1), 100 + 5*math.Sin(t/7)
		})
	},
	// Turns 20 m apart.
	"spiral": func(n int) *track.Track {
		return placed(n, func(i int) (east, north, up float64) {
			turn := math.Sqrt(float64(i))
			sin, cos := math.Sincos(turn)
			return (50 + 20/(2*math.Pi)*turn) * cos, (50 + 20/(2*math.Pi)*turn) * sin, 100 + 20*sin
		})
	},
	// A sharp corner at every point.
	"zigzag": func(n int) *track.Track {
		return placed(n, func(i int) (east, north, up float64) {
			return 3 * float64(i), 3 * float64(i%2), 100 + 30*math.Sin(float64(i)/300)
		})
	},
}

// BenchmarkAnalysis measures all that comes after the parser by the number of points;
// the nanoseconds per point are to grow with its logarithm at most.
func BenchmarkAnalysis(b *testing.B) {
	for _, kind := range []string{"winding road", "100 laps", "crawl", "spiral", "zigzag"} {
		for _, n := range []int{1e3, 1e4, 1e5, 1e6} {
			b.Run(fmt.Sprintf("%s/points=%.0e", kind, float64(n)), func(b *testing.B) {
				line := kinds[kind](n)
				b.ReportAllocs()
				start := time.Now()
				for range b.N {
					c, err := course.FromTrack(context.Background(), line, course.Defaults())
					if err != nil {
						b.Fatal(err)
					}
					dissect(c)
				}
				spent := float64(time.Since(start)) / float64(b.N) / float64(n)
				b.ReportMetric(spent, "ns/point")
				b.ReportMetric(spent/math.Log2(float64(n)), "ns/(n·log₂n)")
			})
		}
	}
}
