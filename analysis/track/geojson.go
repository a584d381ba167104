package track

import (
	"bytes"
	"context"
	"fmt"
)

// ReadGeoJSON reads a GeoJSON file (RFC 7946) of any of its types, in UTF-8 or, with
// a byte order mark, UTF-16. Each LineString is a line and each MultiLineString one of
// several segments, in file order; the third number of a position is the elevation in
// metres, and those after it are ignored. An elevation that is missing or null is NaN;
// one that is not a number of metres is left out with a warning. Points are marks. The
// outer rings of polygons are lines if the file has no others, with a warning. A name
// comes from the first of the properties name, title, label and description that is
// given.
//
// Positions are longitude, latitude on WGS 84. A member crs, which earlier GeoJSON had,
// is refused if it names another system.
//
// Every error is an *Error, or the context's; its point is counted over all positions of the file. Memory
// grows with the file's bytes and with 32 bytes a point.
func ReadGeoJSON(ctx context.Context, data []byte, opt Options) (*Track, error) {
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	g := &geojson{jsonText: jsonText{data: text, abandoned: ctx.Err, limits: opt.Limits.orDefault()}}
	if guessed {
		g.notes.addFile("encoding-guessed", "The file is not UTF-8; it was read as Windows-1252, names may hold wrong letters.")
	}
	g.file()
	if g.err != nil {
		return nil, g.err
	}
	g.useRings(&g.notes)
	return g.choose(opt.Track, g.limits, g.notes)
}

// geojson is a file on its way to a track.
type geojson struct {
	jsonText
	contents
	notes notebook
	// positions, places, parts and geometries are counted over the file.
	positions, places, parts, geometries int
	nested                               int // GeoJSON objects around pos
}

// maxNested is how deep GeoJSON objects may stand inside each other. Two levels are
// for collection and feature; geometry collections in geometry collections should be
// avoided (RFC 7946, 3.1.8).
const maxNested = 8

// file reads the whole file.
func (g *geojson) file() {
	switch g.peek() {
	case '{':
	case '[':
		g.notTheFormat("is a JSON list, but the outermost value of GeoJSON is an object with a type")
		return
	case '<':
		g.notTheFormat("is XML, not JSON")
		return
	case 0:
		g.notTheFormat("is empty")
		return
	default:
		g.notTheFormat("does not start as JSON")
		return
	}
	switch typ := g.typeAhead(); typ {
	case "FeatureCollection", "Feature", "GeometryCollection", "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon":
	case "":
		g.notTheFormat("is JSON, but its outermost object has no type as GeoJSON has")
	case "Topology":
		g.notTheFormat("is a topology, whose lines are stored in pieces, not GeoJSON")
	default:
		g.notTheFormat(fmt.Sprintf("is JSON of the type %q, which GeoJSON does not know", clean(typ, 40)))
	}
	g.anyObject()
	if g.err == nil && len(bytes.TrimSpace(g.data[g.pos:])) > 0 {
		g.notes.addFile("content-after-end", "What follows the end of the GeoJSON object was ignored.")
	}
}

func (g *geojson) notTheFormat(what string) {
	g.fail(Error{Code: CodeNotTheFormat, Detail: fmt.Sprintf(
		"The file %s; export the course as GeoJSON, or name the file's true format.", what)})
}

// typeAhead returns the type of the object that comes next without reading it.
func (g *geojson) typeAhead() string {
	start, depth, elements := g.pos, g.depth, g.elements
	typ := ""
	if g.open('{') {
		for first := true; typ == "" && g.next('}', first); first = false {
			key := g.text()
			if !g.take(':') {
				g.malformed("a colon")
			} else if key == "type" && g.peek() == '"' {
				typ = g.text()
			} else {
				g.skip()
			}
		}
	}
	if g.err == nil {
		g.pos, g.depth, g.elements = start, depth, elements
	}
	return typ
}

// anyObject reads a GeoJSON object of any type, or null.
func (g *geojson) anyObject() {
	if g.peek() != '{' {
		g.skip()
		return
	}
	g.nested++
	defer func() { g.nested-- }()
	if g.nested > maxNested {
		g.tooMany("levels of collections inside each other", "keep the line of the course alone", maxNested, g.nested)
	}
	switch typ := g.typeAhead(); typ {
	case "Feature":
		g.feature()
	case "FeatureCollection":
		g.collection("features")
	case "GeometryCollection":
		g.collection("geometries")
	case "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon":
		g.geometry(typ)
	default:
		g.notes.addFile("geometry-unknown", fmt.Sprintf(
			"An object of the type %q was ignored, which GeoJSON does not know.", clean(typ, 40)))
		g.skip()
	}
}

// collection reads an object that has others in a list.
func (g *geojson) collection(list string) {
	g.members(list, func(key string) {
		switch key {
		case list:
			g.list(g.anyObject)
		case "name":
			if name := clean(g.scalar(), g.limits.NameRunes); g.nested == 1 {
				g.name = name
			}
		default:
			g.skip()
		}
	})
}

// list reads an array, or null in the place of one.
func (g *geojson) list(value func()) {
	if g.peek() == 'n' {
		g.skip()
		return
	}
	g.array(value)
}

// members reads the members of a GeoJSON object. The one that holds its content may
// stand there but once: with two of them it would depend on the reader what the course
// is.
func (g *geojson) members(content string, member func(key string)) {
	twice := false
	g.object(func(key string) {
		switch key {
		case content:
			if twice {
				g.fail(Error{Code: CodeMalformed, Detail: fmt.Sprintf("An object has the member %q twice; remove one of them.", content)})
			}
			twice = true
			member(key)
		case "crs":
			g.system()
		default:
			member(key)
		}
	})
}
