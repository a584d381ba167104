package track

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
)

// ReadKML reads a KML file, version 2.2 or 2.3 (OGC 12-007r2), or a zip archive that
// holds one. Each placemark with LineStrings or Tracks is a line, several of them in
// one placemark its segments, in file order. Points are marks. Rings and the outer
// rings of polygons are lines if the file has no others, with a warning. Elements are
// told by their local names, in any namespace.
//
// The third number of a position is the elevation in metres. It is left out (NaN), with
// a warning, where it is not a number, where altitudeMode says that it counts from the
// ground, and where the line is clamped to the ground and all its altitudes are 0.
//
// Every error is an *Error, or the context's; its point is counted over all positions of the file. Memory
// grows with the file's bytes and with 32 bytes a point.
func ReadKML(ctx context.Context, data []byte, opt Options) (*Track, error) {
	limits := opt.Limits.orDefault()
	if isArchive(data) {
		return readZippedKML(ctx, data, opt.Track, limits)
	}
	f, err := readKML(ctx, data, limits)
	if err != nil {
		return nil, err
	}
	return f.track(opt.Track)
}

// readKML reads a file that is not zipped.
func readKML(ctx context.Context, data []byte, limits Limits) (*kmlReader, error) {
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	f := &kmlReader{xmlTokens: newXMLTokens(ctx, text, limits, "KML", "kml")}
	if guessed {
		f.notes.addEncodingGuessed()
	}
	for !f.done {
		if err := f.step(); err != nil {
			return nil, err
		}
	}
	f.noteTrailing(&f.notes)
	return f, nil
}

// linksAlone says whether the file only leads to others.
func (f *kmlReader) linksAlone() bool { return len(f.tracks)+len(f.rings) == 0 && f.links > 0 }

// track returns the asked line.
func (f *kmlReader) track(asked int) (*Track, error) {
	if f.linksAlone() {
		return nil, &Error{
			Code:   CodeNoLine,
			Detail: "The file holds no line itself, only a link to another file; open that link and export the course from there.",
		}
	}
	f.useRings(&f.notes)
	return f.choose(asked, f.limits, f.notes)
}

// kmlReader takes the elements of a KML file.
type kmlReader struct {
	*xmlTokens
	contents
	notes notebook

	elements
	done bool
	// text is that of the field that is open, and textLine the line it starts in.
	text     []byte
	textLine int

	current placemark
	shape   kmlShape

	// placemarks, shapes, points and places are counted over the file.
	placemarks, shapes, points, places int
	links                              int // to other files
	spaced                             bool
}

// kmlPasses tells which elements are read inside which.
func kmlPasses(parent, name string) bool {
	switch parent {
	case "kml":
		return isKMLContainer(name)
	case "Document", "Folder":
		return name == "name" || isKMLContainer(name)
	case "Placemark":
		return name == "name" || name == "description" || name == "styleUrl" || isKMLGeometry(name)
	case "MultiGeometry", "MultiTrack":
		return isKMLGeometry(name)
	case "Polygon":
		return name == "outerBoundaryIs"
	case "outerBoundaryIs":
		return name == "LinearRing"
	case "LineString", "LinearRing", "Point":
		return name == "coordinates" || name == "altitudeMode"
	case "Track":
		return name == "coord" || name == "altitudeMode"
	}
	return false
}

// isKMLContainer tells which elements hold placemarks, are one or lead to some.
func isKMLContainer(name string) bool {
	return name == "Document" || name == "Folder" || name == "Placemark" || name == "NetworkLink"
}

func isKMLGeometry(name string) bool {
	switch name {
	case "Point", "LineString", "LinearRing", "Polygon", "MultiGeometry", "Track", "MultiTrack":
		return true
	}
	return false
}

// step takes one token of the file.
func (f *kmlReader) step() error {
	t, err := f.next()
	if err != nil {
		return err
	}
	switch t := t.(type) {
	case xml.StartElement:
		return f.start(t.Name.Local)
	case xml.EndElement:
		return f.end()
	case xml.CharData:
		f.chars(t)
	}
	return nil
}

// start takes an opening tag.
func (f *kmlReader) start(name string) error {
	if !f.enter(name, kmlPasses) {
		return nil
	}
	f.text = f.text[:0]
	switch name {
	case "Placemark":
		f.current = placemark{line: line{id: lineID{"line", f.placemarks}}}
		f.placemarks++
	case "LineString", "Track", "LinearRing", "Point":
		return f.startShape(name)
	case "NetworkLink":
		f.links++
	}
	return nil
}

// end takes a closing tag.
func (f *kmlReader) end() error {
	name, known := f.leave()
	if !known {
		return nil
	}
	switch name {
	case "kml":
		f.done = true
	case "name":
		f.setName(clean(string(f.text), f.limits.NameRunes))
	case "description":
		f.current.description = clean(string(f.text), f.limits.NameRunes)
	case "styleUrl":
		f.current.style = clean(string(f.text), f.limits.NameRunes)
	case "altitudeMode":
		f.shape.mode = string(bytes.TrimSpace(f.text))
	case "coordinates":
		return f.endCoordinates()
	case "coord":
		return f.coord()
	case "LineString", "Track", "LinearRing":
		f.endShape()
	case "Placemark":
		f.endPlacemark()
	}
	return nil
}

// setName takes the name of a placemark or of the file, which is that of its outermost
// element.
func (f *kmlReader) setName(name string) {
	if f.innermost() == "Placemark" {
		f.current.name = name
	} else if len(f.open) == 2 {
		f.name = name
	}
}

// chars takes text between tags.
func (f *kmlReader) chars(text []byte) {
	if len(f.open) == 0 || f.skipped > 0 {
		return
	}
	switch f.innermost() {
	case "coordinates":
		if len(f.text) == 0 {
			f.textLine = f.line
		}
		f.text = append(f.text, text...)
	case "name", "description", "styleUrl", "altitudeMode", "coord":
		if len(f.text) == 0 {
			text = bytes.TrimLeft(text, " \t\r\n")
		}
		f.text = append(f.text, text[:min(len(text), maxField-len(f.text))]...)
	}
}

// countShape counts a line or a ring.
func (f *kmlReader) countShape() error {
	f.shapes++
	if f.shapes > f.limits.Parts {
		return f.tooMany("lines and rings", "keep those of the course alone", f.limits.Parts, f.shapes)
	}
	return nil
}

// countPoint counts a position in a line of the file; more returns how many follow it.
func (f *kmlReader) countPoint(line int, more func() int) error {
	f.line = line
	if f.shape.kind == "Point" {
		f.places++
		if f.places > f.limits.Marks {
			return f.tooMany("single places", "remove those that the course does not need", f.limits.Marks, f.places)
		}
	}
	f.points++
	if f.points > f.limits.Points {
		return f.tooMany("points", "thin them out, one every few metres is enough", f.limits.Points, f.points+more())
	}
	return f.look()
}

// outOfRange refuses the current position.
func (f *kmlReader) outOfRange(line int, format string, a ...any) error {
	return &Error{Code: CodeOutOfRange, Line: line, Point: f.points, Detail: fmt.Sprintf(format, a...)}
}
