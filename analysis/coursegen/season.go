package coursegen

import (
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// Round is one course of the invented season.
type Round struct {
	// Name is the stem of the round's files, Title what people call it.
	Name, Title string
	Line        Line
	Truth       Truth
	// Lap is one lap alone, from line to line, for rounds whose files may be given as
	// one lap and a number of laps; nil for others.
	Lap *Line
	// Recordings are the round's noisy variants.
	Recordings []Recording
}

// Recording is a way in which a round is recorded.
type Recording struct {
	// Variant is added to the round's name.
	Variant string
	Noise   Noise
	Seed    uint64
}

// drawing is a round in the plane: its origin in degrees, its layout and the nodes
// at which its marks stand.
type drawing struct {
	name, title string
	lat, lon    float64
	layout      layout
	marks       []placedMark
	recordings  []Recording
	oneLap      bool
}

// placedMark is a mark at a node of the path.
type placedMark struct {
	name string
	kind track.MarkKind
	node int
}

// Season returns the six rounds of the invented league of Arvane county. It is the
// same on each call.
func Season() []Round {
	var rounds []Round
	for _, d := range []drawing{criterium(), figureEight(), lapsAndClimb(), timeTrial(), mountainStage(), hillClimb()} {
		rounds = append(rounds, d.round())
	}
	return rounds
}

func (d drawing) round() Round {
	l := lay(geodesy.FromDegrees(d.lat, d.lon), d.layout.path)
	r := Round{Name: d.name, Title: d.title, Line: l, Truth: d.layout.truth(l), Recordings: d.recordings}
	for _, m := range d.marks {
		at, _ := passes(l, l.Pos[m.node])
		r.Truth.Marks = append(r.Truth.Marks, Mark{Name: m.name, Kind: m.kind, Pos: l.Pos[m.node], At: at})
	}
	if d.oneLap {
		first := d.layout.starts[0]
		lap := part(l, first, first+d.layout.lap)
		r.Lap = &lap
	}
	return r
}

// part returns the stretch of a line between two nodes as a line of its own.
func part(l Line, first, last int) Line {
	p := Line{Pos: l.Pos[first : last+1], Z: l.Z[first : last+1], S: make([]float64, last-first+1)}
	for i := range p.S {
		p.S[i] = l.S[first+i] - l.S[first]
	}
	return p
}

// recorded, barometric and rounded are the three kinds of noisy variants.
func recorded(seed uint64) Recording {
	return Recording{"recorded", Noise{IntervalS: 1, PositionM: 5, WhiteM: 0.3, ElevationM: 0.3, StartM: 6}, seed}
}

func barometric(seed uint64) Recording {
	return Recording{"barometer", Noise{IntervalS: 2, PositionM: 4, WhiteM: 0.3, ElevationM: 0.1, DriftM: 3, ElevationSpikes: 2, Duplicates: 5, StartM: 4}, seed}
}

func rounded(seed uint64) Recording {
	return Recording{"rounded", Noise{IntervalS: 3, PositionM: 7, WhiteM: 0.5, ElevationM: 0.3, RoundM: 1, StartM: 9}, seed}
}
