package ride

import (
	"math"

	"parcours.example/analysis/course"
)

// fastestSquare is the square of a speed that nothing on wheels reaches, in m²/s²; it
// stands where a road with bends has none.
const fastestSquare = 1e6

// tightestRadiusM is the radius in metres below which no bicycle turns.
const tightestRadiusM = 1.0

// limit sets the speed limits of the pieces: in a bend of radius R the lateral
// acceleration v²/R stays within the allowed; before it, going backwards, the brakes'
// deceleration a does: v² ≤ v_next² + 2a·Δx along the road.
func (r *Road) limit(c *course.Course) {
	lateral, braking := r.Conditions.LateralMps2, r.Conditions.BrakingMps2
	if r.Conditions.Indoor || !c.HasPositions() || math.IsInf(lateral, 1) {
		for i := range r.Pieces {
			r.Pieces[i].StartLimit, r.Pieces[i].EndLimit = math.Inf(1), math.Inf(1)
		}
		return
	}
	node := len(c.S) - 1
	next := bendLimit(c, node, lateral)
	for i := len(r.Pieces) - 1; i >= 0; i-- {
		p := &r.Pieces[i]
		p.EndLimit = next
		start := p.EndLimit + float64(2*braking*p.RoadM)
		if p.StartM <= c.S[node-1] {
			node--
			start = min(start, bendLimit(c, node, lateral))
			node = max(node, 1)
		}
		p.StartLimit = min(start, fastestSquare)
		next = p.StartLimit
	}
}

// bendLimit returns the square of the highest speed at a node of the course.
func bendLimit(c *course.Course, node int, lateral float64) float64 {
	radius := max(1/math.Abs(c.Curvature[node]), tightestRadiusM)
	return min(float64(lateral*radius), fastestSquare)
}

// limitAt returns the limit at x metres of road into the piece.
func (p *Piece) limitAt(x float64) float64 {
	if p.StartLimit == p.EndLimit {
		return p.StartLimit
	}
	return p.StartLimit + float64((p.EndLimit-p.StartLimit)*(x/p.RoadM))
}
