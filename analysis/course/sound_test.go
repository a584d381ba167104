package course

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// unsound returns what no course may be, "" for a sound one.
func unsound(c *Course) string {
	n := len(c.S) - 1
	if n < 1 || c.S[0] != 0 {
		return fmt.Sprintf("%d nodes", n+1)
	}
	for i := range n {
		if !(c.S[i+1] > c.S[i]) {
			return fmt.Sprintf("the axis goes from %v to %v m", c.S[i], c.S[i+1])
		}
	}
	for name, y := range map[string][]float64{"elevation": c.Z, "heading": c.Heading, "curvature": c.Curvature, "ascent": c.AscentTo, "descent": c.DescentTo} {
		for i, v := range y {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Sprintf("%s %v at node %d", name, v, i)
			}
		}
	}
	for i, p := range c.Pos {
		if r := p.Norm(); !(r > 6.3e6 && r < 6.4e6) {
			return fmt.Sprintf("position %v at node %d", p, i)
		}
	}
	if c.Z != nil {
		up, down, rise := c.AscentTo[n], c.DescentTo[n], c.Z[n]-c.Z[0]
		if math.Abs(up-down-rise) > 1e-6*(1+up+down) {
			return fmt.Sprintf("ascent %v less descent %v is not the rise %v", up, down, rise)
		}
	}
	return unsoundParts(c)
}

// unsoundParts returns what is wrong with the parts and the warnings.
func unsoundParts(c *Course) string {
	end, up := 0.0, 0.0
	for _, p := range c.Parts {
		if p.StartM != end || p.EndM <= p.StartM {
			return fmt.Sprintf("a part from %v to %v m after %v m", p.StartM, p.EndM, end)
		}
		end, up = p.EndM, up+p.AscentM
	}
	if math.Abs(end-c.LengthM()) > 1e-9*(1+end) || math.Abs(up-c.AscentM(0, end)) > 1e-6*(1+up) {
		return fmt.Sprintf("parts up to %v of %v m with an ascent of %v of %v m", end, c.LengthM(), up, c.AscentM(0, c.LengthM()))
	}
	for _, w := range c.Quality.Warnings {
		if w.AtM < 0 || w.AtM > c.LengthM()*1.5+1 || w.Code == "" || w.Detail == "" {
			return fmt.Sprintf("warning %+v", w)
		}
	}
	return ""
}

var smoothings = []Smoothing{Auto, None, Light, Strong}

// Courses of hardly any line, or a very long one, say what can be said.
func TestDegenerateCourses(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	nan := math.NaN()
	row := func(n int, step float64, z func(i int) float64) *track.Track {
		tr := &track.Track{}
		for i := range n {
			tr.Points = append(tr.Points, plane(step*float64(i), 0, z(i)))
		}
		return tr
	}
	level := func(int) float64 { return 120 }
	blob := &track.Track{}
	for range 1000 {
		blob.Points = append(blob.Points, plane(20*r.Float64(), 20*r.Float64(), 100+r.Float64()))
	}
	far := &track.Track{Points: []track.Point{{Pos: geodesy.FromDegrees(50, 0), Elevation: 10}, {Pos: geodesy.FromDegrees(50, 40), Elevation: 900}}}
	for name, tt := range map[string]struct {
		in       *track.Track
		from, to float64 // the length in metres
		warned   string
	}{
		"no elevation at all":    {row(300, 8, func(int) float64 { return nan }), 2391, 2393, "elevation-missing"},
		"two points":             {row(2, 500, level), 499.9, 500.1, "elevation-constant"},
		"three points":           {row(3, 500, func(i int) float64 { return float64(20 * i) }), 999.9, 1000.1, "sparse-points"},
		"ten metres":             {row(3, 5, level), 9.99, 10.01, "elevation-constant"},
		"a foot":                 {row(2, 0.3, level), 0.29, 0.31, "elevation-constant"},
		"all elevations equal":   {row(300, 8, level), 2391, 2393, "elevation-constant"},
		"one elevation":          {row(300, 8, func(i int) float64 { return []float64{nan, 77}[i/299] }), 2391, 2393, "elevation-missing"},
		"standing still":         {blob, 0.1, 700, "one-place"},
		"3,000 km of one stroke": {far, 2.8e6, 2.9e6, "sparse-points"},
	} {
		for _, s := range smoothings {
			opt := Defaults()
			opt.Smoothing = s
			c := mustTrack(t, tt.in, opt)
			if why := unsound(c); why != "" {
				t.Errorf("%s, %s: %s", name, s, why)
			}
			if l := c.LengthM(); s != None && (l < tt.from || l > tt.to) {
				t.Errorf("%s, %s: %.2f m long", name, s, l)
			}
			if codes := codesOf(c); s != None && !codes[tt.warned] {
				t.Errorf("%s, %s: no warning %q among %v", name, s, tt.warned, c.Quality.Warnings)
			}
		}
	}
}

func codesOf(c *Course) map[string]bool {
	codes := map[string]bool{}
	for _, w := range c.Quality.Warnings {
		codes[w.Code] = true
	}
	return codes
}

// FuzzFromTrack takes each eight bytes for a point: steps east and north in metres and
// an elevation in decimetres, of which some values stand for none. Whatever line that
// is, the course is refused with a reason or sound.
func FuzzFromTrack(f *testing.F) {
	r := rand.New(rand.NewPCG(1, 4))
	for _, points := range []int{2, 3, 12, 60} {
		b := fuzzBytes(r, points)
		f.Add(b, uint8(0), uint8(0))
		f.Add(b, uint8(points), uint8(2))
	}
	f.Fuzz(func(t *testing.T, b []byte, smoothing, laps uint8) {
		opt := Defaults()
		opt.Smoothing, opt.Laps = smoothings[smoothing%4], int(laps%4)
		why, err := unlawful(fuzzTrack(b), opt, false)
		var refused *Error
		if errors.As(err, &refused) && refused.Code != "" {
			return
		}
		if err != nil || why != "" {
			t.Fatal(err, why)
		}
	})
}

// fuzzTrack reads at most 400 points, as long as the line is not too long to be tried
// often.
func fuzzTrack(b []byte) *track.Track {
	tr := &track.Track{}
	x, y, way := 0.0, 0.0, 0.0
	for ; len(b) >= 8 && len(tr.Points) < 400 && way < 100_000; b = b[8:] {
		value := func(i int) float64 { return float64(int16(binary.LittleEndian.Uint16(b[i:]))) }
		scale := []float64{0.01, 0.1, 1, 0}[b[6]%4]
		x, y = x+scale*value(0), y+scale*value(2)
		way += scale * (math.Abs(value(0)) + math.Abs(value(2)))
		z := value(4) / 10
		if b[7]%4 == 3 {
			z = math.NaN()
		}
		tr.Points = append(tr.Points, plane(x, y, z))
	}
	return tr
}
