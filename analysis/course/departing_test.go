package course

import (
	"math"
	"testing"
)

// One lap of five goes round a closed road: it counts, and is told.
func TestDepartingLap(t *testing.T) {
	line := start()
	for lap := range 5 {
		if lap == 2 {
			line = line.to(300, 0).to(300, -150).to(600, -150).to(600, 0)
		}
		line = line.to(1000, 0).to(1000, 700).to(0, 700).to(0, 0)
	}
	c := built(t, line.points(47, 11, 0))
	want := []float64{0, 3400, 6800, 10500, 13900, 17300}
	got := c.lapLines()
	if len(got) != len(want) || len(c.OtherCircuits) != 0 {
		t.Fatalf("lap lines %.0f, want %.0f; other circuits %+v", got, want, c.OtherCircuits)
	}
	for k := range want {
		if math.Abs(got[k]-want[k]) > 3 {
			t.Fatalf("lap lines %.0f, want %.0f", got, want)
		}
	}
	if w := c.Quality.Warnings; len(w) != 1 || w[0].Code != "lap-departs" || math.Abs(w[0].AtM-7100) > 60 {
		t.Errorf("warnings %+v, want one of the departure at 7100 m", w)
	}
	checkParts(t, c)
}
