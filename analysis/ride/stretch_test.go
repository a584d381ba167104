package ride

import (
	"math"
	"testing"
)

func TestStretchOfARoad(t *testing.T) {
	road := mustRoad(t, even(1000, 37, func(s float64) float64 { return 20 * math.Sin(s/90) }), conditions())
	for _, c := range []struct{ from, to float64 }{{0, 1000}, {123.4, 617}, {30, 31}, {-50, 2000}, {990, 1000}} {
		pieces := road.Stretch(c.from, c.to)
		from, to := max(c.from, 0), min(c.to, 1000)
		near(t, "start", pieces[0].StartM, from, 1e-9)
		near(t, "end", pieces[len(pieces)-1].EndM, to, 1e-9)
		for i, p := range pieces {
			near(t, "length along the slope", p.RoadM*p.Cos, p.EndM-p.StartM, 1e-9)
			if i > 0 {
				near(t, "joint", p.StartM, pieces[i-1].EndM, 1e-12)
			}
		}
	}
	if pieces := road.Stretch(1000, 1200); len(pieces) != 0 {
		t.Errorf("%d pieces beyond the end", len(pieces))
	}
}

func TestInclinedPiece(t *testing.T) {
	road := mustRoad(t, slope(100, 0.02), conditions())
	steeper := road.Pieces[0].Inclined(0.75)
	near(t, "length", steeper.RoadM, 1.25*(steeper.EndM-steeper.StartM), 1e-9)
	near(t, "sine", steeper.Sin, 0.6, 1e-12)
	near(t, "cosine", steeper.Cos, 0.8, 1e-12)
	if again := steeper.Inclined(0.02); math.Abs(again.RoadM-road.Pieces[0].RoadM) > 1e-12 {
		t.Errorf("back at 2 %%: %v m, not %v m", again.RoadM, road.Pieces[0].RoadM)
	}
}
