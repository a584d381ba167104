package course

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// declaredLaps are laps that are known before anything is looked for. Its zero value
// stands for none.
type declaredLaps struct {
	// main are the laps of the circuit that covers most, others those of other
	// circuits in course order.
	main   rounds
	others []rounds
	// line is the name of the mark that is to be the line of laps that are found, empty
	// for none.
	line string
	// copies is above 0 for a course that is so many copies of one lap and nothing
	// else.
	copies int
}

// lappedHalf is the least share of a closed line that laps found in it must cover to
// be its laps. A small circuit within a large lap covers less: then all of it is the
// lap.
const lappedHalf = 0.5

// declare makes the line one of that many laps in all. It may hold
//
//   - several laps, with or without a way in and a way out: these stay, and laps are
//     left out or copies of the last one added in front of the way out;
//   - one lap from end to end, its ends at most maxGapM apart;
//   - one lap with a way in, a way out or both: the line meets itself, see loop.
//
// Without positions the whole line is the lap.
func (c *making) declare(ctx context.Context, laps int) error {
	r := c.strip()
	if r.pos == nil {
		return c.ride(0, r.lengthM(), laps)
	}
	a, err := newAgain(ctx, c.Course, 0)
	if err != nil {
		return err
	}
	held, _ := a.detectLaps()
	gap := r.gapTo(r)
	if held.count() >= 2 && (gap > maxGapM || held.lengthM() >= lappedHalf*r.lengthM()) {
		return c.recount(held, laps)
	}
	if gap <= maxGapM {
		c.warnStem(a)
		return c.ride(0, r.lengthM(), laps)
	}
	from, to, found := a.loop()
	if !found {
		return &Error{
			Code: CodeLapsDoNotClose, Limit: maxGapM, Actual: gap,
			Detail: fmt.Sprintf("the line can't be ridden as laps: its ends are %.0f m apart, and it comes back to no place in the same direction", gap),
		}
	}
	return c.ride(from, to, laps)
}

// warnStem tells of a lap that goes out and back on one road to a loop: perhaps only the
// loop is meant.
func (c *making) warnStem(a *again) {
	share := a.g.wayBack()
	if stem := share * c.LengthM() / 2; share >= stemShare && stem >= minStemM && share < outAndBackShare {
		c.Quality.warn("lap-with-stem", math.NaN(), "each lap goes out and back over the same %.0f m; if only the loop behind them is ridden again, cut it out or put the race together of parts", stem)
	}
}

// ride lays the line with the lap between two places ridden a number of times.
func (c *making) ride(from, to float64, laps int) error {
	r := c.strip()
	lap := stretchOf(r, from, to)
	if bad := lap.close(laps); bad != nil {
		return notClosing(bad)
	}
	var stretches []stretch
	if from > 0 {
		stretches = append(stretches, stretchOf(r, 0, from))
	}
	lead := len(stretches)
	stretches = append(stretches, lap)
	if to < r.lengthM() {
		stretches = append(stretches, stretchOf(r, to, r.lengthM()))
	}
	l, err := c.relay(stretches)
	if err != nil {
		return err
	}
	c.laps.main = rounds{append(l.starts[lead:], c.endIf(to >= r.lengthM())...), 1}
	if len(stretches) == 1 {
		c.laps.copies, c.laps.main.lines = laps, declaredLines(l.lengthM(), laps)
	}
	return nil
}

// endIf returns the course's end if that is the last line.
func (c *making) endIf(line bool) []float64 {
	if !line {
		return nil
	}
	return []float64{c.LengthM()}
}

// recount makes the laps that the line holds a number of laps.
func (c *making) recount(given rounds, laps int) error {
	lines, held := given.lines, given.count()
	c.laps.main = given
	if laps == held {
		return nil
	}
	c.Quality.warn("laps-changed", math.NaN(), "the file holds %d laps; %s, so that there are %d", held, changed(laps-held), laps)
	r, kept, end := c.strip(), min(laps, held), lines[held]
	stretches := []stretch{stretchOf(r, 0, lines[kept])}
	if laps > held {
		more := stretchOf(r, lines[held-1], end)
		if bad := more.close(laps - held); bad != nil {
			return notClosing(bad)
		}
		stretches = append(stretches, more)
	}
	if end < r.lengthM() {
		stretches = append(stretches, stretchOf(r, end, r.lengthM()))
	}
	l, err := c.relay(stretches)
	if err != nil {
		return err
	}
	c.laps.main.lines = slices.Concat(lines[:kept], l.starts[1:], c.endIf(end >= r.lengthM()))
	return nil
}

// changed says how laps were made up.
func changed(more int) string {
	switch {
	case more == 1:
		return "a copy of the last one was added"
	case more > 1:
		return fmt.Sprintf("%d copies of the last one were added", more)
	case more == -1:
		return "the last one was left out"
	}
	return fmt.Sprintf("the last %d were left out", -more)
}

// relay puts stretches of the line together to a new one, and moves its warnings and
// its marks by distance with it.
func (c *making) relay(stretches []stretch) (*layout, error) {
	if err := checkStretches(stretches); err != nil {
		return nil, err
	}
	l, bad := lay(stretches)
	if bad != nil {
		return nil, notClosing(bad)
	}
	c.setStrip(l.strip)
	c.Quality.Warnings = append(l.moved(0, c.Quality.Warnings), l.notes...)
	c.marks = l.movedMarks(0, c.marks)
	return l, nil
}

// setStrip makes a strip the course's line.
func (c *Course) setStrip(r strip) { c.S, c.Z, c.Pos, c.turning = r.s, r.z, r.pos, r.turning }

// declaredLines returns the lap lines of a number of equal laps.
func declaredLines(length float64, laps int) []float64 {
	lines := make([]float64, laps+1)
	for k := range lines {
		lines[k] = length * float64(k) / float64(laps)
	}
	lines[laps] = length
	return lines
}
