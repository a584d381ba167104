package course

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/track"
)

// lappedCourse returns a course of laps around a circle of a circumference in
// metres, without structure.
func lappedCourse(circumference float64, laps float64) *Course {
	return lineCourse(start().arc(0, circumference/6.283185307, laps*360).points(47, 11, 0))
}

// scribble stays within some 200 m, whatever its length, and runs over itself in every
// direction.
func scribble(points int) sketch {
	line := start()
	rng := rand.New(rand.NewPCG(1, 2))
	e, n := 0.0, 0.0
	for range points {
		e, n = e*0.98+10*rng.NormFloat64(), n*0.98+10*rng.NormFloat64()
		line = append(line, [2]float64{e, n})
	}
	return line
}

// streets walks along a number of blocks of a grid of 40 by 40 streets, 100 m apart,
// turning at random.
func streets(blocks int) sketch {
	line := start()
	rng := rand.New(rand.NewPCG(1, 2))
	e, n, de, dn := 0.0, 0.0, 100.0, 0.0
	for range blocks {
		if turn := rng.IntN(4); turn < 2 {
			side := float64(2*turn - 1)
			de, dn = -dn*side, de*side
		}
		if x, y := e+de, n+dn; math.Abs(x) > 2000 || math.Abs(y) > 2000 {
			de, dn = -de, -dn
		}
		e, n = e+de, n+dn
		line = line.to(e, n)
	}
	return line
}

// shuttle goes there and back a number of times.
func shuttle(lengthM float64, times int) sketch {
	line := start()
	for range times {
		line = line.to(lengthM, 0).to(0, 0)
	}
	return line
}

func BenchmarkStructure(b *testing.B) {
	for _, bb := range []struct {
		name   string
		course *Course
	}{
		{"straight_100km", lineCourse(start().to(100_000, 0).points(47, 11, 0))},
		{"laps_10_of_10km", lappedCourse(10_000, 10)},
		{"laps_100_of_1km", lappedCourse(1000, 100)},
		{"laps_200_of_300m", lappedCourse(300, 200)},
		{"laps_100_of_40km", lappedCourse(40_000, 100)},
		{"laps_16000_of_300m", lappedCourse(300, 16_000)},
		{"scribble", lineCourse(scribble(20_000).points(47, 11, 0))},
		{"scribble_of_4000km", lineCourse(scribble(320_000).points(47, 11, 0))},
		{"streets", lineCourse(streets(1000).points(47, 11, 0))},
		{"streets_of_4000km", lineCourse(streets(40_000).points(47, 11, 0))},
		{"shuttle_2000_of_1km", lineCourse(shuttle(1000, 2000).points(47, 11, 0))},
	} {
		b.Run(bb.name, func(b *testing.B) {
			place := []track.Mark{{Name: "start", Pos: bb.course.Pos[0]}}
			for b.Loop() {
				c := *bb.course
				c.structure(context.Background(), declaredLaps{}, place)
			}
			b.ReportMetric(bb.course.LengthM()/groundStepM, "samples")
		})
	}
}
