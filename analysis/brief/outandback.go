package brief

import (
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

const (
	// nearTurnM is how near to half the course a bend or a mark is the turn's, in m. Our
	// choice: way out and way back differ by little, as they are on one road.
	nearTurnM = 150
	// turnDeg is the least turn of a bend in degrees that is the turn of a course.
	turnDeg = 120
	// straightFrom is the least mean resultant of the headings of a way, 0…1, that makes
	// it run in one direction. Our choice: on a full circle it is 0, on half of one 0.64.
	straightFrom = 0.6
)

// outAndBack tells the turn, both ways, and how to spend the effort.
func (w writer) outAndBack() block {
	return bullets("Out and back",
		[]said{{rankKeyClimb, w.turn()}},
		[]said{{rankKeyPasses, w.bothWays()}},
		[]said{{rankKeySections, w.wind()}},
		[]said{{rankKeySections, w.spending()}})
}

// turnAt is where the course turns round, in m.
func (w writer) turnAt() float64 {
	if b, found := w.turnBend(); found {
		return b.AtM
	}
	return w.in.Course.LengthM() / 2
}

// turnBend returns the bend in which the course turns round.
func (w writer) turnBend() (turn terrain.Bend, found bool) {
	for _, b := range w.in.Terrain.Bends {
		if math.Abs(b.AtM-w.in.Course.LengthM()/2) <= nearTurnM && math.Abs(b.TurnDeg) >= turnDeg && (!found || b.RadiusM < turn.RadiusM) {
			turn, found = b, true
		}
	}
	return turn, found
}

// turn tells where the turn is and how tight.
func (w writer) turn() phrase {
	b, found := w.turnBend()
	p := say("{}: at {}", strong(w.turnName()), w.length("turn.at_m", w.turnAt()))
	if !found || w.in.Indoor {
		return say("{}.", p)
	}
	return say("{}, about {} in radius: brake before it, and go again with what was saved there.", p, w.radius("turn.radius_m", b.RadiusM))
}

// turnName is the name of the mark at the turn, if there is one.
func (w writer) turnName() phrase {
	for i, m := range w.in.Terrain.Marks {
		if w.isTurn(m) {
			return w.markName(i)
		}
	}
	return words("Turn")
}

// isTurn reports whether a mark is just the turn of an out-and-back course.
func (w writer) isTurn(m terrain.Mark) bool {
	return w.kind() == kindTimeTrial && len(m.Passes) == 1 && (m.Kind == track.Gate || m.Kind == track.Other) &&
		math.Abs(m.Passes[0].AtM-w.turnAt()) <= nearTurnM/3
}

// bothWays tells how much of the climbing is on the way out, how much on the way back.
func (w writer) bothWays() phrase {
	c, turn := w.in.Course, w.turnAt()
	out, back := c.AscentM(0, turn), c.AscentM(turn, c.LengthM())
	switch {
	case w.counts(out) && w.counts(back):
		return say("{}: {} up on the way out, {} on the way back.", strong(words("Climbing")), w.height("out.ascent_m", out), w.height("back.ascent_m", back))
	case w.counts(out):
		return say("{}: all on the way out.", strong(words("Climbing")))
	case w.counts(back):
		return say("{}: all on the way back.", strong(words("Climbing")))
	}
	return phrase{}
}

// wind tells which way the road runs, so that a forecast can be read against it.
func (w writer) wind() phrase {
	out, straight := w.headingOut()
	if !straight || w.in.Indoor {
		return phrase{}
	}
	to := points[out]
	return say("{}: the way out runs {}; wind from the {} is against you there and behind you on the way back.", strong(words("Wind")), words(to), words(to))
}

// points are the points of the compass, from north to the right.
var points = [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}

// headingOut returns the point of the compass that the way out runs to, if it keeps to
// one.
func (w writer) headingOut() (point int, straight bool) {
	c, north, east, length := w.in.Course, 0.0, 0.0, 0.0
	for i, deg := range c.Heading {
		if c.S[i] >= w.turnAt() {
			break
		}
		sin, cos := elementary.Sincos(deg * math.Pi / 180)
		step := c.S[i+1] - c.S[i]
		north, east, length = north+float64(step*cos), east+float64(step*sin), length+step
	}
	if length == 0 || elementary.Hypot(north, east) < straightFrom*length {
		return 0, false
	}
	deg := elementary.Atan2(east, north) * 180 / math.Pi
	return int(math.Round(deg/45)+8) % 8, true
}

// spending says how to spend the effort. That more power against slopes and winds and
// less with them gains time is shown by models and on the road (Swain 1997; Atkinson,
// Peacock & Passfield 2007; both from memory).
func (w writer) spending() phrase {
	label, rolls := strong(words("Pacing")), w.in.Course.HasElevation() && w.ascentPerKm() >= rollingFrom
	switch {
	case rolls && w.in.Indoor:
		return say("{}: a little above the mean where it rises, a little below where it falls.", label)
	case w.in.Indoor:
		return say("{}: even, with no faster start than can be held.", label)
	case rolls:
		return say("{}: a little above the mean where it rises or the wind is against you, a little below where it falls.", label)
	}
	return say("{}: a little above the mean against the wind, a little below with it; no faster start than can be held.", label)
}
