package track_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/encoding/unicode"

	"parcours.example/analysis/track"
)

// twoPositions are the same as twoPoints.
const twoPositions = `[7.1,45.1,100],[7.2,45.2,200.5]`

// lineString is a bare geometry.
const lineString = `{"type":"LineString","coordinates":[` + twoPositions + `]}`

// feature returns a feature with properties, and features a collection.
func feature(properties, geometry string) string {
	return `{"type":"Feature","properties":` + properties + `,"geometry":` + geometry + `}`
}

func features(of ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(of, ",") + `]}`
}

func point(name, position string) string {
	return feature(`{"name":"`+name+`"}`, `{"type":"Point","coordinates":`+position+`}`)
}

// acceptance is a file that must be read as the two points.
type acceptance struct {
	in       string
	trackOf  string
	breaks   []int
	warnings []string
}

// wantTwoPoints reads a file that holds nothing but the two points.
func wantTwoPoints(t *testing.T, read func(context.Context, []byte, track.Options) (*track.Track, error), c acceptance) {
	t.Helper()
	got, err := read(context.Background(), []byte(c.in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Name != c.trackOf {
		t.Errorf("name %q, want %q", got.Name, c.trackOf)
	}
	if codes := warningCodes(got); !slices.Equal(codes, c.warnings) {
		t.Errorf("warnings %+v, want %q", got.Warnings, c.warnings)
	}
	wantPoints(t, got, [][3]float64{{45.1, 7.1, 100}, {45.2, 7.2, 200.5}})
	if !slices.Equal(got.Breaks, c.breaks) {
		t.Errorf("breaks %v, want %v", got.Breaks, c.breaks)
	}
}

func TestReadGeoJSONAccepts(t *testing.T) {
	named := feature(`{"name":"Côte dure"}`, lineString)
	for name, c := range map[string]acceptance{
		"bare line":                      {in: lineString},
		"coordinates before the type":    {in: `{"coordinates":[` + twoPositions + `],"type":"LineString"}`},
		"several segments":               {in: `{"type":"MultiLineString","coordinates":[[[7.1,45.1,100]],[],[[7.2,45.2,200.5]]]}`, breaks: []int{1}, warnings: []string{"segment-gap"}},
		"feature":                        {in: named, trackOf: "Côte dure"},
		"properties after the geometry":  {in: `{"type":"Feature","geometry":` + lineString + `,"properties":{"name":"Late"}}`, trackOf: "Late"},
		"title":                          {in: feature(`{"TITLE":"The loop","name":""}`, lineString), trackOf: "The loop"},
		"name that is a number":          {in: feature(`{"name":12}`, lineString), trackOf: "12"},
		"name with escapes":              {in: feature(`{"name":"C\u00f4te \"dure\"\n"}`, lineString), trackOf: `Côte "dure"`},
		"name that is none":              {in: feature(`{"name":{"fr":"x"},"label":null,"title":["a"]}`, lineString)},
		"properties null":                {in: feature(`null`, lineString)},
		"collection":                     {in: features(named), trackOf: "Côte dure"},
		"collection's name":              {in: `{"type":"FeatureCollection","name":"The file","features":[` + feature(`{}`, lineString) + `]}`, trackOf: "The file"},
		"features before the type":       {in: `{"features":[` + named + `],"type":"FeatureCollection"}`, trackOf: "Côte dure"},
		"geometry without feature":       {in: features(lineString)},
		"geometry null":                  {in: features(feature(`{"name":"x"}`, "null"), named), trackOf: "Côte dure"},
		"geometry collection":            {in: `{"type":"GeometryCollection","geometries":[` + lineString + `]}`},
		"collection in a feature":        {in: feature(`{"name":"A"}`, `{"type":"GeometryCollection","geometries":[`+lineString+`]}`), trackOf: "A"},
		"coordinates null":               {in: features(`{"type":"LineString","coordinates":null}`, lineString)},
		"foreign members":                {in: `{"bbox":[1,2,3,4],"x":{"coordinates":[[["a"]]],"type":"Point"},` + lineString[1:]},
		"fourth number":                  {in: strings.ReplaceAll(lineString, `100]`, `100,1,"a",{}]`)},
		"white space":                    {in: "\r\n\t " + strings.NewReplacer(",", " ,\n", "[", "[ \t", ":", " : ").Replace(lineString) + "\n"},
		"exponent":                       {in: strings.ReplaceAll(lineString, `45.1,`, `4.51E+1,`)},
		"byte order mark":                {in: "\ufeff" + named, trackOf: "Côte dure"},
		"UTF-16, little end first":       {in: utf16(t, named, unicode.LittleEndian), trackOf: "Côte dure"},
		"UTF-16, big end first":          {in: utf16(t, named, unicode.BigEndian), trackOf: "Côte dure"},
		"UTF-16 without mark":            {in: utf16(t, named, unicode.LittleEndian)[2:], trackOf: "Côte dure"},
		"Windows-1252":                   {in: strings.ReplaceAll(named, "ô", "\xf4"), trackOf: "Côte dure", warnings: []string{"encoding-guessed"}},
		"text after the end":             {in: lineString + "\n" + lineString, warnings: []string{"content-after-end"}},
		"unknown type":                   {in: features(`{"type":"Circle","coordinates":[1,2]}`, lineString), warnings: []string{"geometry-unknown"}},
		"polygon beside a line":          {in: features(`{"type":"Polygon","coordinates":[[[1,1],[2,1],[2,2],[1,1]]]}`, lineString)},
		"polygon alone":                  {in: feature(`{"name":"Ring"}`, `{"type":"Polygon","coordinates":[[`+twoPositions+`],[[1,1],[2,1]]]}`), trackOf: "Ring", warnings: []string{"ring-as-line"}},
		"polygons alone":                 {in: `{"type":"MultiPolygon","coordinates":[[[` + twoPositions + `],[[1,1],[2,1]]],[[]]]}`, warnings: []string{"ring-as-line"}},
		"system of 2008":                 {in: `{"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},` + lineString[1:]},
		"system of 2008, by EPSG's code": {in: `{"crs":{"type":"name","properties":{"name":"EPSG:4326"}},` + lineString[1:]},
		"system null":                    {in: `{"crs":null,` + lineString[1:]},
		"first of several":               {in: features(lineString, named), warnings: []string{"several-tracks"}},
	} {
		t.Run(name, func(t *testing.T) { wantTwoPoints(t, track.ReadGeoJSON, c) })
	}
}

func TestReadGeoJSONElevations(t *testing.T) {
	for in, want := range map[string]struct {
		elevation float64 // NaN unless set
		code      string
	}{
		`[7,45]`:        {},
		`[7,45,null]`:   {},
		`[7,45,NaN]`:    {code: "elevation-unreadable"},
		`[7,45,"100"]`:  {code: "elevation-unreadable"},
		`[7,45,[100]]`:  {code: "elevation-unreadable"},
		`[7,45,9001]`:   {code: "elevation-out-of-range"},
		`[7,45,1e999]`:  {code: "elevation-out-of-range"},
		`[7,45,-12.25]`: {elevation: -12.25},
		`[7,45,.5]`:     {elevation: 0.5},
		`[+7,45,+5.]`:   {elevation: 5},
	} {
		got, err := track.ReadGeoJSON(context.Background(), []byte(`{"type":"LineString","coordinates":[[7,46,0],`+in+`]}`), track.Options{})
		if err != nil {
			t.Fatal(in, err)
		}
		if e := got.Points[1].Elevation; e != want.elevation && !(e != e && want.elevation == 0) {
			t.Errorf("%s: elevation %v, want %v", in, e, want.elevation)
		}
		if codes := strings.Join(warningCodes(got), " "); codes != want.code || want.code != "" && got.Warnings[0].Point != 1 {
			t.Errorf("%s: warnings %+v, want %q at point 1", in, got.Warnings, want.code)
		}
	}
}

// TestReadGeoJSONInnerRings warns about the ring that is read alone.
func TestReadGeoJSONInnerRings(t *testing.T) {
	got, err := track.ReadGeoJSON(context.Background(), []byte(`{"type":"Polygon","coordinates":[[`+twoPositions+`],[[1,1],[2,1],[2,2,9999]]]}`), track.Options{})
	if err != nil || strings.Join(warningCodes(got), " ") != "ring-as-line" {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestReadGeoJSONChoosesTheLine(t *testing.T) {
	in := []byte(features(
		point("Top", `[7,45,2000]`),
		feature(`{"name":"Short"}`, `{"type":"LineString","coordinates":[[1,1]]}`),
		feature(`{"name":"A"}`, lineString),
		feature(`{"name":"B"}`, `{"type":"LineString","coordinates":[[1,1],[2,2],[3,3]]}`)))
	for n, want := range map[int]string{0: "A", 2: "A", 3: "B"} {
		got, err := track.ReadGeoJSON(context.Background(), in, track.Options{Track: n})
		if err != nil || got.Name != want || len(got.Marks) != 1 {
			t.Errorf("track %d: %+v, %v; want %s", n, got, err, want)
		}
	}
	for n, code := range map[int]string{1: track.CodeNoLine, 4: track.CodeNoSuchTrack, -1: track.CodeNoSuchTrack} {
		_, err := track.ReadGeoJSON(context.Background(), in, track.Options{Track: n})
		wantCode(t, err, code)
	}
}

func TestReadGeoJSONMarks(t *testing.T) {
	got, err := track.ReadGeoJSON(context.Background(), []byte(features(
		point("Old mill", `[7,45,2000]`),
		feature(`{"kind":"sprint","label":"By the mill"}`, `{"type":"Point","coordinates":[7,46]}`),
		feature(`{"name":"Mill","marker-symbol":"drinking-water"}`, `{"type":"MultiPoint","coordinates":[[8,46],[8,47]]}`),
		`{"type":"Point","coordinates":[9,47]}`,
		lineString)), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		name     string
		kind     track.MarkKind
		lat, lon float64
	}{
		{"Old mill", track.Other, 45, 7},
		{"By the mill", track.Sprint, 46, 7},
		{"Mill", track.Feed, 46, 8},
		{"Mill", track.Feed, 47, 8},
		{"mark 5", track.Other, 47, 9},
	}
	if len(got.Marks) != len(want) {
		t.Fatalf("got %+v", got.Marks)
	}
	for i, w := range want {
		m := got.Marks[i]
		lat, lon := m.Pos.Degrees()
		if m.Name != w.name || m.Kind != w.kind || lat-w.lat > 1e-9 || w.lat-lat > 1e-9 || lon-w.lon > 1e-9 || w.lon-lon > 1e-9 {
			t.Errorf("mark %d: got %+v, want %+v", i, m, w)
		}
	}
}

// refusal is a file that can't be read, and what must be said of it.
type refusal struct {
	in          string
	code        string
	line, point int
	says        string
}

func (r refusal) check(t *testing.T, read func(context.Context, []byte, track.Options) (*track.Track, error)) {
	t.Helper()
	_, err := read(context.Background(), []byte(r.in), track.Options{})
	e := wantCode(t, err, r.code)
	if e.Line != r.line || e.Point != r.point || !strings.Contains(e.Detail, r.says) {
		t.Errorf("line %d, point %d: %s; want line %d, point %d, with %q", e.Line, e.Point, e.Detail, r.line, r.point, r.says)
	}
}

func TestReadGeoJSONRefuses(t *testing.T) {
	at := func(position string) string {
		return "{\"type\":\"LineString\",\"coordinates\":[[7,45],\n" + position + "]}"
	}
	for name, c := range map[string]refusal{
		"empty":                       {"", track.CodeNotTheFormat, 1, 0, "empty"},
		"white space":                 {" \n\n ", track.CodeNotTheFormat, 3, 0, "empty"},
		"XML":                         {file(twoPoints), track.CodeNotTheFormat, 1, 0, "XML"},
		"words":                       {"\nabc", track.CodeNotTheFormat, 2, 0, "JSON"},
		"list":                        {"[[7,45],[8,45]]", track.CodeNotTheFormat, 1, 0, "list"},
		"any object":                  {`{"name":"x","points":[{"lat":1}]}`, track.CodeNotTheFormat, 1, 0, "no type"},
		"type that is a number":       {`{"type":1}`, track.CodeNotTheFormat, 1, 0, "no type"},
		"topology":                    {`{"type":"Topology","arcs":[[[0,0],[1,1]]],"objects":{}}`, track.CodeNotTheFormat, 1, 0, "topology"},
		"other type":                  {`{"type":"Route"}`, track.CodeNotTheFormat, 1, 0, `"Route"`},
		"breaks off":                  {"{\"type\":\"LineString\",\n\"coordinates\":[[7,45],[7", track.CodeMalformed, 2, 0, "breaks off"},
		"breaks off in a text":        {"{\n\"type\":\"Feat", track.CodeMalformed, 2, 0, "breaks off"},
		"comma at the end of a list":  {at("[7,46],"), track.CodeMalformed, 2, 0, "']'"},
		"no comma":                    {at("[7,46] [7,47]"), track.CodeMalformed, 2, 0, "comma"},
		"no colon":                    {"{\"type\" \"LineString\"}", track.CodeMalformed, 1, 0, "colon"},
		"wrong bracket":               {at("[7,46}"), track.CodeMalformed, 2, 0, "'}'"},
		"word":                        {"{\"type\":\"LineString\",\n\"x\":yes}", track.CodeMalformed, 2, 0, "'y'"},
		"key without quotation marks": {`{type:"LineString"}`, track.CodeMalformed, 1, 0, "quotation"},
		"line over the end in a text": {"{\"type\":\"Feature\",\"properties\":{\"name\":\"a\nb\"}}", track.CodeMalformed, 2, 0, "escape"},
		"wrong escape":                {`{"type":"Feature","properties":{"name":"\q"}}`, track.CodeMalformed, 1, 0, "escape"},
		"coordinates twice":           {`{"type":"LineString","coordinates":[],"coordinates":[` + twoPositions + `]}`, track.CodeMalformed, 1, 0, "twice"},
		"features twice":              {`{"type":"FeatureCollection","features":[],"features":[]}`, track.CodeMalformed, 1, 0, "twice"},
		"number for coordinates":      {`{"type":"LineString","coordinates":7}`, track.CodeMalformed, 1, 0, "'7'"},
		"number for a position":       {at("46"), track.CodeMalformed, 2, 0, "position"},
		"one list too many":           {`{"type":"LineString","coordinates":[[[7,45],[7,46]]]}`, track.CodeMalformed, 1, 0, "one list too many"},
		"one list too few":            {`{"type":"LineString","coordinates":[7,45]}`, track.CodeMalformed, 1, 0, "position"},
		"one number":                  {at("[7]"), track.CodeOutOfRange, 2, 2, "1 number"},
		"no number":                   {at("[]"), track.CodeOutOfRange, 2, 2, "0 numbers"},
		"longitude null":              {at("[null,45]"), track.CodeOutOfRange, 2, 2, "null"},
		"latitude in quotation marks": {at(`[7,"45"]`), track.CodeOutOfRange, 2, 2, `"45"`},
		"latitude NaN":                {at(`[7,NaN]`), track.CodeOutOfRange, 2, 2, "NaN"},
		"latitude infinite":           {at(`[7,1e999]`), track.CodeOutOfRange, 2, 2, "+Inf"},
		"latitude of two points":      {at(`[7,4.5.1]`), track.CodeOutOfRange, 2, 2, "4.5.1"},
		"latitude 91":                 {at("[120,91]"), track.CodeOutOfRange, 2, 2, "91"},
		"longitude 181":               {at("[181,45]"), track.CodeOutOfRange, 2, 2, "181"},
		"latitude first":              {at("[-37.8,144.9]"), track.CodeOutOfRange, 2, 2, "longitude, latitude"},
		"metres":                      {at("[500000.5,4649776.2]"), track.CodeOutOfRange, 2, 2, "metres"},
		"system in metres":            {`{"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::3857"}},` + lineString[1:], track.CodeOutOfRange, 1, 0, "3857"},
		"system by link":              {`{"crs":{"type":"link","properties":{"href":"http://example.com/crs/42"}},` + lineString[1:], track.CodeOutOfRange, 1, 0, "crs/42"},
		"no features":                 {features(), track.CodeNoLine, 0, 0, "line"},
		"places alone":                {features(point("A", "[7,45]"), point("B", "[7,46]")), track.CodeNoLine, 0, 0, "2 of them"},
		"one point":                   {`{"type":"LineString","coordinates":[[7,45]]}`, track.CodeNoLine, 0, 0, "two points"},
	} {
		t.Run(name, func(t *testing.T) { c.check(t, track.ReadGeoJSON) })
	}
}

func TestReadGeoJSONLimits(t *testing.T) {
	limits := track.Limits{Points: 10, Marks: 3, Depth: 8, Parts: 4, Elements: 40}
	position := "[ 7 , 45.1, 3]"
	line := func(n int) string {
		return `{"type":"LineString","coordinates":[` + strings.TrimSuffix(strings.Repeat(position+" ,", n), ",") + `]}`
	}
	nest := func(n int) string {
		return `{"x":` + strings.Repeat(`[`, n-1) + strings.Repeat(`]`, n-1) + `,` + line(2)[1:]
	}
	many := func(n int, s string) []string { return slices.Repeat([]string{s}, n) }
	for name, c := range map[string]struct {
		in            string
		limit, actual int // 0: accepted
	}{
		"10 points":      {line(10), 0, 0},
		"11 points":      {line(11), 10, 11},
		"90 points":      {line(90), 10, 90},
		"11 points of 2": {features(line(6), line(5)), 10, 11},
		"3 places":       {features(append(many(3, `{"type":"Point","coordinates":[7,45]}`), line(2))...), 0, 0},
		"4 places":       {features(append(many(4, `{"type":"Point","coordinates":[7,45]}`), line(2))...), 3, 4},
		"8 levels":       {nest(8), 0, 0},
		"9 levels":       {nest(9), 8, 9},
		"4 parts":        {features(many(4, line(2))...), 0, 0},
		"5 parts":        {features(many(5, line(1))...), 4, 5},
		"40 objects":     {`{"x":[` + strings.Repeat("{},", 34) + `{}],` + line(2)[1:], 0, 0},
		"41 objects":     {`{"x":[` + strings.Repeat("{},", 35) + `{}],` + line(2)[1:], 40, 41},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := track.ReadGeoJSON(context.Background(), []byte(c.in), track.Options{Limits: limits})
			if c.limit == 0 {
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			if e := wantCode(t, err, track.CodeTooMany); e.Limit != c.limit || e.Actual != c.actual || e.Line != 1 {
				t.Errorf("limit %d, actual %d, line %d; want %d, %d, 1: %v", e.Limit, e.Actual, e.Line, c.limit, c.actual, e)
			}
		})
	}
}

// TestReadGeoJSONDeepNesting reads values inside each other where a reader that
// recurses would run out of stack, which no program survives.
func TestReadGeoJSONDeepNesting(t *testing.T) {
	for _, depth := range []int{1e3, 1e6} {
		for name, in := range map[string]string{
			"lists":          `{"type":"LineString","coordinates":` + strings.Repeat("[", depth),
			"objects":        `{"type":"Feature","x":` + strings.Repeat(`{"x":`, depth),
			"before a type":  strings.Repeat(`{"x":`, depth),
			"in a position":  `{"type":"Point","coordinates":[7,45,` + strings.Repeat("[", depth),
			"in properties":  `{"type":"Feature","properties":` + strings.Repeat(`{"name":`, depth),
			"collections":    strings.Repeat(`{"type":"GeometryCollection","geometries":[`, depth),
			"without a type": strings.Repeat(`{"geometries":[`, depth),
		} {
			_, err := track.ReadGeoJSON(context.Background(), []byte(in), track.Options{})
			if name == "lists" {
				wantCode(t, err, track.CodeMalformed)
				continue
			}
			wantCode(t, err, track.CodeTooMany)
		}
	}
}
