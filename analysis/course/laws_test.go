package course

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
	"parcours.example/internal/figures"
	"parcours.example/internal/seeded"
)

// unlawful returns which law of courses a line breaks, "" for none: of the same ground elsewhere
// on Earth, higher up, ridden the other way, or with every height doubled, what is said is the
// same, or follows from what it was. That holds of roads as they are; of lines that are no roads,
// whose smoothing and mending hang by a thread, only while little is done to them.
func unlawful(tr *track.Track, opt Options, road bool) (string, error) {
	c, err := FromTrack(context.Background(), tr, opt)
	if err != nil {
		return "", err
	}
	if why := unsound(c); why != "" {
		return why, nil
	}
	laws := map[string]func(*track.Track, Options) (*Course, error){}
	if road || opt.Smoothing == None || opt.Smoothing == Light {
		laws["turned about the Earth's axis"], laws["on the other hemisphere"] = turnedAbout, southward
		if !codesOf(c)["elevation-placeholder"] { // such a one is no other height
			laws["higher up"] = raised
		}
	}
	// Laps aren't the same backwards, nor does double what they may miss each other by.
	if opt.Laps == 0 && (road || opt.Smoothing == None && c.Quality.PointsDropped == 0) {
		laws["the other way"] = reversed
	}
	if opt.Laps == 0 && opt.Smoothing == None { // noise has a scale of its own
		laws["doubled heights"] = doubled
	}
	share, metres := 1e-6, 1e-6
	if opt.Smoothing != None { // how much there is to smooth is estimated
		share, metres = 1e-4, 0.2
	}
	for name, law := range laws {
		other, refused := law(tr, opt)
		if refused != nil {
			return fmt.Sprintf("%s: refused: %v", name, refused), nil
		}
		if why := unlike(c, other, share, metres); why != "" {
			return name + ": " + why, nil
		}
	}
	return "", nil
}

// moved returns a track with other points.
func moved(tr *track.Track, move func(track.Point) track.Point) *track.Track {
	out := *tr
	out.Points = nil
	for _, p := range tr.Points {
		out.Points = append(out.Points, move(p))
	}
	return &out
}

// turnedAbout moves a line a quarter of the way around the Earth, which is exact in coordinates.
func turnedAbout(tr *track.Track, opt Options) (*Course, error) {
	return FromTrack(context.Background(), moved(tr, func(p track.Point) track.Point {
		p.Pos = geodesy.Vec{X: -p.Pos.Y, Y: p.Pos.X, Z: p.Pos.Z}
		return p
	}), opt)
}

// southward moves a line to the other hemisphere, where it bends the other way.
func southward(tr *track.Track, opt Options) (*Course, error) {
	return FromTrack(context.Background(), moved(tr, func(p track.Point) track.Point {
		p.Pos.Z = -p.Pos.Z
		return p
	}), opt)
}

// raised moves a line up.
func raised(tr *track.Track, opt Options) (*Course, error) {
	return FromTrack(context.Background(), moved(tr, func(p track.Point) track.Point {
		p.Elevation += 512
		return p
	}), opt)
}

// reversed rides a line the other way, and takes its ups for downs.
func reversed(tr *track.Track, opt Options) (*Course, error) {
	opt.Reverse = true
	c, err := FromTrack(context.Background(), tr, opt)
	if err == nil {
		c.AscentTo, c.DescentTo = c.DescentTo, c.AscentTo
	}
	return c, err
}

// doubled doubles every height and the one from which on a rise counts, and halves the sums.
func doubled(tr *track.Track, opt Options) (*Course, error) {
	opt.AscentThresholdM *= 2
	c, err := FromTrack(context.Background(), moved(tr, func(p track.Point) track.Point {
		p.Elevation *= 2
		return p
	}), opt)
	if err != nil {
		return nil, err
	}
	for _, sums := range [][]float64{c.AscentTo, c.DescentTo} {
		for i := range sums {
			sums[i] /= 2
		}
	}
	return c, nil
}

// unlike returns in what two courses differ by more than a share and some metres, "" for nothing.
func unlike(a, b *Course, share, metres float64) string {
	differ := func(x, y float64) bool { return !(math.Abs(x-y) <= share*math.Abs(x)+metres) }
	if differ(a.LengthM(), b.LengthM()) {
		return fmt.Sprintf("%v m against %v m", a.LengthM(), b.LengthM())
	}
	if (a.Z == nil) != (b.Z == nil) {
		return "elevations are known of one only"
	}
	if a.Z == nil {
		return ""
	}
	up, down := a.AscentM(0, a.LengthM()), a.DescentM(0, a.LengthM())
	up2, down2 := b.AscentM(0, b.LengthM()), b.DescentM(0, b.LengthM())
	if differ(up, up2) || differ(down, down2) {
		return fmt.Sprintf("%v m up, %v m down against %v and %v", up, down, up2, down2)
	}
	return ""
}

// fuzzBytes are what a random line of so many points is read from.
func fuzzBytes(r *rand.Rand, points int) []byte {
	var b []byte
	for range points {
		for _, most := range []int{200, 200, 2000} {
			b = binary.LittleEndian.AppendUint16(b, uint16(r.IntN(most)-most/2)) //nolint:gosec // read back as it was
		}
		b = binary.LittleEndian.AppendUint16(b, uint16(r.IntN(8))) //nolint:gosec // below 8
	}
	return b
}

// roadLine is a line as a road is recorded.
func roadLine(r *rand.Rand) *track.Track {
	tr := &track.Track{}
	x, y, heading, at := 0.0, 0.0, 6*r.Float64(), 0.0
	wave, noise := 400+2000*r.Float64(), 0.5*r.Float64()
	height := 0.1 * wave / (2 * math.Pi) * r.Float64()
	for range 30 + r.IntN(200) {
		step := 5 + 20*r.Float64()
		x, y, at = x+step*math.Cos(heading), y+step*math.Sin(heading), at+step
		heading += 0.3 * r.NormFloat64()
		tr.Points = append(tr.Points, plane(x, y, 300+height*math.Sin(2*math.Pi*at/wave)+noise*r.NormFloat64()))
	}
	return tr
}

// TestT03LawsOfCourses holds random lines, half of them roads, against the laws of courses.
// Fuzzing does the same to the others.
func TestT03LawsOfCourses(t *testing.T) {
	n, refused := seeded.Cases(10_000), 0
	first := seeded.First(t)
	for i := range n {
		seed := first + uint64(i) //nolint:gosec // not negative
		r := rand.New(rand.NewPCG(seed, 3))
		opt, road := Defaults(), i%2 == 0
		opt.Smoothing, opt.Laps = smoothings[r.IntN(4)], max(0, r.IntN(9)-6)
		line := fuzzTrack(fuzzBytes(r, 2+r.IntN(60)))
		if road {
			line = roadLine(r)
		}
		why, err := unlawful(line, opt, road)
		var reason *Error
		switch {
		case errors.As(err, &reason):
			refused++
		case err != nil || why != "":
			t.Fatalf("seed %d, %s, laps %d, a road %v: %v: %s", seed, opt.Smoothing, opt.Laps, road, err, why)
		}
	}
	figures.Report(t, "T3", "%d random lines, %d of them refused with a reason: 0 break a law of courses", n, refused)
}
