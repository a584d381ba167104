package course

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// rolling is the elevation of an invented road: gradients of up to 6 %.
func rolling(s float64) float64 {
	return 300 + 22*math.Sin(s/900) + 8*math.Sin(s/240+1)
}

// spoiledRoad returns 12 km of the rolling road every 8 m, with scatter of a deviation
// in metres, changed by spoil.
func spoiledRoad(seed uint64, noise float64, spoil func(s, z float64) float64) (s, z []float64) {
	r := rand.New(rand.NewPCG(12, seed))
	for at := 0.0; at <= 12000; at += 8 {
		s = append(s, at)
		z = append(z, spoil(at, rolling(at)+noise*r.NormFloat64()))
	}
	return s, z
}

// from returns a spoiling that holds between two places.
func from(a, b float64, change func(s, z float64) float64) func(s, z float64) float64 {
	return func(s, z float64) float64 {
		if s < a || s >= b {
			return z
		}
		return change(s, z)
	}
}

// to is a change to one value.
func to(v float64) func(s, z float64) float64 {
	return func(float64, float64) float64 { return v }
}

// by is a change by a height.
func by(h float64) func(s, z float64) float64 {
	return func(_, z float64) float64 { return z + h }
}

// hill is a change over 400 m from a place on, with sides of a length.
func hill(at, length, side, height float64) func(s, z float64) float64 {
	return from(at, at+length, func(s, z float64) float64 {
		return z + height*min(1, (s-at)/side, (at+length-s)/side)
	})
}

// artefacts are faults of elevations, each with its warning, its place, and how far the
// mended elevations may be off, in metres, beside the noise; NaN where they stay.
var artefacts = []struct {
	name  string
	spoil func(s, z float64) float64
	code  string
	at    float64
	off   float64
}{
	{"zeros for missing", from(3000, 5000, to(0)), "elevation-placeholder", 3000, math.NaN()}, // the road between is not in the file
	{"zeros for a short while", from(3000, 3100, to(0)), "elevation-placeholder", 3000, 1},
	{"zeros until the first fix", from(0, 160, to(0)), "elevation-placeholder", 0, 8},
	{"a code for missing at the end", from(11960, 13000, to(-32768)), "elevation-placeholder", 11960, 3},
	{"a great number for missing", from(6000, 6080, to(8191.875)), "elevation-placeholder", 6000, 1},
	{"an altimeter that stood still", from(4000, 4400, to(rolling(3992))), "elevation-frozen", 4000, 4},
	{"a spike", from(6000, 6020, by(40)), "spikes-repaired", 6000, 1},
	{"a wrong first point", from(0, 8, by(40)), "spikes-repaired", 0, 1},
	{"a hill over a tunnel", hill(5000, 1200, 100, 60), "elevation-tunnel", 5000, 14},
	{"a valley under a bridge", hill(5000, 160, 60, -30), "elevation-tunnel", 5000, 2},
	{"a step early on", from(0, 4000, by(-25)), "elevation-step", 4000, 1},
	{"a step late", from(9000, 12001, by(14)), "elevation-step", 9000, 1},
	{"a step there and back", from(3000, 6000, by(14)), "elevation-step", 3000, 1},
	{"a step over three samples there and back", hill(3000, 3000, 24, 30), "elevation-step", 3000, 2},
	{"all one value", to(120), "elevation-constant", math.NaN(), math.NaN()},
	{"below the sea", func(_, z float64) float64 { return -z }, "elevation-negative", math.NaN(), math.NaN()},
	{"far too steep", func(s, z float64) float64 { return z + 7*rolling(s) }, "elevation-unit", math.NaN(), math.NaN()},
	{"cells of a coarse model", func(s, _ float64) float64 { return rolling(90*math.Floor(s/90) + 45) }, "elevation-terraced", math.NaN(), 2},
}

func TestArtefactsAreToldAndMended(t *testing.T) {
	for _, a := range artefacts {
		for _, noise := range []float64{0, 0.1, 0.4} {
			s, z := spoiledRoad(1, noise, a.spoil)
			c, err := FromProfile(context.Background(), s, z, Defaults())
			if err != nil {
				t.Fatal(err)
			}
			wantWarning(t, a.name, c, a.code, a.at)
			if worst := worstAfter(c); worst > a.off+3*noise {
				t.Errorf("%s, noise %.1f m: off by %.1f m", a.name, noise, worst)
			}
		}
	}
}

// Without smoothing every elevation stays, and what is wrong is told all the same.
func TestArtefactsAreToldWithoutSmoothing(t *testing.T) {
	opt := Defaults()
	opt.Smoothing = None
	for _, a := range artefacts {
		s, z := spoiledRoad(1, 0, a.spoil)
		c, err := FromProfile(context.Background(), s, z, opt)
		if err != nil {
			t.Fatal(err)
		}
		code := a.code
		if code == "spikes-repaired" {
			code = "elevation-spikes"
		}
		wantWarning(t, a.name, c, code, a.at)
		if !slices.Equal(c.Z, z) {
			t.Errorf("%s: elevations were changed", a.name)
		}
	}
}

// wantWarning demands one kind of warning about the elevations, and its place.
func wantWarning(t *testing.T, name string, c *Course, code string, at float64) {
	t.Helper()
	found := false
	for _, w := range c.Quality.Warnings {
		switch {
		case w.Code != code && w.Code != "gradient-implausible":
			t.Errorf("%s: told as %+v", name, w)
		case w.Code == code && !found:
			if found = true; !(math.Abs(w.AtM-at) <= 60) && !math.IsNaN(at) {
				t.Errorf("%s: told at %.0f m, want %.0f m", name, w.AtM, at)
			}
		}
	}
	if !found {
		t.Errorf("%s: no warning %q among %+v", name, code, c.Quality.Warnings)
	}
}

// worstAfter returns how far the course is off the rolling road, but for one level.
func worstAfter(c *Course) float64 {
	var off []float64
	for i, s := range c.S {
		off = append(off, c.Z[i]-rolling(s))
	}
	slices.Sort(off)
	level := off[len(off)/2]
	return max(off[len(off)-1]-level, level-off[0])
}

// Roads that look like artefacts stay as they are, and nothing is told of them.
func TestSoundElevationsStay(t *testing.T) {
	for name, road := range map[string]func(s, z float64) float64{
		"a rolling road":               func(_, z float64) float64 { return z },
		"a valley of 15 %":             func(s, z float64) float64 { return z - hillside(s, 5000, 400, 20) },
		"a steep street up and down":   hill(5000, 400, 150, 40),
		"a level promenade":            func(_, z float64) float64 { return min(z, 300) },
		"a road down to the sea":       func(_, z float64) float64 { return max(z-300, 0) },
		"a polder":                     func(_, z float64) float64 { return (z - 300) / 10 },
		"a kilometre at 20 %":          hill(3000, 3000, 1000, 200),
		"a salt lake below the sea":    func(_, z float64) float64 { return z/10 - 40 },
		"rounded to whole metres":      func(_, z float64) float64 { return math.Round(z) },
		"rounded to tens of a metre":   func(_, z float64) float64 { return math.Round(10*z) / 10 },
		"rounded to whole feet":        func(_, z float64) float64 { return math.Round(z/0.3048) * 0.3048 },
		"rounded to ten metres":        func(_, z float64) float64 { return math.Round(z/10) * 10 },
		"a wall of 25 % in the middle": hill(6000, 4000, 100, 25),
	} {
		s, z := spoiledRoad(1, 0, road)
		c, err := FromProfile(context.Background(), s, z, Defaults())
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range c.Quality.Warnings {
			if w.Code != "elevation-quantised" && w.Code != "elevation-negative" {
				t.Errorf("%s: told %+v", name, w)
			}
		}
	}
}

// hillside is a bell over a length from a place on.
func hillside(s, at, length, height float64) float64 {
	if s < at || s > at+length {
		return 0
	}
	sin := math.Sin(math.Pi * (s - at) / length)
	return height * sin * sin
}

// A level that steps away within a few samples and back kilometres later is no hill over
// a tunnel: what the road does between is its own.
func TestRaisedLevelIsNoTunnel(t *testing.T) {
	gentle := func(s float64) float64 { return 300 + 5*math.Sin(s/300) }
	raise := hill(3000, 3000, 32, 20)
	s, z := spoiledRoad(1, 0, func(s, _ float64) float64 { return raise(s, gentle(s)) })
	c, err := FromProfile(context.Background(), s, z, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if codesOf(c)["elevation-tunnel"] {
		t.Errorf("told %+v", c.Quality.Warnings)
	}
	got, want := c.ElevationAt(5200)-c.ElevationAt(4200), gentle(5200)-gentle(4200)
	if math.Abs(got-want) > 1 {
		t.Errorf("a rise of %.1f m between the steps, want %.1f m", got, want)
	}
}
