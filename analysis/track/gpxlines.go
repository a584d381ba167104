package track

import (
	"encoding/xml"
	"fmt"
	"math"

	"github.com/tkrajina/gpxgo/gpx"

	"parcours.example/analysis/geodesy"
)

// reducedHead is what the reduced document that the filter makes starts with: it
// has the flat form of version 1.0 for files of either version.
const reducedHead = `<gpx version="1.0">`

// read adds the next chunk of the file.
func (c *contents) read(f *filter) error {
	resumed := f.resume()
	doc, err := gpx.ParseDecoder(xml.NewTokenDecoder(f), []byte(reducedHead))
	if f.err != nil {
		return f.err
	}
	if err != nil {
		return &Error{Code: CodeMalformed, Line: f.line, Detail: fmt.Sprintf("The file can't be understood here (%v); export it again.", err)}
	}
	if doc.Name != "" {
		c.name = doc.Name
	}
	for _, p := range doc.Waypoints {
		c.marks = append(c.marks, waypointMark(p, len(c.marks)+1))
	}
	for i, t := range doc.Tracks {
		if i > 0 || resumed != "trk" {
			c.tracks = append(c.tracks, line{id: lineID{"trk", len(c.tracks)}})
		}
		c.tracks[len(c.tracks)-1].addTrack(t, i == 0 && resumed == "trk", f.limits.Marks)
	}
	for i, r := range doc.Routes {
		if i > 0 || resumed != "rte" {
			c.routes = append(c.routes, line{id: lineID{"rte", len(c.routes)}})
		}
		l := &c.routes[len(c.routes)-1]
		l.setName(r.Name)
		l.addPoints(r.Points, f.limits.Marks)
	}
	return nil
}

// addTrack adds the segments of a track; the first is the continuation of the
// line's last one if the track is resumed.
func (l *line) addTrack(t gpx.GPXTrack, resumed bool, marks int) {
	l.setName(t.Name)
	for i, s := range t.Segments {
		if len(s.Points) > 0 && len(l.points) > 0 && (i != 0 || !resumed) {
			l.breaks = append(l.breaks, len(l.points))
		}
		l.addPoints(s.Points, marks)
	}
}

// addPoints appends points, and marks for the named ones until one is beyond the
// limit.
func (l *line) addPoints(points []gpx.GPXPoint, marks int) {
	for _, p := range points {
		q := Point{Pos: geodesy.FromDegrees(p.Latitude, p.Longitude), Elevation: math.NaN()}
		if p.Elevation.NotNull() {
			q.Elevation = p.Elevation.Value()
		}
		l.points = append(l.points, q)
		if isPlaceName(p.Name) && len(l.named) <= marks {
			l.named = append(l.named, pointMark(p, p.Name))
		}
	}
}
