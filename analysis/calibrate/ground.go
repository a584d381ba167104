package calibrate

import (
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
)

// ground is a session on its road.
type ground struct {
	*laid
	session *Session
	road    *ride.Road
	compass compass
	sharing sharing
	// atRider is the wind at rider height over that at 10 m; 0 indoors.
	atRider float64
	// course is the index of the first session on the same course.
	course int
}

// newGround lays a session on its road.
func newGround(sessions []Session, index int) (*ground, []ride.Assumption, error) {
	s := &sessions[index]
	if err := checkPoints(index, s); err != nil {
		return nil, nil, err
	}
	road, err := ride.NewRoad(s.Course, s.Conditions, s.Surfaces)
	if err != nil {
		return nil, nil, err
	}
	bike, err := ride.NewBike(s.Rider, s.Setup, road.Conditions)
	if err != nil {
		return nil, nil, err
	}
	g := &ground{
		laid: newLaid(s.Ride.Points, road, bike, s.speedNoise()), session: s, road: road,
		compass: newCompass(s, road), sharing: newSharing(s.Course), course: index,
	}
	if !road.Conditions.Indoor {
		g.atRider = ride.WindAtRider(1, roughness(road.Conditions))
	}
	for k := range index {
		if sessions[k].Course == s.Course {
			g.course = k
			break
		}
	}
	used := append([]ride.Assumption(nil), road.Assumptions...)
	for _, a := range bike.Assumptions {
		if a.Name != "cda_m2" && a.Name != "height_m" && a.Name != "gross_efficiency" && a.Name != "recovery_rate" {
			used = append(used, a)
		}
	}
	return g, used, nil
}

func checkPoints(index int, s *Session) error {
	points := s.Ride.Points
	for i := 1; i < len(points); i++ {
		if !(points[i].TimeS > points[i-1].TimeS && points[i].AtM >= points[i-1].AtM) {
			return failed(index, CodeNotIncreasing, "the ride's point %d is not later than the one before, or lies further back", i+1)
		}
	}
	return nil
}

// openGrassM is the roughness length that package ride takes where none is given.
const openGrassM = 0.03

func roughness(c ride.Conditions) float64 {
	if c.RoughnessM > 0 {
		return c.RoughnessM
	}
	return openGrassM
}

// leastSpeedNoiseMps is the error of a speed that nobody knows to be smaller.
const leastSpeedNoiseMps = 0.05

// speedNoise is the standard deviation of the session's speeds.
func (s *Session) speedNoise() float64 {
	if s.Ride.SpeedNoiseMPS > leastSpeedNoiseMps {
		return s.Ride.SpeedNoiseMPS
	}
	return leastSpeedNoiseMps
}

// placeNoiseM is the standard deviation of the place on the course at a moment: what is
// left of a satellite receiver's error along the road. Common practice.
const placeNoiseM = 2.0

// end describes one end of a stretch, at a point.
func (g *ground) end(session, point int) end {
	p := &g.points[point]
	e := end{session: session, point: point, course: g.course, massKg: g.bike.MassKg}
	speedJ := g.bike.InertiaKg * p.SpeedMPS * g.noise
	placeJ := g.bike.MassKg * gravity * g.road.Pieces[g.piece[point]].Gradient * placeNoiseM
	e.sensorJ = math.Sqrt(float64(speedJ*speedJ) + float64(placeJ*placeJ))
	e.ground, e.distanceM, e.ring = g.sharing.place(g.session.Course, p.AtM)
	return e
}

// sharing says which passes of the same ground have one elevation on a course, and so one
// error of it: not those of a recording, whose barometer drifts.
type sharing struct{ laps, ways bool }

const (
	// sharedM is how far apart in metres the elevations of two passes may be on the mean
	// to be one.
	sharedM = 0.05
	// sharedPlaces is how many places are looked at.
	sharedPlaces = 50
)

// newSharing compares the elevations of a course's passes.
func newSharing(c *course.Course) sharing {
	s := sharing{laps: c.Laps.Count > 1, ways: c.Shape == course.OutAndBack}
	laps, ways := 0.0, 0.0
	for k := range sharedPlaces {
		share := (float64(k) + 0.5) / sharedPlaces
		if s.laps {
			at := c.Laps.StartM + float64(share*c.Laps.LengthM)
			laps += math.Abs(c.ElevationAt(at+c.Laps.LengthM) - c.ElevationAt(at))
		}
		if s.ways {
			at := share * c.LengthM() / 2
			ways += math.Abs(c.ElevationAt(c.LengthM()-at) - c.ElevationAt(at))
		}
	}
	return sharing{s.laps && laps < sharedM*sharedPlaces, s.ways && ways < sharedM*sharedPlaces}
}

// place is where on the ground a place of a course lies: laps may lie on one ring, the way
// back of a course that goes out and back on the way out, and anything else by itself.
func (s sharing) place(c *course.Course, atM float64) (ground int, distanceM, ring float64) {
	if s.ways {
		return 0, min(atM, c.LengthM()-atM), 0
	}
	if !s.laps {
		return 0, atM, 0
	}
	lap := c.LapAt(atM)
	for i := range c.Parts {
		p := &c.Parts[i]
		if lap > 0 && p.Kind == course.Lap && p.Lap == lap {
			return -1, (atM - p.StartM) / (p.EndM - p.StartM) * c.Laps.LengthM, c.Laps.LengthM
		}
	}
	return 0, atM, 0
}

// alike is the correlation of an error of the elevation at two ends, which falls with
// their distance on the ground as e^(−d/l).
func (e *end) alike(o *end, lengthM float64) float64 {
	if e.course != o.course || e.ground != o.ground {
		return 0
	}
	d := math.Abs(e.distanceM - o.distanceM)
	if e.ring > 0 {
		d = min(d, e.ring-d)
	}
	return elementary.Exp(-d / lengthM)
}
