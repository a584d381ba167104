package brief

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// TestSeason holds the briefs of every file of the season, as recorded and as
// drawn, with the limits that chats have and the smallest.
func TestSeason(t *testing.T) {
	pattern := "*.gpx"
	if testing.Short() {
		pattern = "*-lap.gpx"
	}
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "season", pattern))
	if err != nil || len(files) == 0 {
		t.Fatalf("no season: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			in := analysed(t, file)
			var before Brief
			for _, limit := range []int{120, 200, 280, 500, 1000, 2000, 4096, 0} {
				in.MaxChars = limit
				b := Write(in)
				holdsLimit(t, *b, limit)
				partOfText(t, before, *b)
				readsWell(t, file, b)
				toldOnce(t, file, b)
				onlyFacts(t, file, strings.TrimPrefix(b.Text, b.Title), b.Facts)
				before = *b
			}
		})
	}
}

// analysed reads a file and adds a prediction, whose figures are of no matter.
func analysed(t *testing.T, file string) Input {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	line, err := track.ReadGPX(context.Background(), data, track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := course.FromTrack(context.Background(), line, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	ride := Ride{Rider: "Ivo", MassKg: 70, TimeS: c.LengthM() / 9, MeanSpeedMps: 9, MeanPowerW: 250, RunsDryAtM: c.LengthM() / 2, StopsAtM: math.NaN()}
	return Input{Course: c, Terrain: dissect(c), Rides: []Ride{ride}}
}

// dissect returns the terrain of a course that is waited for.
func dissect(c *course.Course) *terrain.Terrain {
	t, err := terrain.Analyse(context.Background(), c)
	if err != nil {
		panic(err) // the context has no end
	}
	return t
}
