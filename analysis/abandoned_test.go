package analysis_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// leavingContext has ended from the nth look at it on.
type leavingContext struct {
	context.Context
	nth, looks int
}

// Err implements context.Context.
func (c *leavingContext) Err() error {
	if c.looks++; c.looks >= c.nth {
		return context.Canceled
	}
	return nil
}

// TestAbandonedAtAnyLook demands that what is abandoned is given up, whichever look at the
// context finds out, and says why.
func TestAbandonedAtAnyLook(t *testing.T) {
	type reader func(context.Context, []byte, track.Options) (*track.Track, error)
	reads := func(read reader, content string) func(context.Context) error {
		return func(ctx context.Context) error {
			_, err := read(ctx, []byte(content), track.Options{})
			return err
		}
	}
	example := func(extension string, read reader) func(context.Context) error {
		content, err := os.ReadFile(filepath.Join("..", "testdata", "examples", "orchard-loop."+extension))
		if err != nil {
			t.Fatal(err)
		}
		return reads(read, string(content))
	}
	listed := func(format string) string { // places one after the other
		var b strings.Builder
		for i := range 2000 {
			fmt.Fprintf(&b, format, 7+float64(i)/10_000, 46.0)
		}
		return strings.TrimSuffix(b.String(), ",")
	}
	line := kinds["winding road"](6000)
	lap := placed(5000, func(i int) (east, north, up float64) {
		turn := 2 * math.Pi * float64(i) / 4999
		sin, cos := math.Sincos(turn)
		return 2000 * cos, 1500 * sin, 100 + 20*sin
	})
	whole, err := course.FromTrack(t.Context(), line, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	var distanceM, elevationM []float64
	for i := range 500 {
		s := 20 * float64(i)
		distanceM, elevationM = append(distanceM, s), append(elevationM, 100+30*math.Sin(s/300))
	}
	lapped := course.Defaults()
	lapped.Laps = 5
	for name, work := range map[string]func(context.Context) error{
		"GPX": example("gpx", track.ReadGPX), "TCX": example("tcx", track.ReadTCX), "FIT": example("fit", track.ReadFIT),
		"KML":     reads(track.ReadKML, "<kml><Placemark><LineString><coordinates>"+listed("%.4f,%.4f ")+"</coordinates></LineString></Placemark></kml>"),
		"GeoJSON": reads(track.ReadGeoJSON, `{"type":"LineString","coordinates":[`+listed("[%.4f,%.4f],")+"]}"),
		"table":   reads(track.ReadTable, "longitude,latitude\n"+listed("%.4f,%.4f\n")),
		"line":    func(ctx context.Context) error { _, err := course.FromTrack(ctx, line, course.Defaults()); return err },
		"laps":    func(ctx context.Context) error { _, err := course.FromTrack(ctx, lap, lapped); return err },
		"profile": func(ctx context.Context) error {
			_, err := course.FromProfile(ctx, distanceM, elevationM, course.Defaults())
			return err
		},
		"assembly": func(ctx context.Context) error {
			_, err := course.Assemble(ctx, []course.Piece{{Course: whole}}, course.AssembleOptions{})
			return err
		},
		"terrain": func(ctx context.Context) error { _, err := terrain.Analyse(ctx, whole); return err },
	} {
		t.Run(name, func(t *testing.T) {
			all := &leavingContext{Context: t.Context(), nth: math.MaxInt}
			if err := work(all); err != nil {
				t.Fatal(err)
			}
			if all.looks == 0 {
				t.Error("nobody looks")
			}
			for nth := 1; nth <= all.looks; nth += 1 + all.looks/8 {
				ctx := &leavingContext{Context: t.Context(), nth: nth}
				if err := work(ctx); !errors.Is(err, context.Canceled) {
					t.Errorf("abandoned at look %d of %d: %v", nth, all.looks, err)
				}
				if ctx.looks > nth+2 {
					t.Errorf("abandoned at look %d, %d more", nth, ctx.looks-nth)
				}
			}
		})
	}
}
