package track

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/geodesy"
)

// findPositions decides between positions and distances where there are columns for
// both: positions, if any row has one.
func (t *table) findPositions() error {
	lat, lon := &t.columns[latitudeColumn], &t.columns[longitudeColumn]
	if !lat.present || !lon.present || !t.columns[distanceColumn].present {
		return nil
	}
	t.cursor = t.start
	for {
		ok, err := t.next()
		if err != nil {
			return err
		}
		if !ok {
			break
		}
		if !isNothing(t.cell(latitudeColumn)) {
			return nil
		}
	}
	*lat, *lon = column{}, column{}
	return nil
}

// placed says whether the table is one of positions.
func (t *table) placed() bool {
	return t.columns[latitudeColumn].present && t.columns[longitudeColumn].present
}

// byGradient says whether elevations are to be summed from gradients.
func (t *table) byGradient() bool {
	return !t.placed() && !t.columns[elevationColumn].present
}

// cell returns the current row's cell of a role, empty if there is none.
func (t *table) cell(r role) []byte {
	c := t.columns[r]
	if !c.present || c.index >= len(t.cells) {
		return nil
	}
	return t.cells[c.index]
}

// rows reads all rows.
func (t *table) rows() error {
	t.cursor = t.start
	t.rec = recording{id: tableLine}
	for {
		ok, err := t.next()
		if err != nil || !ok {
			return err
		}
		if t.isEmptyRow() {
			continue
		}
		t.row++
		if t.row > t.limits.Points {
			line := t.line
			actual := t.row + t.restLines()
			return &Error{Code: CodeTooMany, Line: line, Limit: t.limits.Points, Actual: actual, Detail: fmt.Sprintf(
				"The file has %d points, at most %d can be read; thin them out, one every few metres is enough.", actual, t.limits.Points)}
		}
		if t.placed() {
			err = t.positionRow()
		} else {
			err = t.distanceRow()
		}
		if err != nil {
			return err
		}
	}
}

// isEmptyRow says whether no column that is read has anything in the current row.
func (t *table) isEmptyRow() bool {
	for r := range t.columns {
		if len(t.cell(role(r))) > 0 {
			return false
		}
	}
	return true
}

// positionRow reads a row with latitude and longitude.
func (t *table) positionRow() error {
	latCell, lonCell := t.cell(latitudeColumn), t.cell(longitudeColumn)
	p := Point{Elevation: math.NaN()}
	if !isNothing(latCell) || !isNothing(lonCell) {
		lat, err := t.degrees("latitude", latCell, "NS", 90)
		if err != nil {
			return err
		}
		lon, err := t.degrees("longitude", lonCell, "EW", 180)
		if err != nil {
			return err
		}
		p.Pos = geodesy.FromDegrees(lat, lon)
	}
	t.rec.add(p, math.NaN())
	t.rec.points[len(t.rec.points)-1].Elevation = t.elevation()
	t.addMark(p.Pos, math.NaN())
	return nil
}

// degrees returns a latitude or a longitude, in degrees, with a minus sign or a letter of
// the hemispheres, of which the second is the negative one.
func (t *table) degrees(what string, cell []byte, hemispheres string, limit float64) (float64, error) {
	text := strings.TrimSpace(string(cell))
	number, letter := text, ""
	if text != "" && strings.ContainsAny(text[:1], "NSEWOnsewo") {
		letter, number = strings.ToUpper(text[:1]), strings.TrimSpace(text[1:])
	}
	v, suffix, ok := parseCell([]byte(number), t.comma)
	suffix = strings.ToUpper(strings.TrimSpace(strings.TrimPrefix(suffix, "°")))
	switch {
	case isNothing(cell):
		return 0, t.outOfRange("The %s is missing, but the row has the other coordinate; give both or remove the row.", what)
	case letter == "O" || suffix == "O":
		return 0, t.outOfRange("The %s %q has the letter O, which is east in some languages and west in others; write E or W.", what, clean(text, 40))
	case ok && letter == "":
		letter = suffix
	case suffix != "":
		ok = false
	}
	negative := letter != "" && letter == hemispheres[1:]
	if !ok || letter != "" && !negative && letter != hemispheres[:1] || letter != "" && v < 0 {
		return 0, t.outOfRange("The %s %q is not a number of degrees; write it with decimals, like 45.9237 or 45.9237 %s.", what, clean(text, 40), hemispheres[:1])
	}
	if what == "latitude" && math.Abs(v) > 90 && math.Abs(v) <= 180 {
		return 0, t.outOfRange("The latitude %q is beyond ±90 degrees; correct or remove the row, or exchange the titles of the columns if latitude and longitude are the wrong way round.", clean(text, 40))
	}
	if !(math.Abs(v) <= limit) {
		c := t.columns[latitudeColumn]
		if what == "longitude" {
			c = t.columns[longitudeColumn]
		}
		return 0, t.outOfRange("The %s %q in the column %q is beyond ±%g degrees; correct or remove the row, and give positions on WGS 84 if these are metres.", what, clean(text, 40), c.title, limit)
	}
	if negative {
		v = -v
	}
	return v, nil
}

// elevation returns the current row's elevation in metres. It is left out if it can't be
// read, with a warning.
func (t *table) elevation() float64 {
	cell := t.cell(elevationColumn)
	if isNothing(cell) {
		return math.NaN()
	}
	v, ok := t.length(elevationColumn, cell)
	if !ok {
		t.note("elevation-unreadable", "The elevation %q is not a number of the column's unit and was left out.", clean(string(cell), 40))
		return math.NaN()
	}
	if u := t.columns[elevationColumn].unit; u != 0 {
		v *= u
	}
	if !(math.Abs(v) <= maxElevation) {
		t.note("elevation-out-of-range", "The elevation %q is beyond ±%d m and was left out.", clean(string(cell), 40), maxElevation)
		return math.NaN()
	}
	return v
}

// length returns the number in a cell of a column of lengths, in the column's unit. The
// unit may stand in the cell, too; the first row's holds for a column without one.
func (t *table) length(r role, cell []byte) (v float64, ok bool) {
	v, suffix, ok := parseCell(cell, t.comma)
	if !ok || suffix == "" {
		return v, ok
	}
	c := &t.columns[r]
	u := unitOf(strings.ToLower(suffix))
	if c.unit == 0 && t.row == 1 {
		c.unit = u
	}
	return v, u != 0 && u == c.unit
}

// distanceRow reads a row with a distance.
func (t *table) distanceRow() error {
	cell := t.cell(distanceColumn)
	if isNothing(cell) {
		if t.cellsOf(elevationColumn, gradientColumn) {
			return t.outOfRange("The distance is missing; give it or remove the row.")
		}
		t.addMark(unplaced, math.NaN())
		return nil
	}
	s, ok := t.length(distanceColumn, cell)
	if !ok || math.IsInf(s, 0) {
		return t.outOfRange("The distance %q is not a number of the column's unit; correct or remove the row.", clean(string(cell), 40))
	}
	n := len(t.rec.points)
	if n > 0 && s < t.rec.distanceM[n-1] {
		return t.outOfRange("The distance falls back from %s to %s; sort the rows, or remove those that do not belong to the course.", clean(string(t.lastDistance), 40), clean(string(cell), 40))
	}
	repeated := n > 0 && s == t.rec.distanceM[n-1]
	if !repeated {
		t.rec.add(Point{Elevation: math.NaN()}, s)
	}
	t.lastDistance = cell
	p := &t.rec.points[len(t.rec.points)-1]
	if z := t.elevation(); math.IsNaN(p.Elevation) {
		p.Elevation = z
	}
	if repeated && t.cellsOf(elevationColumn, gradientColumn) {
		t.note("distance-repeated", "The distance %s stands in two rows; the first row's elevation was kept.", clean(string(cell), 40))
	}
	if err := t.takeGradient(); err != nil {
		return err
	}
	t.addMark(unplaced, s)
	return nil
}

// cellsOf says whether the current row has a value of one of the roles.
func (t *table) cellsOf(rs ...role) bool {
	for _, r := range rs {
		if !isNothing(t.cell(r)) {
			return true
		}
	}
	return false
}

// takeGradient reads the current row's gradient if the elevations depend on it; without
// one, that of the row before goes on.
func (t *table) takeGradient() error {
	if !t.byGradient() {
		return nil
	}
	n := len(t.rec.points)
	if len(t.gradient) < n {
		last := math.NaN()
		if n > 1 {
			last = t.gradient[n-2]
		}
		t.gradient = append(t.gradient, last)
	}
	cell := t.cell(gradientColumn)
	if isNothing(cell) {
		if math.IsNaN(t.gradient[n-1]) {
			return t.outOfRange("The first row has no gradient; give it, 0 if it is flat.")
		}
		return nil
	}
	v, suffix, ok := parseCell(cell, t.comma)
	if suffix == "%" && t.row == 1 && t.columns[gradientColumn].unit == 0 {
		t.columns[gradientColumn].unit = 1
	}
	if !ok || suffix != "" && (suffix != "%" || t.columns[gradientColumn].unit != 1) || !(math.Abs(v) <= maxGradient) {
		return t.outOfRange("The gradient %q is not a number of percent within ±%d; correct or remove the row.", clean(string(cell), 40), maxGradient)
	}
	t.gradient[n-1] = v
	return nil
}

// maxGradient bounds a gradient either way, in percent; every road is inside.
const maxGradient = 100

// addMark adds a mark if the current row names one: it has a name that is no running
// number or a kind that is known, and not those of the row before.
func (t *table) addMark(pos geodesy.Vec, at float64) {
	name := clean(string(t.cell(nameColumn)), t.limits.NameRunes)
	kind := clean(string(t.cell(kindColumn)), t.limits.NameRunes)
	repeated := t.lastPlace == [2]string{name, kind}
	t.lastPlace = [2]string{name, kind}
	if len(t.rec.named) > 0 && name == t.rec.named[0].Name {
		t.named++
	}
	if repeated || kindOf(kind) == Other && !isPlaceName(name) || len(t.rec.named) > t.limits.Marks {
		return
	}
	m := Mark{Name: name, Kind: firstKind(kind, name), Pos: pos, AtM: at}
	if m.Name == "" {
		m.Name = kind
	}
	if len(t.rec.named) == 0 {
		t.named = 1
	}
	t.rec.named = append(t.rec.named, m)
}
