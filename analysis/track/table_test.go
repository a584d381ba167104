package track_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"parcours.example/analysis/track"
)

// profile writes a track of distances as "distance:elevation" pairs, and one of
// positions as "latitude,longitude:elevation".
func profile(t *track.Track) string {
	var b strings.Builder
	for i, p := range t.Points {
		if i > 0 {
			b.WriteByte(' ')
		}
		if t.DistanceM != nil {
			fmt.Fprintf(&b, "%.9g:%.9g", t.DistanceM[i], p.Elevation)
			continue
		}
		lat, lon := p.Pos.Degrees()
		fmt.Fprintf(&b, "%.9g,%.9g:%.9g", lat, lon, p.Elevation)
	}
	return b.String()
}

// table is a table that must be read.
type table struct {
	in       string
	want     string
	warnings string
}

func (c table) check(t *testing.T) {
	t.Helper()
	got, err := track.ReadTable(context.Background(), []byte(c.in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if p := profile(got); p != c.want {
		t.Errorf("got %s, want %s", p, c.want)
	}
	if codes := strings.Join(warningCodes(got), " "); codes != c.warnings {
		t.Errorf("warnings %+v, want %q", got.Warnings, c.warnings)
	}
}

const (
	// twoRows is what the tables of distances hold, threeRows those of positions.
	twoRows   = "0:310.5 1250:330"
	threeRows = "45.1,7.1:100 45.2,7.2:NaN 45.3,7.3:200.5"
)

func TestReadTableDress(t *testing.T) {
	plain := "distance_m,elevation_m\n0,310.5\n1250,330\n"
	windows1252, err := charmap.Windows1252.NewEncoder().String("Strecke (m);Höhe (m);Ort\n0;310,5;Düne\n1250;330;\n")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]table{
		"plain":                    {plain, twoRows, ""},
		"no end of the last line":  {strings.TrimSpace(plain), twoRows, ""},
		"CRLF":                     {strings.ReplaceAll(plain, "\n", "\r\n"), twoRows, ""},
		"CR":                       {strings.ReplaceAll(plain, "\n", "\r"), twoRows, ""},
		"byte order mark":          {"\ufeff" + plain, twoRows, ""},
		"UTF-16":                   {utf16(t, plain, unicode.LittleEndian), twoRows, ""},
		"UTF-16 without mark":      {utf16(t, plain, unicode.BigEndian)[2:], twoRows, ""},
		"Windows-1252":             {windows1252, twoRows, "encoding-guessed"},
		"semicolons":               {strings.ReplaceAll(plain, ",", ";"), twoRows, ""},
		"tabs":                     {strings.ReplaceAll(plain, ",", "\t"), twoRows, ""},
		"bars":                     {strings.ReplaceAll(plain, ",", " | "), twoRows, ""},
		"spaces":                   {strings.ReplaceAll(plain, ",", "    "), twoRows, ""},
		"spaces before, too":       {"Distance (m)  Elevation (m)\n   0   310.5\n1250   330\n", twoRows, ""},
		"decimal comma":            {"distance_m;elevation_m\n0,0;310,5\n1250,0;330,0\n", twoRows, ""},
		"decimal comma, spaces":    {"distance_m elevation_m\n0,0 310,5\n1250,0 330,0\n", twoRows, ""},
		"decimal comma in quotes":  {"distance_m,elevation_m\n\"0,0\",\"310,5\"\n\"1250,0\",\"330,0\"\n", twoRows, ""},
		"thousands with points":    {"distance_m;elevation_m\n0;310,5\n1.250;330\n", twoRows, ""},
		"thousands with commas":    {"distance_m;elevation_m\n0;310.5\n1,250;330\n", twoRows, ""},
		"thousands with spaces":    {"distance_m;elevation_m\n0;310,5\n1 250;330\n", twoRows, ""},
		"thousands, narrow spaces": {"distance_m;elevation_m\n0;310,5\n1\u202f250;330\n", twoRows, ""},
		"thousands, apostrophes":   {"distance_m;elevation_m\n0;310.5\n1'250;330\n", twoRows, ""},
		"exponents":                {"distance_m,elevation_m\n0,3.105E+02\n1.25e3,33e1\n", twoRows, ""},
		"quoted":                   {"\"distance_m\",\"elevation_m\"\n\"0\",\"310.5\"\n\"1250\",\"330\"\n", twoRows, ""},
		"quoted title of 2 lines":  {"\"Distance\n(m)\",\"Elevation\r\n(m)\"\n0,310.5\n1250,330\n", twoRows, ""},
		"quotation mark in a name": {"distance_m,elevation_m,what\n0,310.5,\"5\n1250,330,6\" x\n", twoRows, ""},
		"comments":                 {"# made by hand\ndistance_m,elevation_m\n# a\n0,310.5\n#1,2\n1250,330\n", twoRows, ""},
		"header commented out":     {"# distance_m,elevation_m\n0,310.5\n1250,330\n", twoRows, ""},
		"blank lines":              {"\n\n" + strings.ReplaceAll(plain, "\n", "\n \n,\n\n"), twoRows, ""},
		"separators at the end":    {strings.ReplaceAll(plain, "\n", ",,\n"), twoRows, ""},
		"titles before":            {"Mill loop\nDistance and elevation of the course;;\n\n" + strings.ReplaceAll(plain, ",", ";"), twoRows, ""},
		"separator named":          {"sep=;\n" + strings.ReplaceAll(plain, ",", ";"), twoRows, ""},
		"separator named, quoted":  {"\"sep=|\"\r\n" + strings.ReplaceAll(plain, ",", "|"), twoRows, ""},
		"other columns and order":  {"time,elevation_m,speed,distance_m\n10:00,310.5,9,0\n10:01,330,9,1250\n", twoRows, ""},
		"units below the header":   {"distance;elevation\n[km];(m)\n0;310,5\n1,25;330\n", twoRows, ""},
		"units in the cells":       {"distance;elevation\n0 km;310,5 m\n1,25 km;330 m\n", twoRows, ""},
		"ruled":                    {"| distance_m | elevation_m |\n|---|:-:|\n| 0 | 310.5 |\n| 1250 | 330 |\n", twoRows, ""},
		"signs":                    {"distance_m;elevation_m\n−1250;-310.5\n+0;\u2212330\n", "-1250:-310.5 0:-330", ""},
	} {
		t.Run(name, c.check)
	}
}

func TestReadTableHeaders(t *testing.T) {
	for header, want := range map[string]string{
		"distance_m,elevation":                 "0:310.5 1250:330",
		"Distance (km),Elevation (m)":          "0:310.5 1250000:330",
		"dist [km],ele":                        "0:310.5 1250000:330",
		"distanceKm,elevationFt":               "0:94.6404 1250000:100.584",
		"km,alt":                               "0:310.5 1250000:330",
		"Total distance / mi,altitude (ft)":    "0:94.6404 2011680:100.584",
		"Strecke (m),Höhe ü. NN [m]":           "0:310.5 1250:330",
		"Distanz m,HOEHE":                      "0:310.5 1250:330",
		"Länge (m),Höhe (m)":                   "0:310.5 1250:330",
		"Distance (m),Altitude (m)":            "0:310.5 1250:330",
		"Kilométrage,altitude":                 "0:310.5 1250:330",
		"distancia (m),altitud (m)":            "0:310.5 1250:330",
		"Distanza (m),Quota (m)":               "0:310.5 1250:330",
		"progressiva km,altitudine m":          "0:310.5 1250000:330",
		"dist,height_m":                        "0:310.5 1250:330",
		"km,m ü. M.":                           "0:310.5 1250000:330",
		"Meter,Höhe":                           "0:310.5 1250:330",
		"Distance from start (km),m a.s.l.":    "0:310.5 1250000:330",
		"lat,lon":                              "",
		"distance to go,elevation":             "",
		"distance,elevation gain":              "",
		"Elevation,Distance":                   "",
		"y,x":                                  "",
		"dist yd,e,ele":                        "",
		"segment distance_m,elevation":         "",
		"max elevation,distance":               "",
		"latitude,distance,elevation":          "",
		"distance_m,elevation,distance_km":     "0:310.5 1250:330",
		"Distance_(km),Elevation\u00a0(m),x,y": "0:310.5 1250000:330",
	} {
		if want == "" {
			continue
		}
		got, err := track.ReadTable(context.Background(), []byte(header+"\n0,310.5\n1250,330\n"), track.Options{})
		if err != nil || profile(got) != want {
			t.Errorf("%s: %v, %v; want %s", header, got, err, want)
		}
	}
	for _, header := range []string{"distance to go_m,elevation", "distance,elevation gain", "dist yd,e", "segment distance_m,elevation", "distance,max elevation", "latitude,elevation"} {
		if _, err := track.ReadTable(context.Background(), []byte(header+"\n0,310.5\n1250,330\n"), track.Options{}); err == nil {
			t.Errorf("%s was taken for a header", header)
		}
	}
}

func TestReadTablePositions(t *testing.T) {
	for name, c := range map[string]table{
		"plain":               {"latitude,longitude,elevation\n45.1,7.1,100\n45.2,7.2,\n45.3,7.3,200.5\n", threeRows, ""},
		"other words":         {"Breite;Länge;Höhe\n45,1;7,1;100\n45,2;7,2;\n45,3;7,3;200,5\n", threeRows, ""},
		"axes":                {"x y z\n7.1 45.1 100\n7.2 45.2 nan\n7.3 45.3 200.5\n", threeRows, ""},
		"letters":             {"lat,lng,ele\n45.1 N,7.1°E,100\nN45.2,E 7.2,-\n45.3n,7.3 e,200.5\n", threeRows, ""},
		"south and west":      {"lat,lng\n45.1 S,7.1°W\n-45.2,-7.2\n", "-45.1,-7.1:NaN -45.2,-7.2:NaN", ""},
		"distance, too":       {"km,lat,lon,ele\n0,45.1,7.1,100\n1,45.2,7.2,\n2,45.3,7.3,200.5\n", threeRows, ""},
		"positions all empty": {"distance_m,lat,lon,ele\n0,,,310.5\n1250,,,330\n", twoRows, ""},
		"feet":                {"lat,lon,elevation_ft\n1,1,1000\n2,2,\n", "1,1:304.8 2,2:NaN", ""},
		"a hole":              {"lat,lon,ele\n45.1,7.1,100\n,,\n,,5\n45.2,7.2,\n45.3,7.3,200.5\n", threeRows, "position-missing"},
		"elevation unreadable": {
			"lat,lon,ele\n45.1,7.1,100\n45.2,7.2,high\n45.3,7.3,200.5\n", threeRows, "elevation-unreadable",
		},
		"elevation out of range": {
			"lat,lon,ele\n45.1,7.1,100\n45.2,7.2,9001\n45.3,7.3,200.5\n", threeRows, "elevation-out-of-range",
		},
	} {
		t.Run(name, c.check)
	}
}

func TestReadTableUnits(t *testing.T) {
	for name, c := range map[string]table{
		"metres":                       {"dist,ele\n0,10\n250,12\n500,15\n", "0:10 250:12 500:15", ""},
		"too steep for metres":         {"dist,ele\n0,10\n40,120\n80,15\n", "0:10 40000:120 80000:15", "unit-assumed"},
		"short climb in metres":        {"dist,ele\n0,10\n25.5,12\n400,55\n", "0:10 25.5:12 400:55", "unit-assumed"},
		"fractions without elevations": {"dist,ele\n0,\n12.5,\n", "0:NaN 12500:NaN", "unit-assumed"},
		"whole without elevations":     {"dist,ele\n0,5\n12,5\n", "0:5 12:5", "unit-assumed"},
		"said":                         {"dist_m,ele\n0,10\n40,120\n80,15\n", "0:10 40:120 80:15", ""},
		"decimal or thousands, point":  {"dist_km;ele\n1.250;10\n2.500;12\n", "1250:10 2500:12", "decimals-assumed"},
		"decimal or thousands, comma":  {"dist_km;ele\n1,250;10\n2,500;12\n", "1250:10 2500:12", "decimals-assumed"},
		"nought tells the comma":       {"dist_km;ele\n0,250;10\n2,500;12\n", "250:10 2500:12", ""},
	} {
		t.Run(name, c.check)
	}
}

func TestReadTableGradients(t *testing.T) {
	for name, c := range map[string]table{
		"percent":        {"distance_m,gradient_pct\n0,5\n1000,-2\n1500,7\n", "0:0 1000:50 1500:40", "elevation-from-gradient"},
		"sign in cells":  {"distance_m;Steigung\n0;5 %\n1000;-2 %\n1500;\n", "0:0 1000:50 1500:40", "elevation-from-gradient"},
		"goes on":        {"distance_m;slope (%)\n0;5\n500;\n1000;-2\n1500;\n", "0:0 500:25 1000:50 1500:40", "elevation-from-gradient"},
		"ratio":          {"distance_m,slope\n0,0.05\n1000,-0.02\n1500,0\n", "0:0 1000:50 1500:40", "gradient-unit-assumed elevation-from-gradient"},
		"of km":          {"km,pente\n0,5\n1,-2\n1.5,0\n", "0:0 1000:50 1500:40", "elevation-from-gradient"},
		"with elevation": {"distance_m,ele,gradient\n0,1,5\n1000,2,-2\n", "0:1 1000:2", ""},
	} {
		t.Run(name, c.check)
	}
}

func TestReadTableWithoutHeader(t *testing.T) {
	for name, c := range map[string]table{
		"distances from 0":         {"0,310.5\n1250,330\n", twoRows, "header-missing"},
		"distances beyond degrees": {"500;310,5\n1250;330\n", "500:310.5 1250:330", "header-missing"},
		"decimal commas, spaces":   {"0,0 310,5\n1250,0 330,0\n", twoRows, "header-missing"},
		"comma and space":          {"0, 310.5\n1250, 330\n", twoRows, "header-missing"},
		"positions":                {"-37.1,144.1,100\n-37.2,144.2,200.5\n", "-37.1,144.1:100 -37.2,144.2:200.5", "header-missing"},
		"longitude first":          {"144.1 -37.1 100\n144.2 -37.2 200.5\n", "-37.1,144.1:100 -37.2,144.2:200.5", "header-missing"},
		"positions, no elevation":  {"-37.1,144.1\n-37.2,144.2\n", "-37.1,144.1:NaN -37.2,144.2:NaN", "header-missing"},
	} {
		t.Run(name, c.check)
	}
}

func TestReadTableRefuses(t *testing.T) {
	head := "distance_m,elevation_m\n0,10\n"
	positions := "lat,lon,ele\n45,7,1\n"
	for name, c := range map[string]refusal{
		"empty":                    {"", track.CodeNotTheFormat, 0, 0, "empty"},
		"white space":              {" \n\t\n", track.CodeNotTheFormat, 0, 0, "empty"},
		"XML":                      {file(twoPoints), track.CodeNotTheFormat, 0, 0, "XML"},
		"JSON":                     {lineString, track.CodeNotTheFormat, 0, 0, "JSON"},
		"spreadsheet":              {zipped(t, "xl/workbook.xml", "x"), track.CodeNotTheFormat, 0, 0, "spreadsheet"},
		"bytes":                    {"abc\x00\x01\x02", track.CodeNotTheFormat, 0, 0, "no text"},
		"prose":                    {"The course\nis hard.\n", track.CodeNotTheFormat, 1, 0, "header"},
		"one column":               {"distance\n0\n1\n", track.CodeNoLine, 1, 0, "elevations"},
		"distance and a name":      {"km;Ort\n0;A\n", track.CodeNoLine, 1, 0, `"km"`},
		"longitude alone":          {"lon;ele\n0;1\n", track.CodeNoLine, 1, 0, "latitudes"},
		"gradient alone":           {"slope;b\n0;1\n", track.CodeNoLine, 1, 0, "distances"},
		"latitude alone":           {"a,latitude,ele\n0,1,2\n", track.CodeNoLine, 1, 0, "longitudes"},
		"elevation alone":          {"x1,elevation\n0,1\n", track.CodeNoLine, 1, 0, "distances or positions"},
		"no numbers below":         {"\ndistance,elevation\na,b\n", track.CodeNoLine, 2, 0, "row below"},
		"header alone":             {"distance,elevation\n", track.CodeNoLine, 0, 0, "0 rows"},
		"one row":                  {head, track.CodeNoLine, 0, 0, "1 row"},
		"two ways to read it":      {"45.1,7.1,100\n45.2,7.2,200\n", track.CodeNotTheFormat, 1, 0, "header line"},
		"distance or latitude":     {"45.1,7.1\n45.2,7.2\n", track.CodeNotTheFormat, 1, 0, "header line"},
		"four columns":             {"0,1,2,3\n1,2,3,4\n", track.CodeNotTheFormat, 1, 0, "4 columns"},
		"rows of unlike length":    {"0,1\n1,2,3\n", track.CodeNotTheFormat, 1, 0, "header"},
		"falls back":               {head + "100,11\n\n99.5,12\n", track.CodeOutOfRange, 5, 3, "falls back from 100 to 99.5"},
		"distance missing":         {head + ",11\n", track.CodeOutOfRange, 3, 2, "missing"},
		"distance a word":          {head + "total,11\n", track.CodeOutOfRange, 3, 2, `"total"`},
		"distance NaN":             {head + "NaN,11\n", track.CodeOutOfRange, 3, 2, "missing"},
		"distance infinite":        {head + "1e999,11\n", track.CodeOutOfRange, 3, 2, "1e999"},
		"distance in other units":  {"distance_m,ele\n0,10\n1.5 km,11\n", track.CodeOutOfRange, 3, 2, "unit"},
		"groups that are none":     {"distance_m;ele\n0,5;1\n12.34,5;1\n", track.CodeOutOfRange, 3, 2, "12.34,5"},
		"groups of four":           {"distance_m;ele\n0,5;1\n1234.567,5;1\n", track.CodeOutOfRange, 3, 2, "1234.567,5"},
		"decimal signs that mix":   {"distance_m;ele\n0.5;1\n12,34;1\n", track.CodeOutOfRange, 3, 2, "12,34"},
		"signs that tell nothing":  {"distance_m;ele\n1.234;1\n2,345;1\n", track.CodeMalformed, 0, 0, "thousands"},
		"latitude 91":              {positions + "91,7,2\n", track.CodeOutOfRange, 3, 2, "exchange"},
		"latitude in metres":       {positions + "5000000,7,2\n", track.CodeOutOfRange, 3, 2, "metres"},
		"longitude 181":            {positions + "46,181,2\n", track.CodeOutOfRange, 3, 2, "181"},
		"longitude missing":        {positions + "46,,2\n", track.CodeOutOfRange, 3, 2, "longitude is missing"},
		"latitude missing":         {positions + ",7,2\n", track.CodeOutOfRange, 3, 2, "latitude is missing"},
		"latitude a word":          {positions + "north,7,2\n", track.CodeOutOfRange, 3, 2, "north"},
		"letter of the other axis": {positions + "46 E,7,2\n", track.CodeOutOfRange, 3, 2, "46 E"},
		"minus and letter":         {positions + "-46 S,7,2\n", track.CodeOutOfRange, 3, 2, "-46 S"},
		"letter O":                 {positions + "46,7 O,2\n", track.CodeOutOfRange, 3, 2, "east in some"},
		"minutes":                  {positions + "46°30'15\"N,7,2\n", track.CodeOutOfRange, 3, 2, "decimals"},
		"gradient missing":         {"distance_m,gradient\n0,\n100,5\n", track.CodeOutOfRange, 2, 1, "no gradient"},
		"gradient a word":          {"distance_m,gradient\n0,1\n100,steep\n", track.CodeOutOfRange, 3, 2, "steep"},
		"gradient 101":             {"distance_m,gradient\n0,1\n100,101\n", track.CodeOutOfRange, 3, 2, "101"},
		"gradients that add up":    {"distance_m,gradient\n0,10\n200000,1\n", track.CodeOutOfRange, 0, 2, "add up"},
	} {
		t.Run(name, func(t *testing.T) { c.check(t, track.ReadTable) })
	}
}

func TestReadTableOddRows(t *testing.T) {
	for name, c := range map[string]table{
		"repeated distance":          {"distance_m,ele\n0,1\n100,2\n100,3\n200,4\n", "0:1 100:2 200:4", "distance-repeated"},
		"repeated for its elevation": {"distance_m,ele\n0,1\n100,\n100,3\n200,4\n", "0:1 100:3 200:4", "distance-repeated"},
		"elevation missing":          {"distance_m,ele\n0,1\n100,-\n200,n/a\n300,4\n", "0:1 100:NaN 200:NaN 300:4", ""},
		"elevation unreadable":       {"distance_m,ele\n0,1\n100,2 ft\n200,4\n", "0:1 100:NaN 200:4", "elevation-unreadable"},
		"column twice":               {"distance_m,ele,distance_km\n0,1,0\n100,2,7\n", "0:1 100:2", "column-ignored"},
		"short rows":                 {"distance_m,x,ele\n0\n100,,2\n200,1\n", "0:NaN 100:2 200:NaN", ""},
	} {
		t.Run(name, c.check)
	}
}

func TestReadTableMarks(t *testing.T) {
	const in = "Mill loop;;;\n\nkm;Höhe;Ort;Art\n0;10;Start;\n1,5;20;P2;\n2;;Old mill;feed\n2;;Old mill;feed\n2,5;30;3;Sprint\n3;40;;zebra\n3,5;50;;\n;;Inn;\n"
	got, err := track.ReadTable(context.Background(), []byte(in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := []track.Mark{
		{Name: "Start", Kind: track.Gate, AtM: 0},
		{Name: "Old mill", Kind: track.Feed, AtM: 2000},
		{Name: "3", Kind: track.Sprint, AtM: 2500},
	}
	if fmt.Sprint(got.Marks) != fmt.Sprint(want) {
		t.Errorf("got %+v, want %+v", got.Marks, want)
	}
	if codes := fmt.Sprint(warningCodes(got)); codes != "[mark-without-place]" || got.Name != "Mill loop" {
		t.Errorf("warnings %+v, name %q", got.Warnings, got.Name)
	}
	if p := profile(got); p != "0:10 1500:20 2000:NaN 2500:30 3000:40 3500:50" {
		t.Error(p)
	}
	got, err = track.ReadTable(context.Background(), []byte("lat,lon,name\n45,7,Top of the hill\n46,7,\n,,Inn\n"), track.Options{})
	if err != nil || len(got.Marks) != 1 || got.Marks[0].Kind != track.Summit {
		t.Fatalf("%+v, %v", got, err)
	}
	if lat, _ := got.Marks[0].Pos.Degrees(); math.Abs(lat-45) > 1e-9 {
		t.Errorf("the mark stands at %v degrees", lat)
	}
}

// TestReadTableNames reads tables whose rows have names of other sorts: that of the course
// in each row, a running number, none beside a kind.
func TestReadTableNames(t *testing.T) {
	for in, want := range map[string]struct {
		name  string
		marks []track.Mark
	}{
		"km,ele,name\n0,1,Mill loop\n1,2,Mill loop\n2,3,Mill loop\n":            {name: "Mill loop"},
		"km,ele,name\n0,1,1\n1,2,P2\n2,3,17\n":                                  {},
		"km,ele,link type,kind\n0,1,sprint,\n1,2,,sprint\n2,3,,sprint\n3,4,,\n": {marks: []track.Mark{{Name: "sprint", Kind: track.Sprint, AtM: 1000}}},
		"km,ele,Bemerkung\n0,1,Start/Ziel\n1,2,\n2,3,Start/Ziel\n":              {marks: []track.Mark{{Name: "Start/Ziel", Kind: track.Gate}, {Name: "Start/Ziel", Kind: track.Gate, AtM: 2000}}},
	} {
		got, err := track.ReadTable(context.Background(), []byte(in), track.Options{})
		if err != nil || got.Name != want.name || fmt.Sprint(got.Marks) != fmt.Sprint(want.marks) {
			t.Errorf("%q: %+v, %v; want %+v", in, got, err, want)
		}
	}
}

func TestReadTableLimits(t *testing.T) {
	limits := track.Limits{Points: 10, Marks: 3}
	rows := func(n int) string {
		var b strings.Builder
		b.WriteString("distance_m,ele,name\n")
		for i := range n {
			fmt.Fprintf(&b, "%d,5,Mill bridge %c\n", i*100, 'a'+i%26)
		}
		return b.String()
	}
	got, err := track.ReadTable(context.Background(), []byte(rows(10)), track.Options{Limits: limits})
	if err != nil || len(got.Marks) != 3 || strings.Join(warningCodes(got), " ") != "marks-dropped" {
		t.Fatalf("%+v, %v", got, err)
	}
	_, err = track.ReadTable(context.Background(), []byte(rows(90)), track.Options{Limits: limits})
	if e := wantCode(t, err, track.CodeTooMany); e.Limit != 10 || e.Actual != 90 || e.Line != 12 {
		t.Errorf("%+v", e)
	}
	_, err = track.ReadTable(context.Background(), []byte("distance_m,ele\n0,1"+strings.Repeat(",", 1000)+"\n"), track.Options{Limits: limits})
	if e := wantCode(t, err, track.CodeTooMany); e.Limit != 1000 || e.Actual != 1001 {
		t.Errorf("%+v", e)
	}
	_, err = track.ReadTable(context.Background(), []byte(rows(3)), track.Options{Track: 2})
	wantCode(t, err, track.CodeNoSuchTrack)
}
