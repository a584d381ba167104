package track

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/geodesy"
)

// placemark is what one Placemark holds.
type placemark struct {
	name, description, style string
	line                     line
	hasLine                  bool
	rings                    []line
	places                   []geodesy.Vec
}

// kmlShape is a LineString, a Track, a LinearRing or a Point on its way.
type kmlShape struct {
	kind string
	// into is the line that its points belong to, from the index from on.
	into *line
	from int
	mode string // altitudeMode
}

func (f *kmlReader) startShape(kind string) error {
	f.shape = kmlShape{kind: kind}
	switch kind {
	case "Point":
		return nil
	case "LinearRing":
		f.current.rings = append(f.current.rings, line{id: lineID{"ring", f.shapes}})
		f.shape.into = &f.current.rings[len(f.current.rings)-1]
	default:
		f.current.hasLine = true
		f.shape.into = &f.current.line
	}
	f.shape.from = len(f.shape.into.points)
	return f.countShape()
}

// endShape makes a segment of a shape's points and settles their elevations.
func (f *kmlReader) endShape() {
	l := f.shape.into
	if f.shape.from > 0 && f.shape.from < len(l.points) {
		l.breaks = append(l.breaks, f.shape.from)
	}
	points := l.points[f.shape.from:]
	given, nought := 0, 0
	for _, p := range points {
		if !math.IsNaN(p.Elevation) {
			given++
		}
		if p.Elevation == 0 {
			nought++
		}
	}
	if given == 0 {
		return
	}
	switch f.shape.mode {
	case "relativeToGround", "relativeToSeaFloor":
		f.notes.add(l.id, -1, "altitude-above-ground", fmt.Sprintf(
			"The altitudes of %d points count from the ground (altitudeMode %s), they tell no elevation and were left out.", given, f.shape.mode))
	case "absolute":
		return
	default:
		if nought < given {
			return
		}
		f.notes.add(l.id, -1, "elevation-all-zero", fmt.Sprintf(
			"All %d altitudes are 0 and the line is clamped to the ground: the file gives no elevations.", given))
	}
	for i := range points {
		points[i].Elevation = math.NaN()
	}
}

// endPlacemark hands on what a placemark holds, under its name.
func (f *kmlReader) endPlacemark() {
	p := &f.current
	if p.hasLine {
		p.line.setName(p.name)
		f.tracks = append(f.tracks, p.line)
	}
	for _, r := range p.rings {
		r.setName(p.name)
		f.rings = append(f.rings, r)
	}
	for _, pos := range p.places {
		m := Mark{Name: p.name, Kind: p.kind(), Pos: pos}
		if m.Name == "" {
			m.Name = fmt.Sprintf("mark %d", len(f.marks)+1)
		}
		f.marks = append(f.marks, m)
	}
	f.current = placemark{}
}

// kind returns what a placemark's points stand for. A description counts if it is
// short: in a longer one "the finish is near" names another place.
func (p *placemark) kind() MarkKind {
	const short = 4 // words
	description := p.description
	if len(strings.Fields(description)) > short {
		description = ""
	}
	return firstKind(p.name, description, p.style)
}

// coord takes the end of a position of a Track, whose numbers stand between spaces. An
// empty one stands for a moment without a position (OGC 12-007r2, gx:coord).
func (f *kmlReader) coord() error {
	numbers := strings.Fields(string(f.text))
	if len(numbers) == 0 {
		return nil
	}
	if err := f.countPoint(f.line, func() int { return f.rest("gx:coord>", "coord>") }); err != nil {
		return err
	}
	return f.position(f.line, numbers)
}

// position takes the two or three numbers of a position.
func (f *kmlReader) position(line int, numbers []string) error {
	if len(numbers) != 2 && len(numbers) != 3 {
		return f.outOfRange(line,
			"The position %q has %s, where longitude, latitude and perhaps an altitude must stand; correct it, and separate positions by spaces, without commas.",
			clean(strings.Join(numbers, ","), 60), counted(len(numbers), "number"))
	}
	var at [2]float64
	for i, what := range []string{"longitude", "latitude"} {
		v, ok := parseDecimal(numbers[i])
		if !ok {
			return f.outOfRange(line, "The %s %q is not a decimal number; write degrees with a point, like 45.9237.", what, clean(numbers[i], 40))
		}
		at[i] = v
	}
	if fault := positionFault(at[0], at[1]); fault != "" {
		return f.outOfRange(line, "%s", fault)
	}
	f.place(geodesy.FromDegrees(at[1], at[0]), numbers[2:])
	return nil
}

// place adds a position to what it belongs to; altitude has its text, if any.
func (f *kmlReader) place(pos geodesy.Vec, altitude []string) {
	l := f.shape.into
	if l == nil {
		f.current.places = append(f.current.places, pos)
		return
	}
	p := Point{Pos: pos, Elevation: math.NaN()}
	if len(altitude) > 0 {
		var code, detail string
		if p.Elevation, code, detail = parseElevation(altitude[0]); code != "" {
			f.notes.add(l.id, len(l.points), code, detail)
		}
	}
	l.points = append(l.points, p)
}
