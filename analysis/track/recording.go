package track

import (
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/geodesy"
)

// recording is the line of a device on its way to a line: of each sample the
// position, the distance covered or both may be missing.
type recording struct {
	id   lineID
	name string
	// points have the zero vector where the position is missing.
	points []Point
	// distanceM is NaN where it is missing.
	distanceM []float64
	// breaks are the indices at which a new segment starts.
	breaks []int
	// named have a position, a distance or both; the distance is NaN where missing.
	named []Mark
}

// add appends a sample.
func (r *recording) add(p Point, distanceM float64) {
	r.points = append(r.points, p)
	r.distanceM = append(r.distanceM, distanceM)
}

// startSegment says that the next sample starts a segment.
func (r *recording) startSegment() {
	if n := len(r.points); n > 0 {
		r.breaks = append(r.breaks, n)
	}
}

// unplaced is the position of a point that has none.
var unplaced geodesy.Vec

// line returns the recording as a line by its positions if half of its samples or
// more have one, else by its distances if two or more samples have one. Samples
// that don't fit are left out with a warning.
func (r *recording) line(notes *notebook) line {
	placed, measured := 0, 0
	for i := range r.points {
		if r.points[i].Pos != unplaced {
			placed++
		}
		if !math.IsNaN(r.distanceM[i]) {
			measured++
		}
	}
	l := line{id: r.id, name: r.name}
	byDistance := measured >= 2 && 2*placed < len(r.points)
	c := compaction{r: r, notes: notes}
	if byDistance {
		c.byDistance(placed)
		l.distanceM = r.distanceM[:c.kept]
	} else {
		c.byPosition()
	}
	notes.move(r.id, c.moved)
	l.points, l.breaks = r.points[:c.kept], c.breaks()
	l.named = r.settledMarks(byDistance, notes)
	return l
}

// compaction moves the samples that a line keeps together.
type compaction struct {
	r       *recording
	notes   *notebook
	kept    int
	dropped []int // indices as recorded
}

// keep keeps the sample at index i.
func (c *compaction) keep(i int) {
	c.r.points[c.kept], c.r.distanceM[c.kept] = c.r.points[i], c.r.distanceM[i]
	c.kept++
}

// drop leaves out the sample at index i.
func (c *compaction) drop(i int) { c.dropped = append(c.dropped, i) }

// moved returns where the sample at index i went, or the next one that was kept,
// or the last one.
func (c *compaction) moved(i int) int {
	before, _ := slices.BinarySearch(c.dropped, i)
	return max(0, min(i-before, c.kept-1))
}

// note warns about the sample at index i.
func (c *compaction) note(i int, code, format string, a ...any) {
	c.notes.add(c.r.id, i, code, fmt.Sprintf(format, a...))
}

// byPosition keeps the samples that have a position.
func (c *compaction) byPosition() {
	missing := 0
	for i := range c.r.points {
		if c.r.points[i].Pos == unplaced {
			c.drop(i)
			missing++
			continue
		}
		if missing > 0 && c.kept == 0 {
			c.note(i, "position-missing", "%s before the first position %s left out; the line starts there.", counted(missing, "point"), were(missing))
		} else if missing > 0 {
			c.note(i, "position-missing", "%s without a position %s left out; the line goes straight on over %.0f m here.",
				counted(missing, "point"), were(missing), geodesy.Distance(c.r.points[c.kept-1].Pos, c.r.points[i].Pos))
		}
		missing = 0
		c.keep(i)
	}
	if missing > 0 {
		c.note(len(c.r.points), "position-missing", "%s after the last position %s left out; the line ends there.", counted(missing, "point"), were(missing))
	}
}

// A distance that falls back to below restartedM from above twice that was counted
// anew from there on, as some devices do with each lap; one that falls back
// elsewhere is wrong.
const restartedM = 100

// byDistance keeps the samples that have a distance which doesn't fall back. Where
// the counter was set back to zero it goes on from where it was. placed is how many
// samples have a position.
func (c *compaction) byDistance(placed int) {
	missing := 0
	before, last := 0.0, math.Inf(-1) // what was counted before the last restart, and up to the last sample
	for i, d := range c.r.distanceM {
		if math.IsNaN(d) {
			c.drop(i)
			missing++
			continue
		}
		if last-before > 2*restartedM && d < restartedM {
			c.note(i, "distance-restarted", "The distance falls back from %.0f m to %.0f m here; it was counted on from there, which makes it %.0f m: check the length of the course.",
				last-before, d, last+d)
			before = last
		}
		if before+d < last {
			c.note(i, "distance-falls-back", "A point at %.0f m after one at %.0f m was left out.", d, last-before)
			c.drop(i)
			continue
		}
		last = before + d
		c.r.distanceM[i] = last
		c.keep(i)
	}
	c.noteByDistance(placed, missing)
	for i := range c.r.points[:c.kept] {
		c.r.points[i].Pos = unplaced
	}
}

// noteByDistance warns about the samples that have no distance and about the few
// that have a position.
func (c *compaction) noteByDistance(placed, missing int) {
	if missing > 0 {
		c.note(-1, "distance-missing", "%s without a distance %s left out.", counted(missing, "point"), were(missing))
	}
	if placed > 0 {
		c.note(-1, "positions-ignored", "Only %d of %s have a position; the line was read by its distances alone.", placed, counted(len(c.r.points), "point"))
	}
}

// breaks returns where the segments start among the samples that were kept.
func (c *compaction) breaks() []int {
	var moved []int
	for _, b := range c.r.breaks {
		before, _ := slices.BinarySearch(c.dropped, b)
		if b -= before; b > 0 && b < c.kept && (moved == nil || moved[len(moved)-1] != b) {
			moved = append(moved, b)
		}
	}
	return moved
}

// settledMarks gives each mark one place, on the axis of the line.
func (r *recording) settledMarks(byDistance bool, notes *notebook) []Mark {
	var marks []Mark
	for _, m := range r.named {
		switch known := !math.IsNaN(m.AtM); {
		case !byDistance && m.Pos != unplaced:
			m.AtM = 0
		case known:
			m.Pos = unplaced
		default:
			notes.add(r.id, -1, "mark-without-place", fmt.Sprintf("The place %q has no position on this line and was left out.", m.Name))
			continue
		}
		marks = append(marks, m)
	}
	return marks
}

// counted returns a number with its noun.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// were returns the verb for a number of things.
func were(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}
