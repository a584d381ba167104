package course

import (
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/track"
)

// What recordings hold that nobody would draw.

// A stray that comes back to the very point it left made two points at one place, and
// the line between them was divided by its length of 0.
func TestStrayBackToTheSamePlace(t *testing.T) {
	var points sketch
	for s := 0.0; s <= 3000; s += 10 {
		points = append(points, [2]float64{s, 0})
	}
	points = slices.Insert(points, 101, [2]float64{1000, 700}, points[100])
	c := mustTrack(t, &track.Track{Points: points.points(47, 11, 0)}, Defaults())
	if got := c.LengthM(); math.IsNaN(got) || math.Abs(got-3000) > 1 {
		t.Errorf("%v m long, want 3000 m", got)
	}
}

// Two short ways out and back beside each other are passed alike for a moment. The
// line that goes on from them is ridden once.
func TestLineIsNoRepeatOfItself(t *testing.T) {
	line := start().to(1000, 0).to(1066, 88).to(1000, 0).to(1030, 0).to(1085, 77).to(1030, 0).to(4000, -500)
	for _, r := range built(t, line.points(47, 11, 20)).Repeats {
		t.Errorf("%.0f–%.0f m again at %.0f–%.0f m", r.StartM, r.EndM, r.AgainStartM, r.AgainEndM)
	}
}

// The elevations of a sparsely recorded hill fall by 4.4 m between two samples 4 m apart.
// The hill bends within the 600 m on either side, and is no part of the step: it once
// made 10 m of it.
func TestStepIsNoHigherThanItsJump(t *testing.T) {
	m := mending{noise: 0.1}
	m.s = []float64{0, 62, 124, 186, 248, 310, 372, 434, 496, 558, 620, 624, 637, 703, 768, 829, 893, 960, 1029, 1090, 1150}
	m.z = []float64{40, 44, 48, 52, 56, 59, 61.6, 61, 59.4, 57, 49.4, 45, 44, 41.2, 39.2, 37.6, 36.2, 35, 33.6, 33, 32.6}
	if got := m.stepHeight([2]int{0, 11}, [2]int{11, 21}); math.Abs(got+4.4) > 0.5 {
		t.Errorf("the step is %.1f m high, want -4.4 m", got)
	}
}
