package ride

import "math"

// Stretch returns the pieces of the road between two positions in metres, in order; those
// at its ends are cut. What lies beyond the road's ends is left out.
func (r *Road) Stretch(fromM, toM float64) []Piece {
	var pieces []Piece
	for i := range r.Pieces {
		p := &r.Pieces[i]
		if p.EndM <= fromM+tinyM || p.StartM >= toM-tinyM {
			continue
		}
		length := p.EndM - p.StartM
		from, to := max((fromM-p.StartM)/length, 0), min((toM-p.StartM)/length, 1)
		pieces = append(pieces, p.cut(from, to))
	}
	return pieces
}

// Inclined returns the piece with another gradient over the same horizontal length. Air,
// wind, surface and the limits at its ends stay.
func (p Piece) Inclined(gradient float64) Piece {
	p.Gradient = gradient
	rise := p.rise()
	p.RoadM = math.Sqrt(float64((p.EndM-p.StartM)*(p.EndM-p.StartM)) + float64(rise*rise))
	p.Sin, p.Cos = rise/p.RoadM, (p.EndM-p.StartM)/p.RoadM
	return p
}
