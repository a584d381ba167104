package track

import (
	"fmt"
	"math"

	"parcours.example/analysis/geodesy"
)

// geometry reads an object of one of the types that have coordinates.
func (g *geojson) geometry(typ string) {
	id := lineID{"line", g.geometries}
	g.geometries++
	g.members("coordinates", func(key string) {
		if key != "coordinates" || g.peek() == 'n' {
			g.skip()
			return
		}
		switch typ {
		case "Point":
			g.place()
		case "MultiPoint":
			g.array(g.place)
		case "LineString":
			l := line{id: id}
			g.segment(&l)
			g.tracks = append(g.tracks, l)
		case "MultiLineString":
			l := line{id: id}
			g.array(func() { g.segment(&l) })
			g.tracks = append(g.tracks, l)
		case "Polygon":
			g.polygon(id)
		case "MultiPolygon":
			g.array(func() {
				g.polygon(lineID{"line", g.geometries})
				g.geometries++
			})
		}
	})
}

// segment reads a list of positions and adds them to a line.
func (g *geojson) segment(l *line) {
	g.parts++
	if g.parts > g.limits.Parts {
		g.tooMany("lines and segments", "keep those of the course alone", g.limits.Parts, g.parts)
	}
	before := len(l.points)
	g.array(func() {
		p := g.position(l.id, len(l.points))
		l.points = append(l.points, p)
	})
	if before > 0 && len(l.points) > before {
		l.breaks = append(l.breaks, before)
	}
}

// polygon reads a list of rings and keeps the outer one, which is the first.
func (g *geojson) polygon(id lineID) {
	outer := true
	g.array(func() {
		ring := line{id: id}
		if !outer {
			ring.id = lineID{"inner ring", id.n}
		}
		g.segment(&ring)
		if outer {
			g.rings = append(g.rings, ring)
		}
		outer = false
	})
}

// place reads the position of a mark.
func (g *geojson) place() {
	g.places++
	if g.places > g.limits.Marks {
		g.tooMany("single places", "remove those that the course does not need", g.limits.Marks, g.places)
	}
	p := g.position(lineID{"place", g.places}, 0)
	g.marks = append(g.marks, Mark{Name: fmt.Sprintf("mark %d", len(g.marks)+1), Kind: Other, Pos: p.Pos})
}

// position reads a position, the one at the index in a line.
func (g *geojson) position(id lineID, index int) Point {
	g.peek()
	g.positions++
	if g.positions > g.limits.Points {
		g.tooMany("points", "thin them out, one every few metres is enough", g.limits.Points, g.positions+g.restPositions())
	}
	p := Point{Elevation: math.NaN()}
	if g.peek() != '[' {
		g.malformed("a position (a list of longitude, latitude and elevation)")
		return p
	}
	var lon, lat float64
	n := 0
	g.array(func() {
		switch n++; n {
		case 1:
			lon = g.coordinate("longitude")
		case 2:
			lat = g.coordinate("latitude")
		case 3:
			p.Elevation = g.elevation(id, index)
		default:
			g.skip()
		}
	})
	if g.err == nil {
		g.checkPosition(lon, lat, n)
	}
	if g.err == nil {
		p.Pos = geodesy.FromDegrees(lat, lon)
	}
	return p
}

// coordinate reads a number of degrees.
func (g *geojson) coordinate(what string) float64 {
	c := g.peek()
	start := g.pos
	if startsNumber(c) {
		w := string(g.word())
		if v, ok := parseDecimal(w); ok {
			return v
		}
		g.outOfRange(fmt.Sprintf("The %s %q is not a decimal number; write degrees with a point, like 45.9237.", what, clean(w, 40)))
		return 0
	}
	if c == '[' {
		g.malformed("the " + what + " of a position (there is one list too many around the positions)")
		return 0
	}
	g.skip()
	if g.err == nil {
		g.outOfRange(fmt.Sprintf("The %s is %s, not a number of degrees; correct or remove the point.", what, clean(string(g.data[start:g.pos]), 40)))
	}
	return 0
}

func (g *geojson) outOfRange(detail string) {
	g.fail(Error{Code: CodeOutOfRange, Point: g.positions, Detail: detail})
}

// checkPosition refuses a position that is none.
func (g *geojson) checkPosition(lon, lat float64, numbers int) {
	if numbers < 2 {
		g.outOfRange(fmt.Sprintf("A position has %s, it must have a longitude and a latitude; correct or remove the point.", counted(numbers, "number")))
	}
	if fault := positionFault(lon, lat); fault != "" {
		g.outOfRange(fault)
	}
}

// elevation reads the third value of a position.
func (g *geojson) elevation(id lineID, index int) float64 {
	c := g.peek()
	start := g.pos
	if startsNumber(c) {
		w := g.word()
		if v, ok := parseDecimal(string(w)); ok && math.Abs(v) <= maxElevation {
			return v
		}
	} else {
		g.skip()
	}
	if text := string(g.data[start:g.pos]); text != "null" && g.err == nil {
		m, code, detail := parseElevation(text)
		g.notes.add(id, index, code, detail)
		return m
	}
	return math.NaN()
}

// restPositions counts the positions, as far as they are plainly written, in what is
// left of the file.
func (g *geojson) restPositions() int {
	n, list := 0, false
	for _, c := range g.data[min(g.pos+1, len(g.data)):] {
		switch {
		case c == '[':
			list = true
		case list && (c == '-' || '0' <= c && c <= '9'):
			n++
			list = false
		case c != ' ' && c != '\t' && c != '\r' && c != '\n':
			list = false
		}
	}
	return n
}
