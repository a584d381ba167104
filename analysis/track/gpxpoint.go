package track

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// point takes the opening tag of a position.
func (f *filter) point(t xml.StartElement) error {
	name := t.Name.Local
	if name == "wpt" {
		f.waypoints++
		if f.waypoints > f.limits.Marks {
			return f.tooMany("waypoints", "remove those that the course does not need", f.limits.Marks, f.waypoints+f.rest("wpt"))
		}
	} else {
		f.points++
		if f.points > f.limits.Points {
			return f.tooMany("points", "thin them out, one every few metres is enough", f.limits.Points, f.points+f.rest("trkpt", "rtept"))
		}
	}
	lat, err := f.coordinate(t, "lat", "latitude", 90)
	if err != nil {
		return err
	}
	lon, err := f.coordinate(t, "lon", "longitude", 180)
	if err != nil {
		return err
	}
	f.attrs = [2]xml.Attr{{Name: xml.Name{Local: "lat"}, Value: lat}, {Name: xml.Name{Local: "lon"}, Value: lon}}
	f.emit(xml.StartElement{Name: xml.Name{Local: name}, Attr: f.attrs[:]})
	return nil
}

// coordinate returns the text of a coordinate that is a number within ±limit.
func (f *filter) coordinate(t xml.StartElement, attr, what string, limit float64) (string, error) {
	refuse := func(format string, a ...any) error {
		e := &Error{Code: CodeOutOfRange, Line: f.line, Point: f.points}
		if t.Name.Local == "wpt" {
			e.Point = 0
			what = fmt.Sprintf("%s of waypoint %d", what, f.waypoints)
		}
		e.Detail = "The " + what + " " + fmt.Sprintf(format, a...)
		return e
	}
	text, found := attribute(t, attr)
	if !found {
		return "", refuse("is missing; give the %s attribute or remove the point.", attr)
	}
	if _, fault := parseDegrees(text, limit); fault != "" {
		return "", refuse("%s", fault)
	}
	return text, nil
}

// attribute returns the trimmed value of an attribute that has no prefix.
func attribute(t xml.StartElement, name string) (value string, found bool) {
	for _, a := range t.Attr {
		if a.Name.Space == "" && a.Name.Local == name {
			return strings.TrimSpace(a.Value), true
		}
	}
	return "", false
}

// elevation takes the end of an elevation and hands it on if it can be read. It
// is left out otherwise: "123 m" might as well be feet, and the point's position
// is good without it.
func (f *filter) elevation() {
	v, code, detail := parseElevation(string(f.text))
	if code != "" {
		f.notePoint(code, detail)
	}
	if !math.IsNaN(v) {
		f.emit(startTag("ele"), xml.CharData(strconv.FormatFloat(v, 'g', -1, 64)), endTag("ele"))
	}
}

// notePoint warns about the current point.
func (f *filter) notePoint(code, detail string) { f.notes.add(f.current, f.index, code, detail) }
