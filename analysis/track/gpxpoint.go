package track

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// maxElevation bounds an elevation either way, in metres; every road is inside.
const maxElevation = 9000

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
	v, ok := parseDecimal(text)
	switch {
	case !ok:
		return "", refuse("%q is not a decimal number; write degrees with a point, like 45.9237.", clean(text, 40))
	case !(math.Abs(v) <= limit):
		return "", refuse("%q is beyond ±%g degrees; correct or remove the point.", clean(text, 40), limit)
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
	text := strings.TrimSpace(string(f.text))
	if text == "" {
		return
	}
	v, ok := parseDecimal(text)
	if !ok && strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		if v, ok = parseDecimal(strings.Replace(text, ",", ".", 1)); ok {
			f.notePoint("decimal-comma", fmt.Sprintf("The elevation %q was read with a decimal comma, as %g m.", clean(text, 40), v))
		}
	}
	switch {
	case !ok:
		f.notePoint("elevation-unreadable", fmt.Sprintf("The elevation %q is not a number of metres and was left out.", clean(text, 40)))
	case !(math.Abs(v) <= maxElevation):
		f.notePoint("elevation-out-of-range", fmt.Sprintf("The elevation %q is beyond ±%d m and was left out.", clean(text, 40), maxElevation))
	default:
		f.emit(startTag("ele"), xml.CharData(strconv.FormatFloat(v, 'g', -1, 64)), endTag("ele"))
	}
}

// notePoint warns about the current point.
func (f *filter) notePoint(code, detail string) { f.notes.add(f.current, f.index, code, detail) }

// maxNumber is how many bytes a number may have.
const maxNumber = 64

// parseDecimal returns the number that s writes as an optional sign, digits with
// at most one point, and an optional exponent; ±Inf where that is too large.
// Hexadecimal, underscores and words are no numbers here. Exponents are: common
// writers use them for longitudes near Greenwich.
func parseDecimal(s string) (v float64, ok bool) {
	if len(s) > maxNumber {
		return 0, false
	}
	for _, r := range s {
		if (r < '0' || r > '9') && !strings.ContainsRune("+-.eE", r) {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil || math.IsInf(v, 0)
}
