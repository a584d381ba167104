package track_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"parcours.example/analysis/track"
)

// head opens a GPX 1.1 file in the tests.
const head = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`

// twoPoints is a segment's content.
const twoPoints = `<trkpt lat="45.1" lon="7.1"><ele>100</ele></trkpt><trkpt lat="45.2" lon="7.2"><ele>200.5</ele></trkpt>`

// file returns a file with one track of one segment.
func file(segment string) string {
	return head + "<trk><trkseg>" + segment + "</trkseg></trk></gpx>"
}

// utf16 encodes a text with a byte order mark.
func utf16(t *testing.T, s string, order unicode.Endianness) string {
	t.Helper()
	b, err := unicode.UTF16(order, unicode.UseBOM).NewEncoder().String(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestReadGPXAccepts(t *testing.T) {
	windows1252, err := charmap.Windows1252.NewEncoder().String(
		`<?xml version="1.0" encoding="windows-1252"?>` + head + `<trk><name>Côte – dure</name><trkseg>` + twoPoints + `</trkseg></trk></gpx>`)
	if err != nil {
		t.Fatal(err)
	}
	named := head + `<trk><name>Côte dure</name><trkseg>` + twoPoints + `</trkseg></trk></gpx>`
	for name, c := range map[string]struct {
		in       string
		trackOf  string
		warnings []string
	}{
		"plain":                          {in: file(twoPoints)},
		"GPX 1.0":                        {in: `<?xml version="1.0"?><gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0"><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`},
		"GPX 1.0, file's name":           {in: `<gpx version="1.0"><name> The  loop </name><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, trackOf: "The loop"},
		"GPX 1.1, file's name":           {in: head + `<metadata><author><name>A. Writer</name></author><name>The loop</name></metadata><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, trackOf: "The loop"},
		"track's own name":               {in: head + `<metadata><name>The file</name></metadata><trk><name>The loop</name><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, trackOf: "The loop"},
		"name in CDATA":                  {in: head + `<trk><name><![CDATA[A & B]]></name><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, trackOf: "A & B"},
		"name with a comment":            {in: head + `<trk><name>A<!-- x -->B</name><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, trackOf: "AB"},
		"name after the points":          {in: head + `<trk><trkseg>` + twoPoints + `</trkseg><name>Late</name></trk></gpx>`, trackOf: "Late"},
		"no version":                     {in: `<gpx><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, warnings: []string{"version-unknown"}},
		"version 1.2":                    {in: `<gpx version="1.2"><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, warnings: []string{"version-unknown"}},
		"version 1.0 in other attribute": {in: `<gpx creator='version="1.0"' version="1.1"><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`},
		"prefixed": {in: `<g:gpx version="1.1" xmlns:g="http://www.topografix.com/GPX/1/1"><g:trk><g:trkseg>` +
			`<g:trkpt lat="45.1" lon="7.1"><g:ele>100</g:ele></g:trkpt><g:trkpt lat="45.2" lon="7.2"><g:ele>200.5</g:ele></g:trkpt></g:trkseg></g:trk></g:gpx>`},
		"no namespace below the root": {in: head + `<trk xmlns=""><trkseg>` + twoPoints + `</trkseg></trk></gpx>`},
		"foreign elevation":           {in: strings.ReplaceAll(file(twoPoints), `</ele>`, `</ele><x:ele xmlns:x="urn:x">999</x:ele>`)},
		"undeclared prefix":           {in: strings.ReplaceAll(file(twoPoints), `</ele>`, `</ele><x:ele>999</x:ele>`)},
		"elevation in an extension":   {in: strings.ReplaceAll(file(twoPoints), `</ele>`, `</ele><extensions><ele>999</ele><trkpt/></extensions>`)},
		"prefixed attribute":          {in: strings.ReplaceAll(file(twoPoints), `lat="45.1"`, `lat="45.1" q:lat="1" xmlns:q="urn:q"`)},
		"unused fields wrong": {in: strings.ReplaceAll(file(twoPoints), `</ele>`,
			`</ele><time>yesterday</time><sat>7.0</sat><hdop>x</hdop><dgpsid>0x1</dgpsid><magvar>?</magvar><link/>`)},
		"elevation on lines of its own": {in: strings.ReplaceAll(strings.ReplaceAll(file(twoPoints), "<ele>", "<ele>\n\t "), "</ele>", " \r\n</ele>")},
		"elevation with a comment":      {in: strings.ReplaceAll(file(twoPoints), "<ele>", "<ele><!-- m -->")},
		"spaces in attributes":          {in: strings.ReplaceAll(file(twoPoints), `"45.1"`, `" 45.1 "`)},
		"plus sign and exponent":        {in: strings.ReplaceAll(file(twoPoints), `"45.1"`, `"+4.51E1"`)},
		"single quotes":                 {in: strings.ReplaceAll(file(twoPoints), `"`, `'`)},
		"byte order mark":               {in: "\xef\xbb\xbf" + named, trackOf: "Côte dure"},
		"UTF-16, little end first":      {in: utf16(t, `<?xml version="1.0" encoding="UTF-16"?>`+named, unicode.LittleEndian), trackOf: "Côte dure"},
		"UTF-16, big end first":         {in: utf16(t, `<?xml version="1.0" encoding="utf-16"?>`+named, unicode.BigEndian), trackOf: "Côte dure"},
		"UTF-16 without mark":           {in: utf16(t, named, unicode.LittleEndian)[2:], trackOf: "Côte dure"},
		"UTF-16 declared, but UTF-8":    {in: `<?xml version="1.0" encoding="UTF-16"?>` + named, trackOf: "Côte dure"},
		"ISO-8859-1":                    {in: strings.ReplaceAll(`<?xml version="1.0" encoding="ISO-8859-1"?>`+named, "ô", "\xf4"), trackOf: "Côte dure"},
		"Windows-1252":                  {in: windows1252, trackOf: "Côte – dure"},
		"ISO-8859-1, not declared":      {in: strings.ReplaceAll(named, "ô", "\xf4"), trackOf: "Côte dure", warnings: []string{"encoding-guessed"}},
		"comments around":               {in: "<!-- a -->" + file(twoPoints) + "<!-- b -->\n"},
		"text after the end":            {in: file(twoPoints) + "abc", warnings: []string{"content-after-end"}},
		"a second file after the end":   {in: file(twoPoints) + file(""), warnings: []string{"content-after-end"}},
		"zeros after the end":           {in: file(twoPoints) + "\x00\x00", warnings: []string{"content-after-end"}},
		"a comment of 1 MB":             {in: strings.Replace(file(twoPoints), "<trkpt", "<!--"+strings.Repeat("x", 1_000_000)+"--><trkpt", 1)},
		"empty segments":                {in: head + `<trk><trkseg/><trkseg>` + twoPoints + `</trkseg><trkseg></trkseg></trk></gpx>`},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := track.ReadGPX(context.Background(), []byte(c.in), track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if got.Name != c.trackOf {
				t.Errorf("name %q, want %q", got.Name, c.trackOf)
			}
			if codes := warningCodes(got); !slices.Equal(codes, c.warnings) {
				t.Errorf("warnings %v, want %q", got.Warnings, c.warnings)
			}
			wantPoints(t, got, [][3]float64{{45.1, 7.1, 100}, {45.2, 7.2, 200.5}})
			if len(got.Breaks) != 0 || len(got.Marks) != 0 {
				t.Errorf("breaks %v, marks %v", got.Breaks, got.Marks)
			}
		})
	}
}

func TestReadGPXAcceptsWhiteSpace(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for name, in := range map[string]string{
		"between points": strings.ReplaceAll(file(twoPoints), "<trkpt", strings.Repeat(" \n", 2_500_000)+"<trkpt"),
		"in a number":    strings.Replace(file(twoPoints), "<ele>", "<ele>"+strings.Repeat(" ", 10_000_000), 1),
		"at the end":     file(twoPoints) + strings.Repeat("\n", 10_000_000),
	} {
		got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
		if err != nil || len(got.Warnings) != 0 {
			t.Fatalf("%s: %v, %v", name, err, got)
		}
		wantPoints(t, got, [][3]float64{{45.1, 7.1, 100}, {45.2, 7.2, 200.5}})
	}
}

func warningCodes(got *track.Track) []string {
	var codes []string
	for _, w := range got.Warnings {
		codes = append(codes, w.Code)
	}
	return codes
}

// wantPoints checks latitudes, longitudes and elevations.
func wantPoints(t *testing.T, got *track.Track, want [][3]float64) {
	t.Helper()
	if len(got.Points) != len(want) {
		t.Fatalf("%d points, want %d", len(got.Points), len(want))
	}
	for i, w := range want {
		lat, lon := got.Points[i].Pos.Degrees()
		ele := got.Points[i].Elevation
		if math.Abs(lat-w[0]) > 1e-9 || math.Abs(lon-w[1]) > 1e-9 || ele != w[2] && !(math.IsNaN(ele) && math.IsNaN(w[2])) {
			t.Errorf("point %d: %v %v %v, want %v", i+1, lat, lon, ele, w)
		}
	}
}

func TestReadGPXRefuses(t *testing.T) {
	point := func(attrs string) string {
		return strings.Replace(file("\n<trkpt lat=\"45\" lon=\"7\"/>\n<trkpt\n "+attrs+"/>"), "<trk>", "\n<trk>", 1)
	}
	for name, c := range map[string]struct {
		in          string
		code        string
		line, point int
	}{
		"empty":                  {"", track.CodeNotTheFormat, 1, 0},
		"white space":            {"  \n ", track.CodeNotTheFormat, 2, 0},
		"plain text":             {"distance,elevation\n0,1\n", track.CodeNotTheFormat, 1, 0},
		"JSON":                   {`{"type": "LineString"}`, track.CodeNotTheFormat, 1, 0},
		"text before the root":   {"abc " + file(twoPoints), track.CodeNotTheFormat, 1, 0},
		"other root":             {"\n<kml><Document/></kml>", track.CodeNotTheFormat, 2, 0},
		"web page":               {"<!DOCTYPE html><html></html>", track.CodeNotTheFormat, 1, 0},
		"binary":                 {"\x00\x01\x02\x03", track.CodeNotTheFormat, 1, 0},
		"compressed":             {"\x1f\x8b\x08\x00\x00\x00", track.CodeNotTheFormat, 1, 0},
		"root broken off":        {"<gpx", track.CodeNotTheFormat, 1, 0},
		"unknown encoding":       {`<?xml version="1.0" encoding="klingon"?>` + file(twoPoints), track.CodeMalformed, 1, 0},
		"document type":          {"\n<!DOCTYPE gpx>" + file(twoPoints), track.CodeMalformed, 2, 0},
		"entity bomb":            {`<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>` + file("&b;"), track.CodeMalformed, 1, 0},
		"unknown entity":         {"\n\n" + file("&b;"), track.CodeMalformed, 3, 0},
		"broken off":             {head + "<trk>\n<trkseg>\n" + twoPoints, track.CodeMalformed, 3, 0},
		"broken off in a tag":    {head + "<trk>\n<trkseg>\n<trkpt lat=\"45", track.CodeMalformed, 3, 0},
		"wrong closing tag":      {head + "<trk>\n</trkseg></trk></gpx>", track.CodeMalformed, 2, 0},
		"control character":      {file("\n\x01"), track.CodeMalformed, 2, 0},
		"attribute not quoted":   {file("\n<trkpt lat=45 lon=7/>"), track.CodeMalformed, 2, 0},
		"latitude missing":       {point(`lon="7"`), track.CodeOutOfRange, 4, 2},
		"longitude missing":      {point(`lat="7"`), track.CodeOutOfRange, 4, 2},
		"latitude empty":         {point(`lat="" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude of a prefix":   {point(`q:lat="45" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude 90.0001":       {point(`lat="90.0001" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude −91":           {point(`lat="-91" lon="7"`), track.CodeOutOfRange, 4, 2},
		"longitude 180.1":        {point(`lat="45" lon="180.1"`), track.CodeOutOfRange, 4, 2},
		"latitude NaN":           {point(`lat="NaN" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude Inf":           {point(`lat="Inf" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude 1e400":         {point(`lat="1e400" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude hexadecimal":   {point(`lat="0x2d" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude 4_5":           {point(`lat="4_5" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude 45,9":          {point(`lat="45,9" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude N 45":          {point(`lat="N 45" lon="7"`), track.CodeOutOfRange, 4, 2},
		"latitude of 100 digits": {point(`lat="4` + strings.Repeat("5", 100) + `" lon="7"`), track.CodeOutOfRange, 4, 2},
		"waypoint's latitude 91": {head + "\n<wpt lat=\"91\" lon=\"7\"/></gpx>", track.CodeOutOfRange, 2, 0},
		"nothing in it":          {head + `</gpx>`, track.CodeNoLine, 0, 0},
		"waypoints only":         {head + `<wpt lat="45" lon="7"/></gpx>`, track.CodeNoLine, 0, 0},
		"one point":              {file(`<trkpt lat="45" lon="7"/>`), track.CodeNoLine, 0, 0},
		"points out of place":    {head + twoPoints + `</gpx>`, track.CodeNoLine, 0, 0},
		"a tag of 100 kB":        {"\n\n" + file(`<trkpt lat="45" lon="7" `+strings.Repeat("a='' ", 20_000)+"/>"), track.CodeTooMany, 3, 0},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := track.ReadGPX(context.Background(), []byte(c.in), track.Options{})
			e := wantCode(t, err, c.code)
			if e.Line != c.line || e.Point != c.point {
				t.Errorf("line %d, point %d; want %d, %d: %v", e.Line, e.Point, c.line, c.point, e)
			}
			if strings.Contains(e.Detail, "%!") || !strings.HasSuffix(e.Detail, ".") {
				t.Errorf("%q is no sentence", e.Detail)
			}
		})
	}
}

func TestReadGPXElevations(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		in   string
		want float64
		code string
	}{
		{"123", 123, ""},
		{" 123.25\n", 123.25, ""},
		{"-12", -12, ""},
		{"1.5e2", 150, ""},
		{"9000", 9000, ""},
		{"", nan, ""},
		{"123,4", 123.4, "decimal-comma"},
		{"1.234,5", nan, "elevation-unreadable"},
		{"1,234,5", nan, "elevation-unreadable"},
		{"123 m", nan, "elevation-unreadable"},
		{"NaN", nan, "elevation-unreadable"},
		{"Inf", nan, "elevation-unreadable"},
		{"0x10", nan, "elevation-unreadable"},
		{"1_000", nan, "elevation-unreadable"},
		{"12 3", nan, "elevation-unreadable"},
		{"<b>12</b>", nan, ""},
		{strings.Repeat("1", 100_000), nan, "elevation-unreadable"},
		{"1e400", nan, "elevation-out-of-range"},
		{"-9000.5", nan, "elevation-out-of-range"},
		{"9001", nan, "elevation-out-of-range"},
	} {
		in := file(`<trkpt lat="1" lon="1"><ele>5</ele></trkpt><trkpt lat="2" lon="2"><ele>` + c.in + `</ele></trkpt>`)
		got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
		if err != nil {
			t.Fatalf("%.20q: %v", c.in, err)
		}
		wantPoints(t, got, [][3]float64{{1, 1, 5}, {2, 2, c.want}})
		switch {
		case c.code == "" && len(got.Warnings) == 0:
		case len(got.Warnings) != 1 || got.Warnings[0].Code != c.code || got.Warnings[0].Point != 1:
			t.Errorf("%.20q: warnings %v, want %q at point 1", c.in, got.Warnings, c.code)
		}
	}
}

func TestReadGPXCountsRepeatedWarnings(t *testing.T) {
	in := file(strings.Repeat(`<trkpt lat="1" lon="1"><ele>?</ele></trkpt>`, 100))
	got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(got.Warnings); n != 5 || !strings.Contains(got.Warnings[4].Detail, "95 more") {
		t.Errorf("%d warnings: %v", n, got.Warnings)
	}
}

func TestReadGPXAntimeridianAndPoles(t *testing.T) {
	in := file(`<trkpt lat="0" lon="180"/><trkpt lat="0" lon="-179.5"/><trkpt lat="90" lon="0"/><trkpt lat="-90" lon="0"/>`)
	got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	wantPoints(t, got, [][3]float64{{0, 180, nan}, {0, -179.5, nan}, {90, 0, nan}, {-90, 0, nan}})
}

// severalLines has two tracks, one of them of a point only, and two routes.
const severalLines = head +
	`<rte><name>R1</name><rtept lat="1" lon="1"><name>Foot of the hill</name></rtept><rtept lat="1" lon="2"/></rte>` +
	`<rte><name>R2</name><rtept lat="2" lon="1"/><rtept lat="2" lon="2"/></rte>` +
	`<trk><name>T1</name><trkseg><trkpt lat="3" lon="1"/></trkseg></trk>` +
	`<trk><name>T2</name><trkseg><trkpt lat="4" lon="1"><ele>?</ele></trkpt></trkseg><trkseg><trkpt lat="4" lon="1.0001"/></trkseg><trkseg/>` +
	`<trkseg><trkpt lat="4" lon="2"/><trkpt lat="4" lon="3"><ele>?</ele></trkpt></trkseg></trk></gpx>`

func TestReadGPXChoosesTheLine(t *testing.T) {
	for _, c := range []struct {
		track  int
		name   string
		points int
		breaks []int
		marks  int
		codes  []string
	}{
		{0, "T2", 4, []int{1, 2}, 0, []string{"elevation-unreadable", "elevation-unreadable", "several-tracks", "segment-gap"}},
		{2, "T2", 4, []int{1, 2}, 0, []string{"elevation-unreadable", "elevation-unreadable", "segment-gap"}},
		{3, "R1", 2, nil, 1, nil},
		{4, "R2", 2, nil, 0, nil},
	} {
		got, err := track.ReadGPX(context.Background(), []byte(severalLines), track.Options{Track: c.track})
		if err != nil {
			t.Fatalf("track %d: %v", c.track, err)
		}
		if got.Name != c.name || len(got.Points) != c.points || !slices.Equal(got.Breaks, c.breaks) || len(got.Marks) != c.marks {
			t.Errorf("track %d: got %q, %d points, breaks %v, marks %v; want %+v", c.track, got.Name, len(got.Points), got.Breaks, got.Marks, c)
		}
		if codes := warningCodes(got); !slices.Equal(codes, c.codes) {
			t.Errorf("track %d: warnings %v, want %q", c.track, got.Warnings, c.codes)
		}
	}
	for n, code := range map[int]string{1: track.CodeNoLine, 5: track.CodeNoSuchTrack, -1: track.CodeNoSuchTrack} {
		_, err := track.ReadGPX(context.Background(), []byte(severalLines), track.Options{Track: n})
		wantCode(t, err, code)
	}
}

func TestReadGPXNamesTheOtherLines(t *testing.T) {
	got, err := track.ReadGPX(context.Background(), []byte(severalLines), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range got.Warnings {
		if w.Code == "several-tracks" && (!strings.Contains(w.Detail, `3 (route "R1", 2 points)`) || strings.Contains(w.Detail, "T1")) {
			t.Errorf("%q does not name the usable others", w.Detail)
		}
	}
}

func TestReadGPXTakesTheRouteWithoutATrack(t *testing.T) {
	in := head + `<rte><name>Way</name><rtept lat="1" lon="1"/><rtept lat="1" lon="2"/></rte><trk><name>Empty</name></trk></gpx>`
	got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
	if err != nil || got.Name != "Way" || len(got.Warnings) != 0 {
		t.Errorf("got %+v, %v", got, err)
	}
}

// TestReadGPXAcrossChunks reads lines that are longer than what the parser is
// handed at a time, with everything that may stand at the seams.
func TestReadGPXAcrossChunks(t *testing.T) {
	sizes := []int{10_000, 9_999, 10_001, 20_000, 25_000}
	if testing.Short() {
		sizes = sizes[:1]
	}
	for _, n := range sizes {
		var b bytes.Buffer
		b.WriteString(head + `<trk><name>A</name><trkseg>`)
		for i := range n {
			fmt.Fprintf(&b, `<trkpt lat="%.4f" lon="7"><ele>%d</ele></trkpt>`, float64(i)/1e4, i%1000)
		}
		b.WriteString(`</trkseg><trkseg><trkpt lat="80" lon="7"/></trkseg></trk><trk><name>B</name><trkseg>` + twoPoints + `</trkseg></trk>` +
			`<rte><name>C</name>` + strings.ReplaceAll(twoPoints, "trkpt", "rtept") + `</rte><wpt lat="1" lon="1"><name>Top</name></wpt></gpx>`)
		for i, want := range []struct {
			name   string
			points int
			breaks []int
		}{{"A", n + 1, []int{n}}, {"B", 2, nil}, {"C", 2, nil}} {
			got, err := track.ReadGPX(context.Background(), b.Bytes(), track.Options{Track: i + 1})
			if err != nil {
				t.Fatal(err)
			}
			if got.Name != want.name || len(got.Points) != want.points || !slices.Equal(got.Breaks, want.breaks) || len(got.Marks) != 1 {
				t.Errorf("%d points: line %d is %q, %d points, breaks %v, marks %v", n, i+1, got.Name, len(got.Points), got.Breaks, got.Marks)
			}
			for k := range min(n, len(got.Points)-2) {
				if lat, _ := got.Points[k].Pos.Degrees(); math.Abs(lat-float64(k)/1e4) > 1e-9 || got.Points[k].Elevation != float64(k%1000) {
					t.Fatalf("point %d is at %v, %v m", k, lat, got.Points[k].Elevation)
				}
			}
		}
	}
}

func TestReadGPXRouteAcrossChunks(t *testing.T) {
	const n = 20_001
	in := head + `<wpt lat="1" lon="1"/><rte><name>A</name>` + strings.Repeat(`<rtept lat="1" lon="1"/>`, n) + `</rte>` +
		`<wpt lat="1" lon="1"/><rte><name>B</name>` + strings.Repeat(`<rtept lat="2" lon="2"/>`, n) + `</rte></gpx>`
	for i, name := range []string{"A", "B"} {
		got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{Track: i + 1})
		if err != nil || got.Name != name || len(got.Points) != n || len(got.Marks) != 2 {
			t.Fatalf("route %d: %d points, %v", i+1, len(got.Points), err)
		}
		if got.Marks[1].Name != "mark 2" || len(got.Breaks) != 0 {
			t.Errorf("route %d: marks %v, breaks %v", i+1, got.Marks, got.Breaks)
		}
	}
	_, err := track.ReadGPX(context.Background(), []byte(in), track.Options{Track: 3})
	wantCode(t, err, track.CodeNoSuchTrack)
}
