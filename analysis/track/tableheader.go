package track

import (
	"bytes"
	"fmt"
	"strings"
)

// headerLines is how many lines of a table may stand up to its header.
const headerLines = 30

// separators are tried in this order: the rarer in text the earlier.
var separators = []byte{'\t', ';', '|', ',', ' '}

const whichHeader = "write a header line like \"distance_m,elevation_m\" or \"latitude,longitude,elevation_m\""

// findHeader finds the separator and the columns: the first line that names columns of
// which a line can be made, split by the separator that makes the most of it.
func (t *table) findHeader() error {
	declared := t.declaredSeparator()
	first := t.cursor
	var partial header
	partialLine := 0
	for range headerLines {
		start := t.cursor
		text, ok := t.nextLine()
		if !ok {
			break
		}
		best, separator, err := t.headerAt(start, text, declared)
		if err != nil {
			return err
		}
		if best.usable() {
			confirmed, err := t.useHeader(best, separator)
			if err != nil || confirmed {
				return err
			}
		}
		if best.known > partial.known {
			partial, partialLine = best, t.lines
		}
		if t.title == "" && !bytes.HasPrefix(bytes.TrimSpace(text), []byte("#")) {
			t.title = clean(strings.Trim(string(text), "\",;|\t "), t.limits.NameRunes)
		}
	}
	t.cursor, t.title = first, ""
	if partial.known > 0 {
		t.line = partialLine
		if err := t.partialHeader(partial); err != nil {
			return err
		}
	}
	return t.withoutHeader(declared)
}

// declaredSeparator reads a first line like "sep=;" and returns what it says, 0 without
// one.
func (t *table) declaredSeparator() byte {
	start := t.cursor
	text, _ := t.nextLine()
	text = bytes.Trim(text, "\" ")
	if after, ok := bytes.CutPrefix(bytes.ToLower(text), []byte("sep=")); ok && len(after) == 1 {
		return after[0]
	}
	t.cursor = start
	return 0
}

// headerAt reads the line at a place as a header with each separator, even if it is
// commented out, and returns what the best one makes of it.
func (t *table) headerAt(start cursor, text []byte, declared byte) (best header, separator byte, err error) {
	after := t.cursor
	commented := bytes.HasPrefix(bytes.TrimSpace(text), []byte("#"))
	end := after
	for _, s := range separators {
		if declared != 0 && s != declared {
			continue
		}
		t.separator = s
		if commented {
			t.split(bytes.TrimLeft(bytes.TrimSpace(text), "# \t"), true)
		} else {
			t.cursor = start
			if len(bytes.TrimSpace(text)) == 0 {
				break
			}
			if _, err := t.next(); err != nil {
				return best, 0, err
			}
		}
		if s == ' ' {
			t.joinUnits()
		}
		if h := headerOf(t.cells); h.betterThan(best) && (s != ' ' || h.known > best.known) {
			best, separator, end = h, s, t.cursor
		}
	}
	if commented || !best.usable() {
		end = after
	}
	t.cursor = end
	return best, separator, nil
}

// joinUnits joins cells like "(km)" to the ones before them.
func (t *table) joinUnits() {
	var joined [][]byte
	for _, cell := range t.cells {
		if last := len(joined) - 1; last >= 0 && len(cell) > 0 && (cell[0] == '(' || cell[0] == '[') {
			joined[last] = bytes.Join([][]byte{joined[last], cell}, nil)
			continue
		}
		joined = append(joined, cell)
	}
	t.cells = joined
}

// useHeader takes a header's columns, and the units of a line below it that has nothing
// else. It is no header if the row below it has no number where it should: a title may
// well hold the words of one.
func (t *table) useHeader(h header, separator byte) (confirmed bool, err error) {
	before := *t
	t.columns, t.separator, t.start = h.columns, separator, t.cursor
	ok, err := t.next()
	for ok && err == nil && t.isEmptyRow() {
		ok, err = t.next()
	}
	if err != nil {
		return false, err
	}
	switch {
	case ok && t.unitsBelow():
		t.start = t.cursor
	case ok && !t.hasNumber():
		*t = before
		return false, nil
	}
	for _, title := range h.repeated {
		t.notes.addFile("column-ignored", fmt.Sprintf("The column %q was ignored: one before it says the same.", title))
	}
	return true, nil
}

// hasNumber says whether the current record has a number in a column of numbers.
func (t *table) hasNumber() bool {
	for _, r := range numberColumns {
		if bytes.ContainsAny(t.cell(r), "0123456789") {
			return true
		}
	}
	return false
}

// unitsBelow takes the units that the current record holds, if it holds nothing else.
func (t *table) unitsBelow() bool {
	columns, found := t.columns, false
	for _, cell := range t.cells {
		if len(cell) > 0 && len(bytes.Trim(cell, "()[]%°")) > 0 && unitOf(strings.ToLower(string(bytes.Trim(cell, "()[] ")))) == 0 {
			return false
		}
	}
	for r := range columns {
		c := &columns[r]
		if !c.present || c.index >= len(t.cells) {
			continue
		}
		text := string(t.cells[c.index])
		switch {
		case role(r) == gradientColumn && strings.Contains(text, "%"):
			c.unit, found = 1, true
		case role(r) == distanceColumn || role(r) == elevationColumn:
			if u := unitOf(strings.ToLower(strings.Trim(text, "()[] "))); u != 0 {
				c.unit, found = u, true
			}
		}
	}
	if found {
		t.columns = columns
	}
	return found
}

// partialHeader says what a header lacks.
func (t *table) partialHeader(h header) error {
	var found, missing string
	switch {
	case h.usable():
		return &Error{Code: CodeNoLine, Line: t.line, Detail: "The row below this header has no number in the columns of the course; remove what stands between the header and its first row."}
	case h.has(distanceColumn):
		found, missing = h.columns[distanceColumn].title, "elevations (or gradients)"
	case h.has(latitudeColumn):
		found, missing = h.columns[latitudeColumn].title, "longitudes"
	case h.has(longitudeColumn):
		found, missing = h.columns[longitudeColumn].title, "latitudes"
	case h.has(elevationColumn):
		found, missing = h.columns[elevationColumn].title, "distances or positions"
	case h.has(gradientColumn):
		found, missing = h.columns[gradientColumn].title, "distances"
	default:
		return nil
	}
	return &Error{Code: CodeNoLine, Line: t.line, Detail: fmt.Sprintf(
		"The header names a column %q, but none with %s; %s.", found, missing, whichHeader)}
}
