package ridden_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/recording"
	"parcours.example/analysis/ridden"
	"parcours.example/internal/ridegen"
)

// TestAnyRecording lays whatever may be recorded near a course: what comes out is what
// readers of a ride count on, or an error that says why.
func TestAnyRecording(t *testing.T) {
	var courses []*course.Course
	for _, kind := range []coursegen.Kind{coursegen.Lapped, coursegen.OutAndBack, coursegen.FigureEight} {
		courses = append(courses, roundOf(t, kind, 5, ridegen.Noise{}).course)
	}
	flat, err := course.FromProfile(context.Background(), []float64{0, 500, 1000}, []float64{0, 5, 0}, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	courses = append(courses, flat)
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(courses).Draw(t, "course")
		r := recordingBy(t, c)
		metres := rapid.Float64Range(0, 3000)
		opt := ridden.Options{TrimStartM: metres.Draw(t, "from"), TrimEndS: metres.Draw(t, "to")}
		got, err := ridden.Lay(context.Background(), c, r, opt)
		var e *ridden.Error
		switch {
		case err == nil:
			for i, p := range got.Points {
				if !(p.AtM >= 0 && p.AtM <= c.LengthM()) || p.SpeedMPS < 0 || math.IsInf(p.SpeedMPS, 0) ||
					i > 0 && !(p.TimeS > got.Points[i-1].TimeS && p.AtM >= got.Points[i-1].AtM) {
					t.Fatalf("point %d of %d: %+v", i, len(got.Points), p)
				}
			}
			if len(got.Points) < 2 || got.TimeS() < 0 {
				t.Fatalf("%d points, %v s", len(got.Points), got.TimeS())
			}
		case !errors.As(err, &e) || len(e.Detail) < 20:
			t.Fatalf("%T %v", err, err)
		}
	})
}

// recordingBy is a recording that strays along a course, forward and backward.
func recordingBy(t *rapid.T, c *course.Course) *recording.Recording {
	r := &recording.Recording{StartUnixS: math.NaN()}
	at := rapid.Float64Range(-200, c.LengthM()+200).Draw(t, "start")
	clock, count := 0.0, 0.0
	step := rapid.SampledFrom([]float64{0, 2, 8, 8, 8, 30, -8}).Draw(t, "step")
	wide := rapid.SampledFrom([]float64{0, 3, 40, 400}).Draw(t, "beside")
	for range rapid.IntRange(0, 150).Draw(t, "samples") {
		s := recording.Sample{
			TimeS: clock, DistanceM: math.NaN(), SpeedMPS: math.NaN(), ElevationM: math.NaN(), PowerW: 200, CadenceRPM: math.NaN(),
			Broken: rapid.IntRange(0, 40).Draw(t, "broken") == 0 && clock > 0,
		}
		if c.HasPositions() && rapid.IntRange(0, 9).Draw(t, "placed") > 0 {
			p := ridegen.On(c, min(max(at, 0), c.LengthM()+100))
			s.Pos, s.HasPosition = p.Add(geodesy.FrameAt(p).East.Scale(rapid.Float64Range(-wide, wide).Draw(t, "east"))), true
		}
		if rapid.Bool().Draw(t, "measured") {
			s.SpeedMPS = max(step, 0)
			s.DistanceM = count
		}
		r.Samples = append(r.Samples, s)
		at += step * rapid.Float64Range(0, 2).Draw(t, "pace")
		clock += rapid.SampledFrom([]float64{0.1, 1, 1, 1, 5, 60}).Draw(t, "interval")
		count += max(step, 0)
	}
	return r
}
