package ride

import (
	"math"

	"parcours.example/analysis/course"
)

// Surface is a stretch of the course whose rolling resistance differs from the
// set-up's: Crr is multiplied by CrrFactor.
type Surface struct {
	StartM, EndM, CrrFactor float64
}

// Piece is a stretch of road between two nodes on which gradient, heading, air and
// surface hold.
type Piece struct {
	// StartM and EndM are horizontal positions on the course.
	StartM, EndM float64
	// RoadM is the length along the slope.
	RoadM float64
	// Sin and Cos are those of the slope's angle; Gradient is its tangent.
	Sin, Cos, Gradient float64
	// HeadwindMps and CrosswindMps are the wind's parts at rider height, against the
	// rider and from the right.
	HeadwindMps, CrosswindMps float64
	// AirDensityKgM3 is that at the middle of the piece.
	AirDensityKgM3 float64
	CrrFactor      float64
	// StartLimit and EndLimit are the squares of the highest speeds at the two nodes,
	// in m²/s², that bends and brakes allow; between them it is linear along the road.
	// +Inf where the road has no limits.
	StartLimit, EndLimit float64
}

// Road is a course in given conditions: all of the ride that doesn't depend on the
// rider. It is immutable and may be shared.
type Road struct {
	Pieces []Piece
	// Conditions are those asked for with every default that was used filled in.
	Conditions  Conditions
	Assumptions []Assumption

	course *course.Course
	air    air
}

// LengthM returns the horizontal length in metres.
func (r *Road) LengthM() float64 { return r.Pieces[len(r.Pieces)-1].EndM }

// NewRoad lays conditions and surfaces on a course. Surfaces are in course order and
// don't overlap; what lies beyond the course is left out. A course without elevation
// is flat at 0 m; one without positions has no bends. Errors are *Error:
// CodeWindNeedsPositions, CodeWindNeedsDirection, CodeInvalid.
func NewRoad(c *course.Course, conditions Conditions, surfaces []Surface) (*Road, error) {
	if err := conditions.validate(); err != nil {
		return nil, err
	}
	if err := validateSurfaces(surfaces); err != nil {
		return nil, err
	}
	var used assumptions
	conditions = conditions.completed(c.HasPositions(), &used)
	air := newAir(&conditions, c.ElevationAt(0), &used)
	wind, err := newWind(conditions, c.HasPositions())
	if err != nil {
		return nil, err
	}
	road := &Road{Pieces: divide(c, surfaces), Conditions: conditions, Assumptions: used, course: c, air: air}
	road.lay(c, air, wind)
	road.limit(c)
	road.refine(c, air)
	return road, nil
}

// divide returns the pieces between the course's nodes and the surfaces' ends, with
// their surface.
func divide(c *course.Course, surfaces []Surface) []Piece {
	pieces := make([]Piece, 0, len(c.S)-1+2*len(surfaces))
	for i := range len(c.S) - 1 {
		from, end := c.S[i], c.S[i+1]
		for from < end {
			for len(surfaces) > 0 && surfaces[0].EndM <= from+tinyM {
				surfaces = surfaces[1:]
			}
			to, factor := end, 1.0
			if len(surfaces) > 0 {
				next := surfaces[0].StartM
				if next <= from+tinyM {
					next, factor = surfaces[0].EndM, surfaces[0].CrrFactor
				}
				if next < end-tinyM {
					to = next
				}
			}
			pieces = append(pieces, Piece{StartM: from, EndM: to, CrrFactor: factor})
			from = to
		}
	}
	return pieces
}

// longestPieceM bounds a piece, so that the air at its middle stands for all of it and
// the samples of a ride are close enough to carry its power and its balance of W′.
const longestPieceM = 20.0

// refine divides long pieces evenly, once the limits are laid between the course's own
// nodes.
func (r *Road) refine(c *course.Course, air air) {
	refined := make([]Piece, 0, len(r.Pieces)+int(c.LengthM()/longestPieceM))
	for i := range r.Pieces {
		whole := &r.Pieces[i]
		n := int(math.Ceil((whole.EndM-whole.StartM)/longestPieceM - tinyM))
		if n <= 1 {
			refined = append(refined, *whole)
			continue
		}
		for k := range n {
			refined = append(refined, whole.cut(float64(k)/float64(n), float64(k+1)/float64(n)))
			p := &refined[len(refined)-1]
			p.AirDensityKgM3 = air.densityAt(c.ElevationAt((p.StartM + p.EndM) / 2))
		}
	}
	r.Pieces = refined
}

// rise is the difference of elevation over the piece in m.
func (p *Piece) rise() float64 { return p.Gradient * (p.EndM - p.StartM) }

// cut returns the stretch of a piece between two shares of its length.
func (p *Piece) cut(from, to float64) Piece {
	q := *p
	q.StartM = p.StartM + float64((p.EndM-p.StartM)*from)
	if to < 1 {
		q.EndM = p.StartM + float64((p.EndM-p.StartM)*to)
	}
	q.RoadM = p.RoadM * (to - from)
	if from > 0 {
		q.StartLimit = p.limitAt(p.RoadM * from)
	}
	if to < 1 {
		q.EndLimit = p.limitAt(p.RoadM * to)
	}
	return q
}

// tinyM is the distance in metres below which two positions are one.
const tinyM = 1e-6

// lay sets the slope, air and wind of every piece.
func (r *Road) lay(c *course.Course, air air, wind wind) {
	node := 0
	for i := range r.Pieces {
		p := &r.Pieces[i]
		for i > 0 && node < len(c.S)-2 && c.S[node+1] <= p.StartM {
			node++
		}
		*p = p.Inclined(c.Gradient(node))
		elevation := 0.0
		if c.HasElevation() {
			elevation = c.Z[node] + float64(p.Gradient*((p.StartM+p.EndM)/2-c.S[node]))
		}
		p.AirDensityKgM3 = air.densityAt(elevation)
		heading := 0.0
		if c.HasPositions() {
			heading = c.Heading[node]
		}
		p.HeadwindMps, p.CrosswindMps = wind.on(heading)
	}
}
