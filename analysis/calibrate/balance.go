package calibrate

import (
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
)

// atom is a bit of a stretch on one piece of the road.
type atom struct {
	piece int
	// roadM is its length along the slope, speed that in its middle.
	roadM, speed float64
}

// equation is the energy balance of one stretch.
type equation struct {
	session int
	span    span
	atoms   []atom
	// workJ is the rider's work as recorded, pedallingS the time with power above 0,
	// kineticJ and potentialJ the changes of the energies, lastS its duration.
	workJ, pedallingS, kineticJ, potentialJ, lastS float64
	// workSquares is the sum of the squares of the work between two points, in J².
	workSquares float64
	// bearingsJ is what the bearings took, rollingJ what tyres of Crr 1 would.
	bearingsJ, rollingJ float64
	// start and end are what its ends share with others.
	start, end end
}

// end is one end of a stretch.
type end struct {
	session, point int
	// course and ground say where on the ground it is: places with the same ground are
	// distanceM apart there, in a ring of a length if that is above 0.
	course, ground  int
	distanceM, ring float64
	// sensorJ is the standard deviation of the energy there by the errors of speed and
	// place.
	sensorJ float64
	massKg  float64
}

// equation sums up a stretch. Power is the mean over the interval before its point, and
// speed is linear in the distance within an interval.
func (l *laid) equation(session int, s span) equation {
	q := equation{session: session, span: s}
	rolling := ride.Bike{MassKg: l.bike.MassKg, Crr: 1}
	for i := s.first; i <= s.last; i++ {
		seconds := l.points[i].TimeS - l.points[i-1].TimeS
		q.lastS += seconds
		workJ := float64(l.points[i].PowerW * seconds)
		q.workJ += workJ
		q.workSquares += float64(workJ * workJ)
		if l.points[i].PowerW > 0 {
			q.pedallingS += seconds
		}
		q.atoms = l.atoms(q.atoms, i)
	}
	for _, a := range q.atoms {
		p := &l.road.Pieces[a.piece]
		r, known := rolling.On(p), l.bike.On(p)
		q.rollingJ += float64(r.Rolling * a.roadM)
		q.bearingsJ += float64((known.Bearing + float64(known.BearingPerMps*a.speed)) * a.roadM)
		q.potentialJ += float64(known.Gravity * a.roadM)
	}
	v0, v1 := l.speedAt(s.first-1), l.speedAt(s.last)
	q.kineticJ = l.bike.InertiaKg / 2 * (float64(v1*v1) - float64(v0*v0))
	return q
}

// atoms adds those of an interval.
func (l *laid) atoms(atoms []atom, i int) []atom {
	from, to := &l.points[i-1], &l.points[i]
	length := to.AtM - from.AtM
	for k := l.piece[i-1]; k <= l.piece[i]; k++ {
		p := &l.road.Pieces[k]
		start, end := max(from.AtM, p.StartM), min(to.AtM, p.EndM)
		if !(end > start) {
			continue
		}
		share := ((start+end)/2 - from.AtM) / length
		atoms = append(atoms, atom{k, (end - start) / p.Cos, from.SpeedMPS + float64((to.SpeedMPS-from.SpeedMPS)*share)})
	}
	return atoms
}

// speedAt is the speed at a point with less noise: the mean over it and its neighbours,
// where they are an even time away and no more than 2 s.
func (l *laid) speedAt(i int) float64 {
	if i == 0 || i == len(l.points)-1 || l.reason[i] != "" || l.reason[i+1] != "" {
		return l.points[i].SpeedMPS
	}
	before, after := l.points[i].TimeS-l.points[i-1].TimeS, l.points[i+1].TimeS-l.points[i].TimeS
	if math.Abs(before-after) > 0.01*after || after > 2 {
		return l.points[i].SpeedMPS
	}
	return (l.points[i-1].SpeedMPS + l.points[i].SpeedMPS + l.points[i+1].SpeedMPS) / 3
}

// compass is the sine and the cosine of the direction of travel on each piece; nil
// without positions.
type compass struct{ sin, cos []float64 }

// airWork is the drag work of 1 m² in J over an equation's atoms with a wind added, and
// its derivatives by the wind's two components.
type airWork struct{ j, perNorth, perEast float64 }

// manner is how a stretch is ridden compared with how it was.
type manner struct {
	// speed is the speed over the recorded one, direction 1, or −1 for the way back.
	speed, direction float64
}

// air sums up the work of the air on an equation with a wind added to the road's: at 10 m
// from the north and the east in m/s, or on a course without positions a headwind at rider
// height as the first of them.
func (g *ground) air(q *equation, how manner, north, east float64) airWork {
	var w airWork
	unit := ride.Bike{DragAreaM2: g.road.Conditions.Shelter}
	for _, a := range q.atoms {
		p := g.road.Pieces[a.piece]
		byNorth, byEast := g.windward(a.piece)
		byNorth, byEast = float64(how.direction*byNorth), float64(how.direction*byEast)
		p.HeadwindMps = float64(how.direction*p.HeadwindMps) + float64(north*byNorth) + float64(east*byEast)
		r := unit.On(&p)
		v := float64(a.speed * how.speed)
		w.j += float64(r.Aero(v) * a.roadM)
		slope := float64(r.Slope(v) * a.roadM)
		w.perNorth += float64(slope * byNorth)
		w.perEast += float64(slope * byEast)
	}
	return w
}

// windward is how much of a wind of 1 m/s from the north and from the east blows against
// the rider on a piece.
func (g *ground) windward(piece int) (north, east float64) {
	if g.compass.sin == nil {
		return 1, 0
	}
	return float64(g.atRider * g.compass.cos[piece]), float64(g.atRider * g.compass.sin[piece])
}

// newCompass reads the course's headings for the pieces of a road over it.
func newCompass(s *Session, road *ride.Road) compass {
	if !s.Course.HasPositions() {
		return compass{}
	}
	c := compass{make([]float64, len(road.Pieces)), make([]float64, len(road.Pieces))}
	for i := range road.Pieces {
		p := &road.Pieces[i]
		heading := s.Course.Heading[s.Course.PieceAt((p.StartM+p.EndM)/2)]
		c.sin[i], c.cos[i] = elementary.Sincos(heading * math.Pi / 180)
	}
	return c
}
