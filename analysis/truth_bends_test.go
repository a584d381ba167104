package analysis_test

import (
	"context"
	"math"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
	"parcours.example/internal/seeded"
)

// arc is a piece of a road: a length in metres and the turn over it in degrees,
// positive to the right.
type arc struct{ lengthM, turnDeg float64 }

// arcOf is an arc of a radius.
func arcOf(radiusM, turnDeg float64) arc {
	return arc{radiusM * math.Abs(turnDeg) * math.Pi / 180, turnDeg}
}

// drawn lays a level road of pieces on the ground, at steps of about a metre.
func drawn(pieces ...arc) coursegen.Line {
	origin := geodesy.FromDegrees(46, 7)
	frame := geodesy.FrameAt(origin)
	var l coursegen.Line
	east, north, heading := 0.0, 0.0, 0.3
	put := func() {
		pos := geodesy.FromDegrees(origin.Add(frame.East.Scale(east)).Add(frame.North.Scale(north)).Degrees())
		s := 0.0
		if n := len(l.Pos); n > 0 {
			s = l.S[n-1] + geodesy.Distance(l.Pos[n-1], pos)
		}
		l.Pos, l.S, l.Z = append(l.Pos, pos), append(l.S, s), append(l.Z, 200)
	}
	put()
	for _, p := range pieces {
		n := math.Ceil(p.lengthM)
		step, turn := p.lengthM/n, p.turnDeg*math.Pi/180/n
		for range int(n) {
			sin, cos := math.Sincos(heading + turn/2)
			east, north, heading = east+step*sin, north+step*cos, heading+turn
			put()
		}
	}
	return l
}

// recordedBend draws how a bend is recorded: every 1 to 5 s at 10 m/s, with a position
// error of 5 to 8 m correlated over 60 s and a white one of 0.5 m.
func recordedBend(i uint64) (radiusM, turnDeg float64, n coursegen.Noise) {
	radii, turns := []float64{8, 12, 20, 35, 50, 70}, []float64{60, 90, 135, 180}
	return radii[i%6], turns[i/6%4], coursegen.Noise{IntervalS: float64(1 + i%5), PositionM: 5 + float64(i%7)/2, WhiteM: 0.5, StartM: float64(i % 11)}
}

// Bends of 8 to 70 m that turn by 60° and more are found as one bend each, in 97 % of
// recordings. Their turn is read within 15° in 95 %. Their radius is read in 95 % between
// 0.8 of what it is and what it would be if they took 45 m more of road.
func TestBendsOfRecordings(t *testing.T) {
	seed := seeded.First(t)
	found, turned, radius := &tally{t: t}, &tally{t: t}, &tally{t: t}
	for i := range uint64(seeded.Cases(2000)) {
		r, deg, noise := recordedBend(seed + i)
		l := drawn(arc{400, 0}, arcOf(r, deg), arc{400, 0})
		got := dissect(conditioned(t, coursegen.Record(l, noise, seed+i), nil)).Bends
		one := len(got) == 1
		found.add(one, "seed %d: %.0f m, %.0f°, every %.0f s: %+v", seed+i, r, deg, noise.IntervalS, got)
		if one {
			b, widest := got[0], r+45/(deg*math.Pi/180)
			turned.add(math.Abs(b.TurnDeg-deg) <= 15, "seed %d: %.0f m, %.0f°, every %.0f s: turns by %.0f°", seed+i, r, deg, noise.IntervalS, b.TurnDeg)
			radius.add(b.RadiusM >= 0.8*r && b.RadiusM <= widest, "seed %d: %.0f m, %.0f°, every %.0f s: %.0f m", seed+i, r, deg, noise.IntervalS, b.RadiusM)
		}
	}
	found.demand("bends found", 0.03)
	turned.demand("turn within 15°", 0.05)
	radius.demand("radius within its bounds", 0.05)
}

// A chicane is two bends, a roundabout that is left straight ahead three, the middle one
// against the other two; noise joins or drops none in 95 % of recordings every second.
func TestChicanesAndRoundabouts(t *testing.T) {
	seed := seeded.First(t)
	chicanes, roundabouts := &tally{t: t}, &tally{t: t}
	for i := range uint64(seeded.Cases(200)) {
		noise := coursegen.Noise{IntervalS: 1, PositionM: 5 + float64(i%7)/2, WhiteM: 0.3, StartM: float64(i % 11)}
		signs := func(pieces ...arc) string {
			text := ""
			for _, b := range dissect(conditioned(t, coursegen.Record(drawn(pieces...), noise, seed+i), nil)).Bends {
				text += map[bool]string{true: "R", false: "L"}[b.TurnDeg > 0]
			}
			return text
		}
		got := signs(arc{300, 0}, arcOf(20, 60), arc{10, 0}, arcOf(20, -60), arc{300, 0})
		chicanes.add(got == "RL", "seed %d: chicane %s", seed+i, got)
		got = signs(arc{300, 0}, arcOf(20, 65), arcOf(20, -130), arcOf(20, 65), arc{300, 0})
		roundabouts.add(got == "RLR", "seed %d: roundabout %s", seed+i, got)
	}
	chicanes.demand("chicanes", 0.05)
	roundabouts.demand("roundabouts", 0.05)
}

// Straight roads stay straight, however they are recorded: no bend on 100 km.
func TestNoBendsOnStraightRoads(t *testing.T) {
	seed := seeded.First(t)
	l := drawn(arc{20000, 0})
	for i := range uint64(seeded.Cases(100)) {
		noise := coursegen.Noise{IntervalS: float64(1 + i%10), PositionM: 5 + 3*float64(i%4)/3, WhiteM: 0.5 + float64(i%3)/2, StartM: 3 * float64(i%7)}
		if got := dissect(conditioned(t, coursegen.Record(l, noise, seed+i), nil)).Bends; len(got) > 0 {
			t.Errorf("seed %d: %+v: %+v", seed+i, noise, got)
		}
	}
}

// A line that is drawn with a point at each corner, 60 to 300 m apart, has a bend at each;
// one that follows a wide curve in chords has its radius.
func TestBendsOfDrawnLines(t *testing.T) {
	for _, side := range []float64{60, 100, 300} {
		c := ofVertices(t, drawn(arc{side, 0}, arc{1, 90}, arc{side, 0}, arc{1, -90}, arc{side, 0}, arc{1, 60}, arc{side, 0}), side)
		got := dissect(c).Bends
		if len(got) != 3 {
			t.Errorf("sides of %.0f m: %+v", side, got)
			continue
		}
		for i, want := range []float64{90, -90, 60} {
			reads := math.Min(side, 50) / (math.Abs(want) * math.Pi / 180)
			if math.Abs(got[i].TurnDeg-want) > 15 || math.Abs(got[i].RadiusM/reads-1) > 0.25 {
				t.Errorf("sides of %.0f m: turns by %.0f° at %.0f m, want %.0f° at %.0f m", side, got[i].TurnDeg, got[i].RadiusM, want, reads)
			}
		}
	}
	got := dissect(ofVertices(t, drawn(arc{280, 0}, arcOf(70, 180), arc{280, 0}), 70)).Bends
	if len(got) != 1 || math.Abs(got[0].RadiusM/70-1) > 0.1 || math.Abs(got[0].TurnDeg-180) > 10 {
		t.Errorf("a half circle of 70 m in chords as long: %+v", got)
	}
}

// ofVertices makes a course of the points of a line that are about a distance apart and
// its ends.
func ofVertices(t *testing.T, l coursegen.Line, apartM float64) *course.Course {
	t.Helper()
	in := &track.Track{}
	for i, pos := range l.Pos {
		if due := float64(len(in.Points)) * (apartM + 0.5); i == len(l.Pos)-1 || l.S[i] >= due-0.6 {
			in.Points = append(in.Points, track.Point{Pos: pos, Elevation: 200})
		}
	}
	c, err := course.FromTrack(context.Background(), in, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return c
}
