package coursegen

import (
	"bytes"
	"encoding/xml"
	"fmt"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// GPX writes points and marks as a GPX 1.1 file of one track with one segment:
// positions to 10⁻⁷ degrees (about 1 cm), elevations to a number of decimals. A
// mark becomes a waypoint whose type is its kind.
func GPX(name string, points []track.Point, decimals int, marks []Mark) []byte {
	var b bytes.Buffer
	b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	b.WriteString("<gpx version=\"1.1\" creator=\"Arvane county\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n")
	for _, m := range marks {
		fmt.Fprintf(&b, "<wpt %s><name>%s</name><type>%s</type></wpt>\n", degrees(m.Pos), escaped(m.Name), escaped(string(m.Kind)))
	}
	fmt.Fprintf(&b, "<trk><name>%s</name><trkseg>\n", escaped(name))
	for _, p := range points {
		fmt.Fprintf(&b, "<trkpt %s><ele>%.*f</ele></trkpt>\n", degrees(p.Pos), decimals, p.Elevation)
	}
	b.WriteString("</trkseg></trk>\n</gpx>\n")
	return b.Bytes()
}

func degrees(v geodesy.Vec) string {
	lat, lon := v.Degrees()
	return fmt.Sprintf(`lat="%.7f" lon="%.7f"`, lat, lon)
}

func escaped(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(s)) // a buffer takes all
	return b.String()
}
