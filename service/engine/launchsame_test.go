package engine

import (
	"testing"

	"parcours.example/analysis/launch"
	"parcours.example/analysis/ride"
)

// A difference that matters keeps two approaches apart; none, or a shift, doesn't.
func TestApproachesAlike(t *testing.T) {
	way := func(from float64, change func(p *ride.Piece)) launch.Approach {
		var a launch.Approach
		for i := range 30 {
			p := ride.Piece{StartM: from + 10*float64(i), EndM: from + 10*float64(i+1), AirDensityKgM3: 1.2, CrrFactor: 1}.Inclined(0.02)
			if change != nil && i == 12 {
				change(&p)
			}
			a.Pieces = append(a.Pieces, p)
		}
		return a
	}
	here := way(0, nil)
	if !alike(here, way(7400, nil)) || !alike(here, way(0, func(p *ride.Piece) { *p = p.Inclined(0.021) })) {
		t.Error("the same approach isn't the same")
	}
	short := way(0, nil)
	short.Pieces = short.Pieces[1:]
	for what, other := range map[string]launch.Approach{
		"shorter":   short,
		"a pitch":   way(0, func(p *ride.Piece) { *p = p.Inclined(0.05) }),
		"wind":      way(0, func(p *ride.Piece) { p.HeadwindMps = 1 }),
		"gravel":    way(0, func(p *ride.Piece) { p.CrrFactor = 1.5 }),
		"other air": way(0, func(p *ride.Piece) { p.AirDensityKgM3 = 1.1 }),
	} {
		if alike(here, other) {
			t.Errorf("%s makes no difference", what)
		}
	}
}
