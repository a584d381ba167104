package track

import (
	"fmt"
	"math"
)

// mostGuessed is how many columns a table without a header may have.
const mostGuessed = 3

// withoutHeader finds the columns of a table of numbers by their ranges.
func (t *table) withoutHeader(declared byte) error {
	first := t.cursor
	// Spaces come before commas, which may be decimal ones: "0,5 310".
	for _, s := range []byte{'\t', ';', '|', ' ', ','} {
		if declared != 0 && s != declared {
			continue
		}
		t.cursor, t.separator, t.start = first, s, first
		if _, err := t.next(); err != nil {
			return err
		}
		t.cursor = first
		r := ranges{columns: len(trimRight(t.cells))}
		switch {
		case r.columns < 2, r.columns > mostGuessed && s == ' ': // prose has spaces, too
			continue
		case r.columns > mostGuessed:
			return t.useRanges(r)
		}
		if err := t.measure(&r); err != nil {
			return err
		}
		if r.rows < 2 || r.columns < 2 {
			continue
		}
		return t.useRanges(r)
	}
	t.cursor = first
	if _, err := t.next(); err != nil {
		return err
	}
	return &Error{Code: CodeNotTheFormat, Line: max(t.line, 1), Detail: "The file is no table that can be read: there is no header that names distances or positions, and its rows are not numbers alone; " + whichHeader + "."}
}

// ranges are what the numbers of a table without a header have in common.
type ranges struct {
	rows, columns int
	// least and most are those of the first three columns.
	least, most [3]float64
	// first is the first number of the first column, rising whether its numbers never
	// fall.
	first  float64
	rising bool
}

// measure takes the ranges of all rows with the current separator; no rows if any is not
// of numbers alone or of another length.
func (t *table) measure(r *ranges) error {
	t.cursor, t.comma = t.start, false
	if alike := t.decimalsOf(nil) == nil; !alike {
		return nil
	}
	t.cursor = t.start
	*r = ranges{rising: true, least: [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, most: [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}}
	last := math.Inf(-1)
	for {
		ok, err := t.next()
		if err != nil || !ok {
			return err
		}
		cells := trimRight(t.cells)
		if r.rows == 0 {
			r.columns = len(cells)
		}
		if len(cells) != r.columns {
			r.rows = 0
			return nil
		}
		for i, cell := range cells {
			v, suffix, ok := parseCell(cell, t.comma)
			if !ok || suffix != "" {
				r.rows = 0
				return nil
			}
			if i < len(r.least) {
				r.least[i], r.most[i] = min(r.least[i], v), max(r.most[i], v)
			}
			if i == 0 {
				if r.rows == 0 {
					r.first = v
				}
				r.rising = r.rising && v >= last
				last = v
			}
		}
		r.rows++
	}
}

// trimRight leaves out the empty cells at the end of a row.
func trimRight(cells [][]byte) [][]byte {
	for len(cells) > 0 && len(cells[len(cells)-1]) == 0 {
		cells = cells[:len(cells)-1]
	}
	return cells
}

// within says whether a column's numbers are within ±limit.
func (r *ranges) within(i int, limit float64) bool { return -limit <= r.least[i] && r.most[i] <= limit }

// useRanges names the columns if there is but one reading. A table of distances starts at
// 0 or leaves what a latitude can be; positions must be told from each other, too: by
// range, longitude and latitude only differ where one is beyond ±90 degrees.
func (t *table) useRanges(r ranges) error {
	distances := r.rising && r.most[0] > r.least[0] && r.within(1, maxElevation) && (r.first == 0 || r.most[0] > 180)
	latFirst := r.within(0, 90) && r.within(1, 180)
	lonFirst := r.within(0, 180) && r.within(1, 90)
	elevations := r.columns == 2 || r.within(2, maxElevation)
	t.cursor = t.start
	switch {
	case r.columns > mostGuessed:
	case r.columns == 2 && distances:
		t.assume("distance, elevation", distanceColumn, elevationColumn)
		return nil
	case r.first == 0 && r.rising:
	case latFirst && !lonFirst && elevations:
		t.assume("latitude, longitude, elevation", latitudeColumn, longitudeColumn, elevationColumn)
		return nil
	case lonFirst && !latFirst && elevations:
		t.assume("longitude, latitude, elevation", longitudeColumn, latitudeColumn, elevationColumn)
		return nil
	}
	return &Error{Code: CodeNotTheFormat, Line: 1, Detail: fmt.Sprintf(
		"The table has %d columns and no header, and what they are can't be told for certain; %s.", r.columns, whichHeader)}
}

// assume names the columns in order.
func (t *table) assume(names string, in ...role) {
	for i, r := range in {
		t.columns[r] = column{index: i, present: true, title: fmt.Sprintf("column %d", i+1)}
	}
	t.notes.addFile("header-missing", fmt.Sprintf(
		"The table has no header; by their ranges its columns were read as %s. Write a header to be sure.", names))
}
