package coursegen

import (
	"math"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// straightLine is a road of a length in metres due east that climbs evenly.
func straightLine(lengthM, gradient float64) Line {
	l := lay(geodesy.FromDegrees(47, 3), path{{}, {E: lengthM}}.even())
	for i := range l.Z {
		l.Z[i] = 100 + gradient*l.S[i]
	}
	return l
}

func TestRecordWithoutNoiseIsTheLine(t *testing.T) {
	l := straightLine(1000, 0.05)
	pts := Record(l, Noise{SpacingM: 10}, 1)
	if n := len(pts); n < 100 || n > 102 {
		t.Fatalf("%d points", n)
	}
	for i, p := range pts[:100] {
		if d := geodesy.Distance(l.Pos[0], p.Pos); math.Abs(d-10*float64(i)) > 1e-4 {
			t.Errorf("point %d is at %.5f m", i, d)
		}
		if want := 100 + 0.5*float64(i); math.Abs(p.Elevation-want) > 1e-4 {
			t.Errorf("point %d is at %.5f m above the sea, want %.5f", i, p.Elevation, want)
		}
	}
	if last := pts[len(pts)-1]; geodesy.Distance(last.Pos, l.Pos[len(l.Pos)-1]) > 1e-6 {
		t.Error("the recording does not end at the line's end")
	}
}

// errorsOf returns the errors of a recording at 1 s on the flat in metres to the
// north, where no step along the road mixes in, and in elevation.
func errorsOf(n Noise, seed uint64) (north, up []float64) {
	l := straightLine(60000, 0)
	n.IntervalS = 1
	base := geodesy.FrameAt(l.Pos[0]).North
	r := recorder{line: l}
	for i, p := range Record(l, n, seed) {
		at := math.Min(10*float64(i), l.LengthM())
		north = append(north, p.Pos.Sub(r.position(at)).Dot(base))
		up = append(up, p.Elevation-100)
	}
	return north, up
}

func correlation(x []float64, lag int) (sigma, rho float64) {
	var square, product float64
	for i := lag; i < len(x); i++ {
		square += x[i] * x[i]
		product += x[i] * x[i-lag]
	}
	return math.Sqrt(square / float64(len(x)-lag)), product / square
}

func TestRecordedErrorsHaveTheStatedSizeAndMemory(t *testing.T) {
	var sigma, rho, white, up float64
	const runs = 20
	for seed := range uint64(runs) {
		north, _ := errorsOf(Noise{PositionM: 8}, seed)
		s, r := correlation(north, 60)
		sigma, rho = sigma+s*s/runs, rho+r/runs
		north, z := errorsOf(Noise{WhiteM: 0.5, ElevationM: 0.3}, seed)
		w, r := correlation(north, 1)
		if math.Abs(r) > 0.06 {
			t.Errorf("seed %d: white errors have a correlation of %.3f", seed, r)
		}
		u, _ := correlation(z, 1)
		white, up = white+w*w/runs, up+u*u/runs
	}
	t.Logf("σ north %.2f m with correlation %.2f after 60 s, white %.3f m, up %.3f m", math.Sqrt(sigma), rho, math.Sqrt(white), math.Sqrt(up))
	if s := math.Sqrt(sigma); math.Abs(s-8/math.Sqrt2) > 0.3 {
		t.Errorf("σ north is %.2f m, want %.2f m", s, 8/math.Sqrt2)
	}
	if math.Abs(rho-math.Exp(-1)) > 0.06 {
		t.Errorf("correlation after 60 s is %.3f, want 1/e", rho)
	}
	if s := math.Sqrt(white); math.Abs(s-0.5) > 0.01 {
		t.Errorf("white σ is %.3f m, want 0.5 m", s)
	}
	if s := math.Sqrt(up); math.Abs(s-0.3) > 0.01 {
		t.Errorf("elevation σ is %.3f m, want 0.3 m", s)
	}
}

func TestRecordSpoils(t *testing.T) {
	l := straightLine(5000, 0)
	plain := Record(l, Noise{SpacingM: 10}, 1)
	count := func(pts []track.Point, odd func(i int) bool) int {
		n := 0
		for i := 1; i < len(pts); i++ {
			if odd(i) {
				n++
			}
		}
		return n
	}
	for _, c := range []struct {
		name  string
		noise Noise
		check func(pts []track.Point) bool
	}{
		{"elevation spikes", Noise{ElevationSpikes: 3}, func(pts []track.Point) bool {
			return count(pts, func(i int) bool { return math.Abs(pts[i].Elevation-100) > 14 }) == 3
		}},
		{"position spikes", Noise{PositionSpikes: 1}, func(pts []track.Point) bool {
			return count(pts, func(i int) bool { return geodesy.Chord(pts[i].Pos, plain[i].Pos) > 79 }) == 1
		}},
		{"duplicates", Noise{Duplicates: 7}, func(pts []track.Point) bool {
			return count(pts, func(i int) bool { return pts[i] == pts[i-1] }) == 7
		}},
		{"stops", Noise{Stops: 2}, func(pts []track.Point) bool { n := len(pts) - len(plain); return n >= 40 && n <= 240 }},
		{"gap", Noise{GapM: 500}, func(pts []track.Point) bool {
			return count(pts, func(i int) bool { return geodesy.Chord(pts[i].Pos, pts[i-1].Pos) > 490 }) == 1
		}},
		{"tunnel", Noise{TunnelM: 600}, func(pts []track.Point) bool {
			low := 100.0
			for _, p := range pts {
				low = math.Min(low, p.Elevation)
			}
			return math.Abs(low-80) < 0.1
		}},
		{"rounding", Noise{ElevationM: 1, RoundM: 1}, func(pts []track.Point) bool {
			return count(pts, func(i int) bool { return pts[i].Elevation != math.Trunc(pts[i].Elevation) }) == 0
		}},
		{"a late start", Noise{StartM: 8}, func(pts []track.Point) bool {
			return math.Abs(geodesy.Chord(pts[0].Pos, l.Pos[0])-8) < 1e-3
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.noise.SpacingM = 10
			if pts := Record(l, c.noise, 5); !c.check(pts) {
				t.Errorf("%d points do not show it", len(pts))
			}
		})
	}
}

func TestSameSeedSameRecording(t *testing.T) {
	l, _ := Random(FigureEight, 3)
	n := RandomNoise(3)
	a, b := Record(l, n, 9), Record(l, n, 9)
	if len(a) != len(b) {
		t.Fatalf("%d and %d points", len(a), len(b))
	}
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("point %d differs", i)
		}
	}
}
