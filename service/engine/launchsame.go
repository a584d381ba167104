package engine

import (
	"math"

	"parcours.example/analysis/launch"
	"parcours.example/analysis/ride"
)

// What two approaches may differ by and still be the same, as the passes of a lap that is
// ridden again and again do: it moves the launch by a few metres and the time at the line by
// less than what counts as level.
const (
	sameM        = 0.2  // of length and elevation
	sameMps      = 0.05 // of wind
	sameShare    = 0.01 // of air density and rolling resistance
	sameSpacingM = 5.0
)

// alike compares two approaches every few metres before the line.
func alike(a, b launch.Approach) bool {
	length := a.LengthM()
	if math.Abs(length-b.LengthM()) > sameM {
		return false
	}
	x, y := backwards(a.Pieces), backwards(b.Pieces)
	for before := 0.0; before < length; before += sameSpacingM {
		p, riseA := x.at(before)
		q, riseB := y.at(before)
		if math.Abs(riseA-riseB) > sameM || math.Abs(p.HeadwindMps-q.HeadwindMps) > sameMps ||
			math.Abs(p.AirDensityKgM3/q.AirDensityKgM3-1) > sameShare || math.Abs(p.CrrFactor/q.CrrFactor-1) > sameShare {
			return false
		}
	}
	return true
}

// walk goes over pieces from the last to the first.
type walk struct {
	pieces []ride.Piece
	// i is the piece under it, riseM the rise from the end of that piece to the line.
	i     int
	riseM float64
}

func backwards(pieces []ride.Piece) *walk { return &walk{pieces: pieces, i: len(pieces) - 1} }

// at returns the piece at a distance in metres before the line, and the rise from there to
// it. Distances must not fall from call to call.
func (w *walk) at(beforeM float64) (p ride.Piece, riseM float64) {
	at := w.pieces[len(w.pieces)-1].EndM - beforeM
	for w.i > 0 && w.pieces[w.i].StartM > at {
		w.riseM += w.pieces[w.i].Gradient * (w.pieces[w.i].EndM - w.pieces[w.i].StartM)
		w.i--
	}
	p = w.pieces[w.i]
	return p, w.riseM + float64(p.Gradient*(p.EndM-at))
}
