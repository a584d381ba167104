package api_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/proto"
)

// drawing is what a route file tells, whatever its format.
type drawing struct {
	lines []drawnLine
	marks []drawnMark
}

// drawnLine is a line of points.
type drawnLine struct {
	name   string
	points []drawnPoint
}

// drawnPoint is a point of a line. In place of its latitude (or distance) and its
// elevation stand the texts lat and ele where they are not empty. No elevation is NaN.
type drawnPoint struct {
	latDeg, lonDeg, eleM, distanceM float64
	lat, ele, time                  string
}

func (p drawnPoint) latText() string { return either(p.lat, fmt.Sprintf("%.7f", p.latDeg)) }
func (p drawnPoint) lonText() string { return fmt.Sprintf("%.7f", p.lonDeg) }

// eleText is empty where there is no elevation.
func (p drawnPoint) eleText() string {
	if p.ele == "" && math.IsNaN(p.eleM) {
		return ""
	}
	return either(p.ele, fmt.Sprintf("%.1f", p.eleM))
}

func either(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

type drawnMark struct {
	name, kind string
	at         drawnPoint
}

// drawn returns the line that the defects are put into: 3 km north over a hill, with
// a sprint line half way and a summit at 2 km.
func drawn() drawing {
	l := drawnLine{name: "Hügel"}
	for i := range 61 {
		d := 50 * float64(i)
		l.points = append(l.points, drawnPoint{
			latDeg: 47 + d/111170, lonDeg: 3.2, distanceM: d,
			eleM: math.Round(5*(200+30*(1-math.Cos(2*math.Pi*d/3000)))) / 5,
		})
	}
	return drawing{
		lines: []drawnLine{l},
		marks: []drawnMark{{"Mühle", "sprint", l.points[30]}, {"Ridge", "summit", l.points[40]}},
	}
}

// writer writes drawings in one format.
type writer struct {
	name, mediaType string
	write           func(drawing) []byte
}

// writers are the columns of the table of defects.
var writers = []writer{
	{"GPX", "application/gpx+xml", writeGPX},
	{"GPX.gz", "application/gpx+xml", func(d drawing) []byte { return gzipped(writeGPX(d)) }},
	{"GeoJSON", "application/geo+json", writeGeoJSON},
	{"KML", "application/vnd.google-earth.kml+xml", writeKML},
	{"TCX", "application/tcx+xml", writeTCX},
	{"FIT", "application/fit", writeFIT},
	{"positions", "text/csv", writePositions},
	{"distances", "text/csv", writeDistances},
}

const xmlHead = `<?xml version="1.0" encoding="UTF-8"?>` + "\n"

func tag(name, content string) string {
	if content == "" {
		return ""
	}
	return "<" + name + ">" + content + "</" + name + ">"
}

func writeGPX(d drawing) []byte {
	b := xmlHead + `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">` + "\n"
	for _, m := range d.marks {
		b += fmt.Sprintf(`<wpt lat="%s" lon="%s"><name>%s</name><type>%s</type></wpt>`+"\n", m.at.latText(), m.at.lonText(), m.name, m.kind)
	}
	for _, l := range d.lines {
		b += "<trk>" + tag("name", html.EscapeString(l.name)) + "<trkseg>\n"
		for _, p := range l.points {
			b += fmt.Sprintf(`<trkpt lat="%s" lon="%s">%s%s</trkpt>`+"\n", p.latText(), p.lonText(), tag("ele", p.eleText()), tag("time", p.time))
		}
		b += "</trkseg></trk>\n"
	}
	return []byte(b + "</gpx>\n")
}

func writeGeoJSON(d drawing) []byte {
	var features []string
	for _, l := range d.lines {
		var positions []string
		for _, p := range l.points {
			position := p.lonText() + "," + p.latText()
			if ele := p.eleText(); ele != "" {
				position += "," + ele
			}
			positions = append(positions, "["+position+"]")
		}
		features = append(features, fmt.Sprintf(`{"type": "Feature", "properties": {"name": %q}, "geometry": {"type": "LineString", "coordinates": [%s]}}`,
			l.name, strings.Join(positions, ",\n")))
	}
	for _, m := range d.marks {
		features = append(features, fmt.Sprintf(`{"type": "Feature", "properties": {"name": %q, "kind": %q}, "geometry": {"type": "Point", "coordinates": [%s,%s]}}`,
			m.name, m.kind, m.at.lonText(), m.at.latText()))
	}
	return []byte(`{"type": "FeatureCollection", "features": [` + strings.Join(features, ",\n") + "]}\n")
}

func writeKML(d drawing) []byte {
	b := xmlHead + `<kml xmlns="http://www.opengis.net/kml/2.2"><Document>` + "\n"
	for _, l := range d.lines {
		b += "<Placemark>" + tag("name", html.EscapeString(l.name)) + "<LineString><altitudeMode>absolute</altitudeMode><coordinates>\n"
		for _, p := range l.points {
			b += strings.TrimSuffix(p.lonText()+","+p.latText()+","+p.eleText(), ",") + "\n"
		}
		b += "</coordinates></LineString></Placemark>\n"
	}
	for _, m := range d.marks {
		b += fmt.Sprintf("<Placemark><name>%s</name><description>%s</description><Point><coordinates>%s,%s</coordinates></Point></Placemark>\n", m.name, m.kind, m.at.lonText(), m.at.latText())
	}
	return []byte(b + "</Document></kml>\n")
}

func writeTCX(d drawing) []byte {
	position := func(p drawnPoint) string {
		return "<Position><LatitudeDegrees>" + p.latText() + "</LatitudeDegrees><LongitudeDegrees>" + p.lonText() + "</LongitudeDegrees></Position>"
	}
	b := xmlHead + "<TrainingCenterDatabase><Courses>\n"
	for _, l := range d.lines {
		b += "<Course>" + tag("Name", html.EscapeString(l.name)) + "<Track>\n"
		for _, p := range l.points {
			b += "<Trackpoint>" + tag("Time", p.time) + position(p) + tag("AltitudeMeters", p.eleText()) + "</Trackpoint>\n"
		}
		b += "</Track>"
		for _, m := range d.marks {
			b += fmt.Sprintf("<CoursePoint><Name>%s</Name>%s<PointType>%s</PointType></CoursePoint>", m.name, position(m.at), m.kind)
		}
		b += "</Course>\n"
	}
	return []byte(b + "</Courses></TrainingCenterDatabase>\n")
}

// writeFIT writes each line as a course of its own, all chained, by the encoder of
// the library of which our reader only uses another part. Texts in place of numbers
// are left out, as the format can't hold them.
func writeFIT(d drawing) []byte {
	var b bytes.Buffer
	for _, l := range d.lines {
		file := &proto.FIT{Messages: []proto.Message{
			mesgdef.NewFileId(nil).SetType(typedef.FileCourse).ToMesg(nil),
			mesgdef.NewCourse(nil).SetName(l.name).ToMesg(nil),
		}}
		for _, p := range l.points {
			r := mesgdef.NewRecord(nil)
			if p.lat == "" {
				r.SetPositionLatDegrees(p.latDeg).SetPositionLongDegrees(p.lonDeg)
			}
			if p.ele == "" && !math.IsNaN(p.eleM) {
				r.SetEnhancedAltitudeScaled(p.eleM)
			}
			file.Messages = append(file.Messages, r.ToMesg(nil))
		}
		for _, m := range d.marks {
			kind := map[string]typedef.CoursePoint{"sprint": typedef.CoursePointSprint, "summit": typedef.CoursePointSummit}[m.kind]
			file.Messages = append(file.Messages, mesgdef.NewCoursePoint(nil).SetName(m.name).SetType(kind).
				SetPositionLatDegrees(m.at.latDeg).SetPositionLongDegrees(m.at.lonDeg).ToMesg(nil))
		}
		var one bytes.Buffer // the encoder goes back to the start of what it writes to
		if err := encoder.New(&one).Encode(file); err != nil {
			panic(err)
		}
		b.Write(one.Bytes())
	}
	return b.Bytes()
}

func writePositions(d drawing) []byte {
	return writeTable("latitude,longitude,elevation_m,name,kind\n", d, func(p drawnPoint) string { return p.latText() + "," + p.lonText() })
}

func writeDistances(d drawing) []byte {
	return writeTable("distance_m,elevation_m,name,kind\n", d, func(p drawnPoint) string { return either(p.lat, fmt.Sprintf("%.1f", p.distanceM)) })
}

// writeTable writes the first line; a mark is a point with a name.
func writeTable(head string, d drawing, place func(drawnPoint) string) []byte {
	b := head
	for _, p := range d.lines[0].points {
		name := ","
		for _, m := range d.marks {
			if m.at.distanceM == p.distanceM {
				name = m.name + "," + m.kind
			}
		}
		b += place(p) + "," + p.eleText() + "," + name + "\n"
	}
	return []byte(b)
}

// analysedFile is what the table of defects looks at of a reply.
type analysedFile struct {
	Type      string  `json:"type"` // of a problem
	Detail    string  `json:"detail"`
	Point     int     `json:"point"`
	Name      string  `json:"name"`
	DistanceM float64 `json:"distance_m"`
	Marks     []struct {
		Name, Kind string
	} `json:"marks"`
	Quality struct {
		Warnings []struct{ Code, Detail string } `json:"warnings"`
	} `json:"quality"`
}

// marked reports whether the marks that are drawn have been read.
func (a analysedFile) marked() bool {
	return len(a.Marks) == 2 && a.Marks[0].Name == "Mühle" && a.Marks[0].Kind == "sprint" && a.Marks[1].Name == "Ridge" && a.Marks[1].Kind == "summit"
}

// told is what the table of defects calls a reply.
func (a analysedFile) told() string {
	if a.Type != "" {
		return strings.TrimPrefix(a.Type, "/problems/")
	}
	var codes []string
	for _, w := range a.Quality.Warnings {
		codes = append(codes, w.Code)
	}
	if codes == nil {
		return "ok"
	}
	slices.Sort(codes)
	return "+" + strings.Join(slices.Compact(codes), " +")
}

func decodeAnalysed(t *testing.T, body []byte) analysedFile {
	t.Helper()
	var a analysedFile
	if err := json.Unmarshal(body, &a); err != nil {
		t.Fatal(err)
	}
	return a
}
