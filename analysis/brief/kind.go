package brief

import "parcours.example/analysis/course"

// kind is what a course is to those who race it. It chooses the sections of a brief,
// their order, and what is said in them.
type kind int

const (
	// kindRoadRace is any road that none of the others is: rolling, flat, with a climb on the way.
	kindRoadRace kind = iota
	// kindStraightLine is two points and nothing known between them.
	kindStraightLine
	// kindHillClimb is one climb to the line and little else.
	kindHillClimb
	// kindMountainStage goes over mountains, from place to place or round.
	kindMountainStage
	// kindTimeTrial goes out and comes back over the same road.
	kindTimeTrial
	// kindCriterium is many short laps without a climb.
	kindCriterium
	// kindClimbLaps are laps, or laps and what follows them, with a climb.
	kindClimbLaps
	// kindFlatLaps are laps without one.
	kindFlatLaps
)

const (
	// hillClimbShare is the least share of the course that the climb to the line has in a
	// hill climb. Our choice: what comes before is then a run-in, not a race of its own.
	hillClimbShare = 0.75
	// mountainGainM is what the hardest climb of a mountain stage gains at least, in m.
	// Our choice: a quarter of an hour for strong riders, after which groups have split.
	mountainGainM = 300
	// mountainousFrom is the ascent over the whole course from which it is a mountain
	// stage, in m/km: 1800 m over 120 km, from where road books speak of mountains
	// [common practice, between 12 and 20 m/km].
	mountainousFrom = 15.0
	// criteriumLapM is the longest lap of a kindCriterium in m. Circuits of 0.8 to 3 km are
	// usual [common practice]; on longer ones position can be won back between bends.
	criteriumLapM = 3000
	// criteriumLaps are the fewest laps of a kindCriterium. Our choice: fewer are a short road
	// race, in which no lap repeats often enough to be learned.
	criteriumLaps = 5
)

// kind tells a course by its shape, its laps and what its climbs are to it.
func (w writer) kind() kind {
	c, key := w.in.Course, w.key()
	switch {
	case c.Quality.PointsRead <= 2 && !c.HasElevation():
		return kindStraightLine
	case key >= 0 && w.isHillClimb(key):
		return kindHillClimb
	case c.Shape == course.Lapped:
		return w.lappedKind(key)
	case key >= 0 && w.in.Terrain.Climbs[key].GainM >= mountainGainM && w.ascentPerKm() >= mountainousFrom:
		return kindMountainStage
	case c.Shape == course.OutAndBack:
		return kindTimeTrial
	}
	return kindRoadRace
}

func (w writer) isHillClimb(i int) bool {
	c := w.in.Terrain.Climbs[i]
	return w.mainClimbs() == 1 && endsAtLine(c) && len(c.Passes) == 1 && c.LengthM() >= hillClimbShare*w.in.Course.LengthM()
}

// lappedKind tells the kinds of laps apart.
func (w writer) lappedKind(key int) kind {
	switch l := w.in.Course.Laps; {
	case key >= 0:
		return kindClimbLaps
	case l.LengthM <= criteriumLapM && l.Count >= criteriumLaps:
		return kindCriterium
	}
	return kindFlatLaps
}

// ascentPerKm is the ascent over the whole course in m/km, 0 without elevation.
func (w writer) ascentPerKm() float64 {
	c := w.in.Course
	return 1000 * c.AscentM(0, c.LengthM()) / c.LengthM()
}

// sections are the kind's own, in order of reading. Those with nothing in them are left
// out.
func (w writer) sections() []block {
	switch w.kind() {
	case kindStraightLine:
		return []block{w.predictions(), w.lines()}
	case kindHillClimb:
		return []block{w.wayUp(), w.predictions(), w.lines(), w.road()}
	case kindMountainStage:
		return []block{w.upAndDown(), w.predictions(), w.lines(), w.road()}
	case kindTimeTrial:
		return []block{w.outAndBack(), w.climbs(), w.predictions(), w.lines(), w.road()}
	case kindCriterium, kindFlatLaps:
		return []block{w.laps(), w.lines(), w.predictions(), w.road()}
	case kindClimbLaps:
		return []block{w.climbs(), w.laps(), w.lines(), w.predictions(), w.road()}
	}
	return []block{w.climbs(), w.lines(), w.predictions(), w.road()}
}
