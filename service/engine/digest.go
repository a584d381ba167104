package engine

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"math"

	"parcours.example/analysis"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// gridDeg is the grid in degrees, about 0.1 mm, that positions are brought to
// before they enter a digest. It is finer than any file means, and coarse enough
// that the last bit of a sine, which depends on the processor, doesn't show.
const gridDeg = 1e-9

// trackID returns the id of a course: a digest of what was read (points, distances,
// breaks, marks, and what the reader found odd, which the result repeats) and of the
// effective options. The file's format and bytes don't enter.
func trackID(t *track.Track, opt CourseOptions) string {
	w := newDigest("track")
	w.options(opt)
	w.count(len(t.Points))
	for _, p := range t.Points {
		w.position(p.Pos)
		w.number(p.Elevation)
	}
	w.count(len(t.Breaks))
	for _, b := range t.Breaks {
		w.count(b)
	}
	w.numbers(t.DistanceM)
	w.marks(t.Marks)
	w.count(len(t.Warnings))
	for _, x := range t.Warnings {
		w.text(x.Code)
		w.text(x.Detail)
		w.count(x.Point)
	}
	return w.id()
}

// profileID is the counterpart of trackID for a table.
func profileID(p *Profile, opt CourseOptions) string {
	w := newDigest("profile")
	w.options(opt)
	w.numbers(p.DistanceM)
	w.numbers(p.ElevationM)
	return w.id()
}

// assemblyID is the counterpart of trackID for an assembled course: a digest of its
// parts' ids and of all options.
func assemblyID(c *Course) string {
	w := newDigest("assembly")
	w.options(c.Options)
	w.count(len(c.Assembly))
	for _, p := range c.Assembly {
		w.text(p.CourseID)
		w.number(p.FromM)
		w.number(p.ToM)
		w.flag(p.Reverse)
		w.count(p.Repeat)
	}
	return w.id()
}

// fileKey identifies a file's bytes read as a format with options. It leads to the
// course's id without the file being parsed again.
func fileKey(format string, content []byte, opt CourseOptions) string {
	w := newDigest("file")
	w.text(format)
	w.options(opt)
	w.count(len(content))
	w.h.Write(content)
	return w.id()
}

// cacheKey is the key of a course's value, which belongs to one engine version.
func cacheKey(id string) string { return analysis.EngineVersion + ":" + id }

// sharedKey is the key of a course's value among all replicas.
func sharedKey(id string) string { return "parcours:course:v" + cacheKey(id) }

// digest writes values into a hash so that different values are different bytes.
type digest struct {
	h   hash.Hash
	buf [8]byte
}

// newDigest starts a digest of a kind of value.
func newDigest(kind string) *digest {
	w := &digest{h: sha256.New()}
	w.text(kind)
	return w
}

// options writes a course's options.
func (w *digest) options(opt CourseOptions) {
	w.text(opt.Name)
	w.text(string(opt.Smoothing))
	w.number(opt.SpacingM)
	w.number(opt.AscentThresholdM)
	w.count(opt.Laps)
	w.text(opt.LapLine)
	w.count(opt.Track)
	w.flag(opt.Reverse)
	w.number(opt.StartM)
	w.number(opt.EndM)
	w.marks(opt.Marks)
}

func (w *digest) marks(marks []track.Mark) {
	w.count(len(marks))
	for _, m := range marks {
		w.flag(m.Pos != geodesy.Vec{}) // which a position at latitude and longitude 0 isn't
		w.position(m.Pos)
		w.number(m.AtM)
		w.flag(m.Directed)
		w.number(m.HeadingDeg)
		w.text(string(m.Kind))
		w.text(m.Name)
	}
}

func (w *digest) position(pos geodesy.Vec) {
	lat, lon := pos.Degrees()
	w.number(math.Round(lat / gridDeg))
	w.number(math.Round(lon / gridDeg))
}

func (w *digest) flag(set bool) {
	if set {
		w.count(1)
	} else {
		w.count(0)
	}
}

func (w *digest) count(n int) { w.bits(uint64(n)) }

func (w *digest) number(x float64) {
	switch {
	case math.IsNaN(x):
		x = math.NaN() // one of the many
	case x == 0:
		x = 0 // not −0
	}
	w.bits(math.Float64bits(x))
}

func (w *digest) numbers(xs []float64) {
	w.count(len(xs))
	for _, x := range xs {
		w.number(x)
	}
}

func (w *digest) text(s string) {
	w.count(len(s))
	w.h.Write([]byte(s))
}

func (w *digest) bits(b uint64) {
	binary.LittleEndian.PutUint64(w.buf[:], b)
	w.h.Write(w.buf[:])
}

// id returns the first half of the hash in 32 hexadecimal digits.
func (w *digest) id() string {
	return hex.EncodeToString(w.h.Sum(nil)[:16])
}
