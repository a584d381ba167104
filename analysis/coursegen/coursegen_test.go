package coursegen

import (
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/geodesy"
)

// seeds is how many courses of each kind a test looks at.
func seeds(t *testing.T) uint64 {
	t.Helper()
	if testing.Short() {
		return 2
	}
	return 5
}

func forEach(t *testing.T, kind Kind, check func(t *testing.T, seed uint64, l Line, truth Truth)) {
	t.Helper()
	for seed := range seeds(t) {
		l, truth := Random(kind, seed)
		check(t, seed, l, truth)
	}
}

func TestLinesAreSound(t *testing.T) {
	for _, kind := range Kinds() {
		forEach(t, kind, func(t *testing.T, seed uint64, l Line, truth Truth) {
			if len(l.Pos) != len(l.S) || len(l.Z) != len(l.S) || l.S[0] != 0 {
				t.Fatalf("kind %s, seed %d: axes of %d, %d and %d nodes", kind, seed, len(l.Pos), len(l.S), len(l.Z))
			}
			if l.LengthM() < 900 || l.LengthM() > 140000 || truth.LengthM != l.LengthM() {
				t.Errorf("kind %s, seed %d: %.0f m long, truth says %.0f m", kind, seed, l.LengthM(), truth.LengthM)
			}
			for i := 1; i < len(l.S); i++ {
				d := l.S[i] - l.S[i-1]
				if math.Abs(d-geodesy.Distance(l.Pos[i-1], l.Pos[i])) > 1e-6 || d < 0.4 || d > 1.2 {
					t.Fatalf("kind %s, seed %d: step %d is %v m", kind, seed, i, d)
				}
				if g := (l.Z[i] - l.Z[i-1]) / d; math.Abs(g) > 0.35 {
					t.Fatalf("kind %s, seed %d: gradient %.2f", kind, seed, g)
				}
			}
		})
	}
}

func TestLapsAreTheSameGround(t *testing.T) {
	for _, kind := range []Kind{Lapped, LeadIn, RunOut, Fraction, FigureEight, LollipopLaps, Shuttle, TwoCircuits, Nested, Alternating, BothWays} {
		forEach(t, kind, func(t *testing.T, seed uint64, l Line, truth Truth) {
			if truth.Laps < 2 || len(truth.LapStarts) != truth.Laps || truth.Shape != "lapped" {
				t.Fatalf("kind %s, seed %d: %d laps, starts %v, %q", kind, seed, truth.Laps, truth.LapStarts, truth.Shape)
			}
			r := recorder{line: l}
			for k := 1; k < truth.Laps; k++ {
				for x := 0.0; x <= 1; x += 0.05 {
					s := x * truth.LapLengthM
					d := geodesy.Chord(r.position(truth.LapStarts[0]+s), r.position(truth.LapStarts[k]+s))
					dz := r.elevation(truth.LapStarts[0]+s) - r.elevation(truth.LapStarts[k]+s)
					if d > 0.002 || math.Abs(dz) > 0.001 {
						t.Fatalf("kind %s, seed %d: lap %d at %.0f m is off by %.4f m, %.4f m up", kind, seed, k+1, s, d, dz)
					}
				}
			}
			end := truth.LapStarts[truth.Laps-1] + truth.LapLengthM
			toEnd := kind == Lapped || kind == LeadIn || kind == Fraction || kind == FigureEight || kind == Shuttle || kind == Alternating
			if end > l.LengthM()+0.01 || (toEnd && math.Abs(end-l.LengthM()) > 0.01) {
				t.Errorf("kind %s, seed %d: laps end at %.2f m of %.2f m", kind, seed, end, l.LengthM())
			}
		})
	}
}

// A closed run that is ridden twice in a row is a lap. Looking for one by force:
// the course at s + L stays with the course at s for as long as L.
func TestLapFreeCoursesHaveNoLap(t *testing.T) {
	for _, kind := range []Kind{OutAndBack, Lollipop, Circuit, PointToPoint, LapFree, TwoSides, Repeated} {
		forEach(t, kind, func(t *testing.T, seed uint64, l Line, truth Truth) {
			if truth.Laps != 0 {
				t.Fatalf("kind %s, seed %d: %d laps", kind, seed, truth.Laps)
			}
			if at, length := longestRepeat(l); length > 0.8 {
				t.Errorf("kind %s, seed %d: %.2f of a closed run is ridden again from %.0f m on", kind, seed, length, at)
			}
		})
	}
}

// longestRepeat returns the greatest share of a closed run that is ridden again
// right afterwards within 30 m, and where.
func longestRepeat(l Line) (at, share float64) {
	step := max(15, l.LengthM()/1500)
	r := recorder{line: l}
	var pos []geodesy.Vec
	for s := 0.0; s < l.LengthM(); s += step {
		pos = append(pos, r.position(s))
	}
	for period := max(2, int(300/step)); period < len(pos); period++ {
		run := 0
		for i := period; i+1 < len(pos); i++ {
			if geodesy.Chord(pos[i], pos[i-period]) > 30 || pos[i+1].Sub(pos[i]).Dot(pos[i-period+1].Sub(pos[i-period])) <= 0 {
				run = 0
				continue
			}
			if run++; float64(run)/float64(period) > share {
				at, share = float64(i-run)*step, float64(run)/float64(period)
			}
		}
	}
	return at, share
}

// What is said to be ridden again is the same ground, and what is said of two circuits
// does not overlap.
func TestRepeatsAndOtherCircuitsAreTheSameGround(t *testing.T) {
	for _, kind := range Kinds() {
		forEach(t, kind, func(t *testing.T, seed uint64, l Line, truth Truth) {
			repeats := truth.Repeats
			for _, o := range truth.Others {
				if o.Laps < 2 {
					t.Fatalf("%s, seed %d: other circuit %+v", kind, seed, o)
				}
				for k := 1.0; k < float64(o.Laps); k++ {
					repeats = append(repeats, Repeat{o.StartM, o.StartM + o.LengthM, o.StartM + k*o.LengthM, o.StartM + (k+1)*o.LengthM})
				}
				covered := float64(truth.Laps) * truth.LapLengthM
				if mine := float64(o.Laps) * o.LengthM; mine > covered+1 {
					t.Errorf("%s, seed %d: other circuit covers %.0f m, the main one %.0f m", kind, seed, mine, covered)
				}
				if o.StartM < truth.LapStarts[0]+covered-1 && o.StartM+float64(o.Laps)*o.LengthM > truth.LapStarts[0]+1 {
					t.Errorf("%s, seed %d: other circuit %+v overlaps the laps from %.0f m", kind, seed, o, truth.LapStarts[0])
				}
			}
			r := recorder{line: l}
			for _, again := range repeats {
				for f := 0.0; f <= 1; f += 0.05 {
					a, b := again.StartM+f*(again.EndM-again.StartM), again.AgainStartM+f*(again.AgainEndM-again.AgainStartM)
					if d := geodesy.Chord(r.position(a), r.position(b)); d > 0.01 {
						t.Fatalf("%s, seed %d: %.0f m and %.0f m are %.3f m apart", kind, seed, a, b, d)
					}
				}
			}
		})
	}
}

func TestEndsMatchTheShape(t *testing.T) {
	for _, kind := range []Kind{OutAndBack, Lollipop, Circuit, PointToPoint, TwoSides, Repeated} {
		forEach(t, kind, func(t *testing.T, seed uint64, l Line, truth Truth) {
			apart := geodesy.Distance(l.Pos[0], l.Pos[len(l.Pos)-1])
			if closed := apart < 0.01; closed != (kind != PointToPoint) {
				t.Errorf("kind %s, seed %d: ends %.1f m apart", kind, seed, apart)
			}
			if kind == PointToPoint && apart < 0.1*l.LengthM() {
				t.Errorf("seed %d: ends %.0f m apart on %.0f m", seed, apart, l.LengthM())
			}
		})
	}
}

func TestMarksArePassed(t *testing.T) {
	for _, kind := range Kinds() {
		forEach(t, kind, func(t *testing.T, seed uint64, l Line, truth Truth) {
			r := recorder{line: l}
			for _, m := range truth.Marks {
				if len(m.At) == 0 {
					t.Errorf("kind %s, seed %d: %s is never passed", kind, seed, m.Name)
				}
				for _, at := range m.At {
					if d := geodesy.Chord(r.position(at), m.Pos); d > passM {
						t.Errorf("kind %s, seed %d: %s is %.1f m off at %.0f m", kind, seed, m.Name, d, at)
					}
				}
			}
		})
	}
}

func TestClimbsOfKnownProfiles(t *testing.T) {
	flat := func(n int) []float64 { return make([]float64, n) }
	ramp := func(n int, g float64) []float64 {
		out := flat(n)
		for i := range out {
			out[i] = g
		}
		return out
	}
	for _, c := range []struct {
		name  string
		parts [][]float64
		want  []Stretch
	}{
		{"flat", [][]float64{flat(1000)}, nil},
		{"one ramp", [][]float64{flat(100), ramp(1000, 0.05), flat(100)}, []Stretch{{100, 1100, 50}}},
		{"too little", [][]float64{flat(100), ramp(1000, 0.0275), flat(100)}, nil},
		{"high enough but too gentle", [][]float64{ramp(2000, 0.0275)}, nil},
		{"a dip that is worth crossing", [][]float64{ramp(500, 0.06), ramp(100, -0.05), ramp(500, 0.06)}, []Stretch{{0, 1100, 55}}},
		{"a dip that is not", [][]float64{ramp(500, 0.06), ramp(500, -0.05), ramp(500, 0.06)}, []Stretch{{0, 500, 30}, {1000, 1500, 30}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := Line{S: []float64{0}, Z: []float64{0}}
			for _, part := range c.parts {
				for _, g := range part {
					l.S = append(l.S, l.S[len(l.S)-1]+1)
					l.Z = append(l.Z, l.Z[len(l.Z)-1]+g)
				}
			}
			got := Climbs(l)
			if len(got) != len(c.want) {
				t.Fatalf("got %v, want %v", got, c.want)
			}
			for i, w := range c.want {
				if g := got[i]; math.Abs(g.StartM-w.StartM) > 1 || math.Abs(g.EndM-w.EndM) > 1 || math.Abs(g.GainM-w.GainM) > 0.1 {
					t.Errorf("got %v, want %v", got, c.want)
				}
			}
		})
	}
}

func TestAscentOver(t *testing.T) {
	for _, c := range []struct {
		z         []float64
		threshold float64
		want      float64
	}{
		{[]float64{10, 20, 30}, 1, 20},
		{[]float64{10, 20, 20, 15, 15, 18}, 1, 13},
		{[]float64{10, 20, 19.5, 30}, 1, 20},
		{[]float64{10, 10.5, 5, 8}, 1, 3},
		{[]float64{10, 20, 19.5}, 1, 9.5},
		// An example list worked by hand, raw and at thresholds of 2 and 3 m.
		{[]float64{12, 17, 15, 20, 22, 18, 15, 16, 14, 12}, 0, 13},
		{[]float64{12, 17, 15, 20, 22, 18, 15, 16, 14, 12}, 2, 12},
		{[]float64{12, 17, 15, 20, 22, 18, 15, 16, 14, 12}, 3, 10},
	} {
		if got := ascentOver(c.z, c.threshold); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("ascent of %v over %v m: %v, want %v", c.z, c.threshold, got, c.want)
		}
	}
}

func TestNearlyLaps(t *testing.T) {
	round := []block{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	for _, c := range []struct {
		name string
		walk []block
		want bool
	}{
		{"once round", append(round[:4:4], block{0, 0}), false},
		{"one and a half times", append(round[:4:4], round[0], round[1], round[2]), false},
		{"one and three quarters", append(round[:4:4], round...), true},
		{"twice", append(round[:4:4], round[0], round[1], round[2], round[3], round[0]), true},
		{"straight on", []block{{0, 0}, {1, 0}, {2, 0}, {3, 0}, {4, 0}, {5, 0}, {6, 0}}, false},
	} {
		if got := nearlyLaps(c.walk); got != c.want {
			t.Errorf("%s: %t", c.name, got)
		}
	}
}

func TestStreetWalksHaveNoLap(t *testing.T) {
	for seed := range 20 * seeds(t) {
		l := lay(geodesy.FromDegrees(40, 10), streetWalk(rand.New(rand.NewPCG(seed, 1)), 100, 60))
		if at, share := longestRepeat(l); share > 0.8 {
			t.Errorf("seed %d: %.2f of a closed run is ridden again from %.0f m on", seed, share, at)
		}
	}
}

// A place is not for sure passed once where the line comes near it a second time, nor
// where it turns back near by.
func TestPassesAreSure(t *testing.T) {
	for _, c := range []struct {
		gapM float64
		node int
		sure bool
	}{{1, 500, true}, {50, 500, false}, {200, 500, true}, {1, 950, false}} {
		p := path{{}, {E: 1000}, {E: 1000, N: c.gapM}, {N: c.gapM}}
		l := lay(geodesy.FromDegrees(40, 10), p.even())
		if at, sure := passes(l, l.Pos[c.node]); sure != c.sure {
			t.Errorf("with a road %.0f m away: node %d passed at %.0f, and that is %t", c.gapM, c.node, at, sure)
		}
	}
}
