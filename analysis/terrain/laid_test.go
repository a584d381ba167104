package terrain

import (
	"context"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// place is a corner of a road in metres to the east and north, and up.
type place struct{ e, n, z float64 }

// laid makes the course of a road through places, straight and even between them,
// without noise.
func laid(t *testing.T, through ...place) *course.Course {
	t.Helper()
	const lat, lon = 46.0, 7.0
	metresNorth := geodesy.Distance(geodesy.FromDegrees(lat, lon), geodesy.FromDegrees(lat+0.01, lon)) / 0.01
	metresEast := geodesy.Distance(geodesy.FromDegrees(lat, lon), geodesy.FromDegrees(lat, lon+0.01)) / 0.01
	in := &track.Track{}
	add := func(p place) {
		in.Points = append(in.Points, track.Point{
			Pos: geodesy.FromDegrees(lat+p.n/metresNorth, lon+p.e/metresEast), Elevation: p.z,
		})
	}
	for i := 1; i < len(through); i++ {
		a, b := through[i-1], through[i]
		n := math.Round(math.Hypot(b.e-a.e, b.n-a.n) / 10)
		for k := range int(n) {
			f := float64(k) / n
			add(place{a.e + f*(b.e-a.e), a.n + f*(b.n-a.n), a.z + f*(b.z-a.z)})
		}
	}
	add(through[len(through)-1])
	c, err := course.FromTrack(context.Background(), in, course.Options{SpacingM: 10, Smoothing: course.None, AscentThresholdM: 1})
	if err != nil {
		t.Fatal(err)
	}
	return c
}
