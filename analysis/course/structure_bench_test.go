package course

import (
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/track"
)

// lappedCourse returns a course of laps around a circle of a circumference in
// metres, without structure.
func lappedCourse(circumference float64, laps float64) *Course {
	return lineCourse(start().arc(0, circumference/6.283185307, laps*360).points(47, 11, 0))
}

func BenchmarkStructure(b *testing.B) {
	crawl := start()
	rng := rand.New(rand.NewPCG(1, 2))
	e, n := 0.0, 0.0
	for range 20_000 { // a scribble within 200 m
		e, n = e*0.98+10*rng.NormFloat64(), n*0.98+10*rng.NormFloat64()
		crawl = append(crawl, [2]float64{e, n})
	}
	for _, bb := range []struct {
		name   string
		course *Course
	}{
		{"straight_100km", lineCourse(start().to(100_000, 0).points(47, 11, 0))},
		{"laps_10_of_10km", lappedCourse(10_000, 10)},
		{"laps_100_of_1km", lappedCourse(1000, 100)},
		{"laps_200_of_300m", lappedCourse(300, 200)},
		{"laps_100_of_40km", lappedCourse(40_000, 100)},
		{"scribble", lineCourse(crawl.points(47, 11, 0))},
	} {
		b.Run(bb.name, func(b *testing.B) {
			var place []track.Mark
			for b.Loop() {
				c := *bb.course
				c.structure(declaredLaps{}, place)
			}
			b.ReportMetric(bb.course.LengthM()/groundStepM, "samples")
		})
	}
}
