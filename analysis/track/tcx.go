package track

import (
	"bytes"
	"context"
	"encoding/xml"
	"math"
)

// ReadTCX reads a TCX file: training-centre XML, version 1 or 2. Each course and
// each activity of it is a track, its laps joined. The line is taken by the
// positions of the points or, where fewer than half of them have one, by their
// distances: then Track.DistanceM is set. Course points become marks, except those
// that only say which way to turn. Elements are told by their local names, in any
// namespace. Times and all else in the file are ignored.
//
// Every error is an *Error, or the context's. Memory grows with the file's bytes and with 40 bytes a
// point.
func ReadTCX(ctx context.Context, data []byte, opt Options) (*Track, error) {
	limits := opt.Limits.orDefault()
	text, guessed, err := decodeText(data)
	if err != nil {
		return nil, err
	}
	f := tcxReader{xmlTokens: newXMLTokens(ctx, text, limits, "TCX", tcxRoot)}
	if guessed {
		f.notes.addEncodingGuessed()
	}
	for !f.done {
		if err := f.step(); err != nil {
			return nil, err
		}
	}
	f.noteTrailing(&f.notes)
	f.places.noteTurns(&f.notes)
	return f.contents.choose(opt.Track, limits, f.notes)
}

// tcxRoot is the local name of a TCX file's outermost element.
const tcxRoot = "TrainingCenterDatabase"

// tcxReader takes the elements of a TCX file.
type tcxReader struct {
	*xmlTokens
	notes notebook
	contents

	elements
	done bool
	text []byte // of the field that is open

	current recording
	parts   int // courses, activities and their segments
	points  int // in all of them
	places  coursePoints
	point   tcxPoint
	place   coursePoint
}

// tcxPasses tells which elements are read inside which.
func tcxPasses(parent, name string) bool {
	switch parent {
	case tcxRoot, "Courses", "Activities", "MultiSportSession", "FirstSport", "NextSport":
		switch name {
		case "Courses", "Activities", "MultiSportSession", "FirstSport", "NextSport", "Course", "Activity":
			return true
		}
	case "Course":
		return name == "Name" || name == "Track" || name == "CoursePoint"
	case "Activity":
		return name == "Lap" || name == "Track"
	case "Lap":
		return name == "Track"
	case "Track":
		return name == "Trackpoint"
	case "Trackpoint":
		return name == "Position" || name == "AltitudeMeters" || name == "DistanceMeters"
	case "CoursePoint":
		return name == "Name" || name == "PointType" || name == "Position"
	case "Position":
		return name == "LatitudeDegrees" || name == "LongitudeDegrees"
	}
	return false
}

// step takes one token of the file.
func (f *tcxReader) step() error {
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
func (f *tcxReader) start(name string) error {
	if !f.enter(name, tcxPasses) {
		return nil
	}
	f.text = f.text[:0]
	switch name {
	case "Course", "Activity":
		f.current = recording{id: lineID{"trk", len(f.tracks)}}
		return f.part()
	case "Track":
		f.current.startSegment()
		return f.part()
	case "Trackpoint":
		return f.startPoint()
	case "CoursePoint":
		f.place, f.point = coursePoint{atM: math.NaN()}, noTCXPoint(f.line)
		f.point.named = true
		if err := f.places.tooMany(f.limits.Marks, "here"); err != nil {
			err.Line = f.line
			return err
		}
	case "Position":
		f.point.positioned = true
	}
	return nil
}

// part counts a course, an activity or a segment.
func (f *tcxReader) part() error {
	f.parts++
	if f.parts > f.limits.Parts {
		return f.tooMany("courses, activities and segments", "keep those of the course alone", f.limits.Parts, f.parts+f.rest("Course>", "Activity ", "Track>"))
	}
	return nil
}

// end takes a closing tag.
func (f *tcxReader) end() error {
	name, known := f.leave()
	if !known {
		return nil
	}
	switch name {
	case tcxRoot:
		f.done = true
	case "Course", "Activity":
		f.tracks = append(f.tracks, f.current.line(&f.notes))
	case "Trackpoint":
		return f.endPoint()
	case "CoursePoint":
		return f.endPlace()
	default:
		return f.field(name, string(f.text))
	}
	return nil
}

// field takes the text of an element.
func (f *tcxReader) field(name, text string) (err error) {
	switch name {
	case "Name":
		if name := clean(text, f.limits.NameRunes); f.innermost() == "CoursePoint" {
			f.place.name = name
		} else {
			f.current.name = name
		}
	case "PointType":
		if f.place.kind = clean(text, f.limits.NameRunes); f.place.kind == "Generic" {
			f.place.kind = ""
		}
	case "AltitudeMeters":
		f.elevation(text)
	case "DistanceMeters":
		f.distance(text)
	case "LatitudeDegrees":
		f.point.lat, err = f.degrees("latitude", text, 90)
	case "LongitudeDegrees":
		f.point.lon, err = f.degrees("longitude", text, 180)
	}
	return err
}

// chars takes text between tags.
func (f *tcxReader) chars(text []byte) {
	if len(f.open) == 0 || f.skipped > 0 {
		return
	}
	if len(f.text) == 0 {
		text = bytes.TrimLeft(text, " \t\r\n")
	}
	f.text = append(f.text, text[:min(len(text), maxField-len(f.text))]...)
}
