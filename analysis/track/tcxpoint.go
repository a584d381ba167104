package track

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/geodesy"
)

// tcxPoint is a point that is being read.
type tcxPoint struct {
	lat, lon   float64 // in degrees, NaN until they are read
	elevation  float64
	distanceM  float64
	line       int // where it starts
	positioned bool
	named      bool // it is a course point
}

// startPoint takes the start of a point of the line.
func (f *tcxReader) startPoint() error {
	f.points++
	if f.points > f.limits.Points {
		return f.tooMany("points", "thin them out, one every few metres is enough", f.limits.Points, f.points+f.rest("Trackpoint"))
	}
	f.point = noTCXPoint(f.line)
	return nil
}

func noTCXPoint(line int) tcxPoint {
	return tcxPoint{lat: math.NaN(), lon: math.NaN(), elevation: math.NaN(), distanceM: math.NaN(), line: line}
}

// elevation takes an elevation, which is left out if it can't be read.
func (f *tcxReader) elevation(text string) {
	v, code, detail := parseElevation(text)
	if code != "" {
		f.notes.add(f.current.id, len(f.current.points), code, detail)
	}
	f.point.elevation = v
}

// distance takes a distance, which is left out if it can't be read.
func (f *tcxReader) distance(text string) {
	v, ok := parseDecimal(strings.TrimSpace(text))
	if !ok || !(v >= 0) || math.IsInf(v, 0) {
		f.notes.add(f.current.id, len(f.current.points), "distance-unreadable", fmt.Sprintf(
			"The distance %q is not a number of metres from 0 on and was left out.", clean(text, 40)))
		return
	}
	f.point.distanceM = v
}

// degrees returns a latitude or longitude.
func (f *tcxReader) degrees(what, text string, limit float64) (float64, error) {
	v, fault := parseDegrees(text, limit)
	if fault != "" {
		return 0, f.badPosition(what, fault)
	}
	return v, nil
}

// badPosition refuses the position of the current point or place.
func (f *tcxReader) badPosition(what, fault string) error {
	e := &Error{Code: CodeOutOfRange, Line: f.point.line, Point: f.points}
	if f.point.named {
		e.Point = 0
		what += fmt.Sprintf(" of course point %d", f.places.kept+f.places.turns+1)
	}
	e.Detail = "The " + what + " " + fault
	return e
}

// position returns where the current point is, the zero vector where it has no
// position.
func (f *tcxReader) position() (geodesy.Vec, error) {
	switch {
	case !f.point.positioned:
		return unplaced, nil
	case math.IsNaN(f.point.lat):
		return unplaced, f.badPosition("latitude", "is missing; give it or remove the point.")
	case math.IsNaN(f.point.lon):
		return unplaced, f.badPosition("longitude", "is missing; give it or remove the point.")
	}
	return geodesy.FromDegrees(f.point.lat, f.point.lon), nil
}

// endPoint adds the current point to the line.
func (f *tcxReader) endPoint() error {
	pos, err := f.position()
	if err == nil {
		f.current.add(Point{Pos: pos, Elevation: f.point.elevation}, f.point.distanceM)
	}
	return err
}

// endPlace adds the current place to the line.
func (f *tcxReader) endPlace() error {
	pos, err := f.position()
	if err == nil {
		f.place.pos = pos
		f.places.addTo(&f.current, f.place)
	}
	return err
}
