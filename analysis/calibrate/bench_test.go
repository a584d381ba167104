package calibrate

import (
	"context"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/ridden"
)

// BenchmarkFit learns from a ride of 5 h at 1 Hz.
func BenchmarkFit(b *testing.B) {
	s := longRide(b)
	b.ReportMetric(float64(len(s.Ride.Points)), "points")
	for b.Loop() {
		if _, err := Fit(context.Background(), []Session{*s}, exact()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLees finds the lees of the same ride.
func BenchmarkLees(b *testing.B) {
	s := longRide(b)
	for b.Loop() {
		if _, err := Lees(context.Background(), *s, 0.3, 0.006, 0.004); err != nil {
			b.Fatal(err)
		}
	}
}

// longRide is a course ridden until 5 h are over: laps of what a random one is.
func longRide(b *testing.B) *Session {
	b.Helper()
	n := realistic()
	line, _ := coursegen.Random(coursegen.Circuit, 3)
	opt := course.Defaults()
	known := madeOf(b, coursegen.Record(line, n.file, 3), opt)
	laps, err := course.Assemble(context.Background(), []course.Piece{{Course: known, Repeat: int(220000/known.LengthM()) + 1}}, course.AssembleOptions{AscentThresholdM: 1})
	if err != nil {
		b.Fatal(err)
	}
	on := setup()
	on.CdAM2, on.Crr = 0.3, 0.004
	rng := rand.New(rand.NewPCG(3, 3))
	s := world{laps, laps}.simulated(b, rider(70), on, conditions(), uneven(rng, laps.LengthM(), 220, 0.5, 1.5), n, rng)
	s.Ride.Points = upTo(s.Ride.Points, 5*3600)
	return s
}

func upTo(points []ridden.Point, seconds float64) []ridden.Point {
	for i := range points {
		if points[i].TimeS > seconds {
			return points[:i]
		}
	}
	return points
}
