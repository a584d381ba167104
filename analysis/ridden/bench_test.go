package ridden_test

import (
	"context"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/analysis/track"
	"parcours.example/internal/ridegen"
)

// longRide is five hours at 1 Hz: 10 laps of 16 km.
func longRide(b *testing.B) (*course.Course, []track.Sample) {
	b.Helper()
	const circumference, laps = 16_000.0, 10
	origin := geodesy.FromDegrees(45, 7)
	frame := geodesy.FrameAt(origin)
	place := func(at float64) geodesy.Vec {
		sin, cos := math.Sincos(2 * math.Pi * at / circumference)
		radius := circumference / (2 * math.Pi)
		lat, lon := origin.Add(frame.East.Scale(radius * sin)).Add(frame.North.Scale(radius * cos)).Degrees()
		return geodesy.FromDegrees(lat, lon)
	}
	var points []track.Point
	for at := 0.0; at <= laps*circumference; at += 10 {
		points = append(points, track.Point{Pos: place(at), Elevation: 200 + 60*math.Sin(at/900)})
	}
	c, err := course.FromTrack(context.Background(), &track.Track{Points: points}, course.Defaults())
	if err != nil {
		b.Fatal(err)
	}
	var samples []track.Sample
	for i := range 5 * 3600 {
		at := laps * circumference * float64(i) / (5 * 3600)
		samples = append(samples, track.Sample{
			ClockS: ridegen.StartUnixS + float64(i), Pos: place(at), ElevationM: 200 + 60*math.Sin(at/900), DistanceM: at,
			SpeedMPS: 8.9, PowerW: 200 + float64(i%37), CadenceRPM: 88, Begins: i == 0,
		})
	}
	return c, samples
}

// BenchmarkFiveHours reads, mends and lays a recording of five hours.
func BenchmarkFiveHours(b *testing.B) {
	c, samples := longRide(b)
	fit, err := ridegen.FIT(samples)
	if err != nil {
		b.Fatal(err)
	}
	for name, r := range map[string]struct {
		data []byte
		read func(context.Context, []byte, track.Limits) (*recording.Recording, error)
	}{
		"FIT": {fit, recording.ReadFIT}, "TCX": {ridegen.TCX(samples), recording.ReadTCX}, "GPX": {ridegen.GPX(samples), recording.ReadGPX},
	} {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(r.data)))
			b.ReportAllocs()
			for b.Loop() {
				got, err := r.read(context.Background(), r.data, track.Limits{})
				if err != nil {
					b.Fatal(err)
				}
				if _, err := ridden.Lay(context.Background(), c, got, ridden.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
