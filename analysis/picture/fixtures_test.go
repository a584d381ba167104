package picture

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

// ground of a season's course, as read.
func season(tb testing.TB, name string) (*course.Course, *terrain.Terrain) {
	tb.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "season", name+".gpx"))
	if err != nil {
		tb.Fatal(err)
	}
	read, err := track.ReadGPX(context.Background(), data, track.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	c, err := course.FromTrack(context.Background(), read, course.Defaults())
	if err != nil {
		tb.Fatal(err)
	}
	return c, dissect(c)
}

// hills is a table of a lap of rolling ground with two climbs, ridden so often.
func hills(tb testing.TB, lapM float64, laps int, marks []track.Mark) (*course.Course, *terrain.Terrain) {
	tb.Helper()
	n := int(lapM / 20)
	s, z := make([]float64, n+1), make([]float64, n+1)
	for i := range s {
		f := float64(i) / float64(n)
		s[i] = lapM * f
		z[i] = 200 + 90*(1-math.Cos(2*math.Pi*f)) + 45*(1-math.Cos(6*math.Pi*f)) + 6*(1-math.Cos(40*math.Pi*f))
	}
	opt := course.Defaults()
	opt.Name, opt.Laps, opt.Marks = "Twelve rounds of Ottermere", laps, marks
	c, err := course.FromProfile(context.Background(), s, z, opt)
	if err != nil {
		tb.Fatal(err)
	}
	return c, dissect(c)
}

// crowd is so many marks spread over a lap.
func crowd(lapM float64, n int) []track.Mark {
	kinds := []track.MarkKind{track.Sprint, track.Summit, track.Gate, track.Feed, track.Other}
	marks := make([]track.Mark, n)
	for i := range marks {
		marks[i] = track.Mark{Name: fmt.Sprintf("Hamlet number %d", i+1), Kind: kinds[i%len(kinds)], AtM: lapM * (float64(i) + 0.3) / float64(n)}
	}
	return marks
}

// longRace is 200 km of twelve laps with 40 marks.
func longRace(tb testing.TB) (*course.Course, *terrain.Terrain) {
	const lapM = 200e3 / 12
	return hills(tb, lapM, 12, crowd(lapM, 40))
}

// dissect returns the terrain of a course that is waited for.
func dissect(c *course.Course) *terrain.Terrain {
	t, err := terrain.Analyse(context.Background(), c)
	if err != nil {
		panic(err) // the context has no end
	}
	return t
}
