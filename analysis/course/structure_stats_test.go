package course

import (
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// seedBase is the first seed of the statistics: fresh in the full form, else the same
// on each run, unless the environment gives it.
func seedBase(t *testing.T) uint64 {
	base := uint64(20260)
	if os.Getenv("PARCOURS_FULL") == "1" {
		base = uint64(os.Getpid()) * 1_000_003 % 1_000_000_007
	}
	if s := os.Getenv("PARCOURS_SEED"); s != "" {
		v, err := strconv.ParseUint(s, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		base = v
	}
	t.Logf("PARCOURS_SEED=%d", base)
	return base
}

// cases is how many of the full number of seeds are run.
func cases(full int) int {
	switch {
	case os.Getenv("PARCOURS_FULL") == "1":
		return full
	case testing.Short():
		return max(full/100, 1)
	}
	return full / 20
}

// lineCourse is a course through points as they are, with its structure.
func lineCourse(points []track.Point) *Course {
	c := &Course{S: []float64{0}, Pos: []geodesy.Vec{points[0].Pos}}
	for i, p := range points[1:] {
		if d := geodesy.Chord(points[i].Pos, p.Pos); d > 0 {
			c.S, c.Pos = append(c.S, c.LengthM()+d), append(c.Pos, p.Pos)
		}
	}
	return c
}

// recordedAt returns the places of the line at which points without noise were
// recorded, in metres along it.
func recordedAt(line coursegen.Line, points []track.Point) []float64 {
	at := make([]float64, len(points))
	i := 0
	for k, p := range points {
		best := math.Inf(1)
		for j := i; j < len(line.S) && line.S[j] < line.S[i]+250; j++ {
			d := geodesy.Chord(line.Pos[j], p.Pos)
			if d < best {
				best, i = d, j
			}
			if best < 2 && d > 20 {
				break
			}
		}
		at[k] = line.S[i]
	}
	return at
}

// truthAt returns the place along the true line at which the recording was at a
// place along itself.
func truthAt(c *Course, recorded []float64, at float64) float64 {
	i := c.PieceAt(at)
	f := (at - c.S[i]) / (c.S[i+1] - c.S[i])
	return recorded[i] + f*(recorded[i+1]-recorded[i])
}

// tally counts what comes out of many random courses.
type tally struct {
	courses, wrongCount, wrongShape int
	boundaries, farBoundaries       int
	marks, wrongMarks               int
	worstM                          float64
}

func (n tally) log(t *testing.T, what string) {
	t.Logf("%s: %d courses, %d wrong counts, %d wrong shapes; %d boundaries, %d beyond 30 m, worst %.1f m; %d marks, %d with wrong passes",
		what, n.courses, n.wrongCount, n.wrongShape, n.boundaries, n.farBoundaries, n.worstM, n.marks, n.wrongMarks)
}

// judge records a random course with random noise and compares its structure with
// the truth.
func (n *tally) judge(t *testing.T, kind coursegen.Kind, seed uint64) {
	line, truth := coursegen.Random(kind, seed)
	noise := coursegen.RandomNoise(seed)
	points := coursegen.Record(line, noise, seed)
	var marks []track.Mark
	for _, m := range truth.Marks {
		marks = append(marks, track.Mark{Name: m.Name, Kind: m.Kind, Pos: m.Pos})
	}
	c := lineCourse(points)
	c.Quality.MedianStepM = medianStep(c.S)
	c.structure(declaredLaps{}, marks)
	n.courses++
	if c.Laps.Count != truth.Laps {
		n.wrongCount++
		t.Logf("kind %d seed %d: %d laps for %d", kind, seed, c.Laps.Count, truth.Laps)
		return
	}
	if truth.Shape != "" && string(c.Shape) != truth.Shape {
		n.wrongShape++
		t.Logf("kind %d seed %d: shape %s for %s", kind, seed, c.Shape, truth.Shape)
	}
	exact := coursegen.Record(line, coursegen.Noise{IntervalS: noise.IntervalS, StartM: noise.StartM}, seed)
	recorded := recordedAt(line, exact)
	lines := c.lapLines()
	for i, at := range truth.LapStarts {
		off := math.Abs(truthAt(c, recorded, lines[i]) - at)
		n.boundaries++
		n.worstM = max(n.worstM, off)
		if off > 30 {
			n.farBoundaries++
			t.Logf("kind %d seed %d: lap %d starts %.0f m off", kind, seed, i+1, off)
		}
	}
	for i, m := range truth.Marks {
		n.marks++
		if !samePasses(c, recorded, c.Marks[i].At, m.At) {
			n.wrongMarks++
			t.Logf("kind %d seed %d: mark passed at %.0f for %.0f; step %.0f noise %.1f", kind, seed, c.Marks[i].At, m.At, c.Quality.MedianStepM, noise.PositionM)
		}
	}
}

// samePasses reports whether passes are the true ones within 60 m. The truth counts
// a turn back within 120 m of the mark as one pass.
func samePasses(c *Course, recorded, got, want []float64) bool {
	got = slices.Clone(got)
	for i := len(got) - 1; i > 0; i-- {
		if got[i]-got[i-1] < 240 {
			got = slices.Delete(got, i, i+1)
		}
	}
	if len(got) != len(want) {
		return false
	}
	for i := range got {
		if math.Abs(truthAt(c, recorded, got[i])-want[i]) > 60 {
			return false
		}
	}
	return true
}

func (n tally) checkMarks(t *testing.T) {
	if n.wrongMarks*100 > n.marks {
		t.Errorf("%d of %d marks have wrong passes, want at most 1 %%", n.wrongMarks, n.marks)
	}
}

func TestLapsOfRandomCourses(t *testing.T) {
	base := seedBase(t)
	var all tally
	kinds := []coursegen.Kind{coursegen.Lapped, coursegen.LeadIn, coursegen.RunOut, coursegen.Fraction, coursegen.FigureEight}
	for k := range cases(1000) {
		all.judge(t, kinds[k%len(kinds)], base+uint64(k))
	}
	all.log(t, "lapped")
	if all.wrongCount*100 > all.courses {
		t.Errorf("%d of %d counts wrong, want at most 1 %%", all.wrongCount, all.courses)
	}
	all.checkMarks(t)
	if all.farBoundaries*100 > all.boundaries {
		t.Errorf("%d of %d boundaries beyond 30 m, want at most 1 %%", all.farBoundaries, all.boundaries)
	}
}

func TestNoLapsInRandomCourses(t *testing.T) {
	base := seedBase(t)
	var all tally
	kinds := []coursegen.Kind{coursegen.LapFree, coursegen.OutAndBack, coursegen.Lollipop, coursegen.Circuit, coursegen.PointToPoint}
	for k := range cases(1000) {
		all.judge(t, kinds[k%len(kinds)], base+uint64(k))
	}
	all.log(t, "lap-free")
	if all.wrongCount > 0 {
		t.Errorf("%d of %d have laps, want none", all.wrongCount, all.courses)
	}
	if all.wrongShape*100 > all.courses {
		t.Errorf("%d of %d shapes wrong, want at most 1 %%", all.wrongShape, all.courses)
	}
	all.checkMarks(t)
}
