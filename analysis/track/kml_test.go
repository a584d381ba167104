package track_test

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"context"
	"strings"
	"testing"

	"golang.org/x/text/encoding/unicode"

	"parcours.example/analysis/track"
)

// kmlHead opens a KML file in the tests.
const kmlHead = `<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="urn:gx">`

// kmlLine is a line with the coordinates of twoPoints.
const kmlLine = `<LineString><altitudeMode>absolute</altitudeMode><coordinates>7.1,45.1,100 7.2,45.2,200.5</coordinates></LineString>`

// kmlFile returns a file with the elements.
func kmlFile(elements ...string) string {
	return kmlHead + "<Document>" + strings.Join(elements, "\n") + "</Document></kml>"
}

// mark returns a placemark with a name.
func placemark(name, geometry string) string {
	return "<Placemark><name>" + name + "</name>" + geometry + "</Placemark>"
}

func coordinates(text string) string {
	return kmlFile(placemark("", "<LineString><coordinates>"+text+"</coordinates></LineString>"))
}

// zipped returns an archive of files given by name and content in turn.
func zipped(t testing.TB, files ...string) string {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		f, err := w.Create(files[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(files[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestReadKMLAccepts(t *testing.T) {
	named := kmlFile(placemark("Côte dure", kmlLine))
	for name, c := range map[string]acceptance{
		"placemark in a document":   {in: named, trackOf: "Côte dure"},
		"placemark alone":           {in: kmlHead + "<Placemark>" + kmlLine + "</Placemark></kml>"},
		"folders":                   {in: kmlFile("<Folder><name>F</name><Folder>" + placemark("A", kmlLine) + "</Folder></Folder>"), trackOf: "A"},
		"file's name":               {in: kmlFile("<name>The file</name><Folder><name>F</name><Placemark>" + kmlLine + "</Placemark></Folder>"), trackOf: "The file"},
		"name after the line":       {in: kmlFile("<Placemark>" + kmlLine + "<name>Late</name></Placemark>"), trackOf: "Late"},
		"foreign name":              {in: kmlFile(`<Placemark><atom:author xmlns:atom="urn:a"><atom:name>X</atom:name></atom:author>` + kmlLine + "</Placemark>")},
		"no namespace":              {in: "<kml><Placemark>" + kmlLine + "</Placemark></kml>"},
		"prefix":                    {in: `<k:kml xmlns:k="urn:k">` + strings.NewReplacer("</", "</k:", "<", "<k:").Replace("<Placemark>"+kmlLine+"</Placemark>") + "</k:kml>"},
		"several lines":             {in: kmlFile(placemark("A", "<MultiGeometry><LineString><coordinates>7.1,45.1,100</coordinates></LineString><LineString><coordinates>7.2,45.2,200.5</coordinates></LineString></MultiGeometry>")), trackOf: "A", breaks: []int{1}, warnings: []string{"segment-gap"}},
		"gx:Track":                  {in: kmlFile(placemark("A", "<gx:Track><altitudeMode>absolute</altitudeMode><when>2024-05-04T10:00:00Z</when><gx:coord>7.1 45.1 100</gx:coord><gx:coord/><gx:coord>\n7.2  45.2 200.5 </gx:coord></gx:Track>")), trackOf: "A"},
		"Track of 2.3":              {in: kmlFile(placemark("A", "<Track><coord>7.1 45.1 100</coord><coord>7.2 45.2 200.5</coord></Track>")), trackOf: "A"},
		"gx:MultiTrack":             {in: kmlFile(placemark("A", "<gx:MultiTrack><gx:Track><gx:coord>7.1 45.1 100</gx:coord></gx:Track><gx:Track><gx:coord>7.2 45.2 200.5</gx:coord></gx:Track></gx:MultiTrack>")), trackOf: "A", breaks: []int{1}, warnings: []string{"segment-gap"}},
		"clamped, yet with heights": {in: kmlFile(placemark("A", strings.Replace(kmlLine, "absolute", "clampToGround", 1))), trackOf: "A"},
		"lines of coordinates":      {in: coordinates("\r\n\t7.1,45.1,100\r\n\t7.2,45.2,200.5\r\n")},
		"spaces after commas":       {in: coordinates("7.1, 45.1, 100 7.2,\n45.2 ,200.5"), warnings: []string{"spaces-in-coordinates"}},
		"comments in coordinates":   {in: coordinates("7.<!-- x -->1,45.1,100<!-- y --> 7.2,45.2<![CDATA[,200.5]]>")},
		"decimal comma in a gx:coord": {
			in:      kmlFile(placemark("A", "<gx:Track><gx:coord>7.1 45.1 100</gx:coord><gx:coord>7.2 45.2 200,5</gx:coord></gx:Track>")),
			trackOf: "A", warnings: []string{"decimal-comma"},
		},
		"a point beside the line": {in: kmlFile(placemark("A", "<MultiGeometry>"+kmlLine+"</MultiGeometry><!-- x --><Style><LineStyle/></Style>")), trackOf: "A"},
		"a ring beside the line":  {in: kmlFile(placemark("R", "<LinearRing><coordinates>1,1 2,2 3,3</coordinates></LinearRing>"), placemark("A", kmlLine)), trackOf: "A"},
		"a ring alone":            {in: kmlFile(placemark("R", "<LinearRing><coordinates>7.1,45.1,100 7.2,45.2,200.5</coordinates></LinearRing>")), trackOf: "R", warnings: []string{"ring-as-line"}},
		"a polygon alone": {
			in: kmlFile(placemark("R", "<Polygon><outerBoundaryIs><LinearRing><coordinates>7.1,45.1,100 7.2,45.2,200.5</coordinates></LinearRing></outerBoundaryIs>"+
				"<innerBoundaryIs><LinearRing><coordinates>1,1 2,2 3,3</coordinates></LinearRing></innerBoundaryIs></Polygon>")),
			trackOf: "R", warnings: []string{"ring-as-line"},
		},
		"line in a tour":       {in: kmlFile("<gx:Tour><Placemark><LineString><coordinates>bad</coordinates></LineString></Placemark></gx:Tour>", placemark("A", kmlLine)), trackOf: "A"},
		"a link beside":        {in: kmlFile("<NetworkLink><name>N</name><Link><href>x.kml</href></Link></NetworkLink>", placemark("A", kmlLine)), trackOf: "A"},
		"first of two":         {in: kmlFile(placemark("A", kmlLine), placemark("B", kmlLine)), trackOf: "A", warnings: []string{"several-tracks"}},
		"text after the end":   {in: named + "x", trackOf: "Côte dure", warnings: []string{"content-after-end"}},
		"byte order mark":      {in: "\ufeff" + named, trackOf: "Côte dure"},
		"UTF-16":               {in: utf16(t, named, unicode.LittleEndian), trackOf: "Côte dure"},
		"ISO-8859-1":           {in: `<?xml version="1.0" encoding="ISO-8859-1"?>` + strings.ReplaceAll(named, "ô", "\xf4"), trackOf: "Côte dure"},
		"not in its encoding":  {in: strings.ReplaceAll(named, "ô", "\xf4"), trackOf: "Côte dure", warnings: []string{"encoding-guessed"}},
		"zipped":               {in: zipped(t, "doc.kml", named), trackOf: "Côte dure"},
		"zipped with others":   {in: zipped(t, "files/a.kml", "no", "b.png", "x", "B.KML", named, "files/c.png", "x"), trackOf: "Côte dure"},
		"zipped below":         {in: zipped(t, "files/a.kml", named), trackOf: "Côte dure"},
		"zipped, two at root":  {in: zipped(t, "a.kml", "no", "doc.kml", named), trackOf: "Côte dure", warnings: []string{"several-files"}},
		"zipped behind a link": {in: zipped(t, "doc.kml", kmlFile("<NetworkLink/>"), "layers/a.kml", named), trackOf: "Côte dure"},
		"zipped behind a link, two": {
			in:      zipped(t, "layers/a.kml", named, "layers/b.kml", "no", "doc.kml", kmlFile("<NetworkLink/>")),
			trackOf: "Côte dure", warnings: []string{"several-files"},
		},
		"zipped, much to read": {in: zipped(t, "doc.kml", named+strings.Repeat("\n", 1<<20)), trackOf: "Côte dure"},
	} {
		t.Run(name, func(t *testing.T) { wantTwoPoints(t, track.ReadKML, c) })
	}
}

func TestReadKMLElevations(t *testing.T) {
	for name, c := range map[string]struct {
		mode, coordinates string
		want              string // the elevations
		warning           string
	}{
		"absolute":                  {"absolute", "7,45,0 7,46,0", "0 0", ""},
		"clamped and all 0":         {"clampToGround", "7,45,0 7,46,0", "NaN NaN", "elevation-all-zero"},
		"no mode and all 0":         {"", "7,45,0 7,46,0.0", "NaN NaN", "elevation-all-zero"},
		"no mode, 0 and none":       {"", "7,45,0 7,46", "NaN NaN", "elevation-all-zero"},
		"no mode, one of them 0":    {"", "7,45,0 7,46,1", "0 1", ""},
		"clamped to the sea floor":  {"clampToSeaFloor", "7,45,0 7,46,0", "NaN NaN", "elevation-all-zero"},
		"above the ground":          {"relativeToGround", "7,45,3 7,46,4", "NaN NaN", "altitude-above-ground"},
		"above the sea floor":       {"relativeToSeaFloor", "7,45,3 7,46,4", "NaN NaN", "altitude-above-ground"},
		"none":                      {"relativeToGround", "7,45 7,46", "NaN NaN", ""},
		"not a number":              {"absolute", "7,45,3 7,46,NaN", "3 NaN", "elevation-unreadable"},
		"no road":                   {"absolute", "7,45,3 7,46,-9001", "3 NaN", "elevation-out-of-range"},
		"nothing after its comma":   {"absolute", "7,45,3 7,46,", "3 NaN", ""},
		"a space and nothing after": {"absolute", "7,45,3 7,46, ", "3 NaN", ""},
	} {
		t.Run(name, func(t *testing.T) {
			in := "<LineString><coordinates>" + c.coordinates + "</coordinates>"
			if c.mode != "" {
				in += "<gx:altitudeMode>" + c.mode + "</gx:altitudeMode>"
			}
			got, err := track.ReadKML(context.Background(), []byte(kmlFile(placemark("A", in+"</LineString>"))), track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if e := elevations(got); e != c.want {
				t.Errorf("elevations %s, want %s", e, c.want)
			}
			if codes := strings.Join(warningCodes(got), " "); codes != c.warning {
				t.Errorf("warnings %+v, want %q", got.Warnings, c.warning)
			}
		})
	}
}

func TestReadKMLMarks(t *testing.T) {
	at := func(rest string) string {
		return "<Placemark>" + rest + "<Point><coordinates>7,45,0</coordinates></Point></Placemark>"
	}
	got, err := track.ReadKML(context.Background(), []byte(kmlFile(
		at("<name>Top of the mill hill</name>"),
		at("<name>Mill</name><styleUrl>#icon-sprint</styleUrl>"),
		at("<name>Mill</name><description>feed zone</description>"),
		at("<name>Mill</name><description>from here it is far to the finish</description>"),
		at(""),
		placemark("A", "<MultiGeometry><Point><coordinates>7,45</coordinates></Point>"+kmlLine+"</MultiGeometry>"))), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := []track.Mark{
		{Name: "Top of the mill hill", Kind: track.Summit},
		{Name: "Mill", Kind: track.Sprint},
		{Name: "Mill", Kind: track.Feed},
		{Name: "Mill", Kind: track.Other},
		{Name: "mark 5", Kind: track.Other},
		{Name: "A", Kind: track.Other},
	}
	if len(got.Marks) != len(want) {
		t.Fatalf("got %+v", got.Marks)
	}
	for i, m := range got.Marks {
		if lat, lon := m.Pos.Degrees(); m.Name != want[i].Name || m.Kind != want[i].Kind || lat < 44.999 || lat > 45.001 || lon < 6.999 || lon > 7.001 {
			t.Errorf("mark %d: %+v, want %+v", i+1, m, want[i])
		}
	}
}

func TestReadKMLChoosesTheLine(t *testing.T) {
	in := []byte(kmlFile(placemark("Short", "<LineString><coordinates>7,45</coordinates></LineString>"), placemark("A", kmlLine), placemark("B", kmlLine)))
	for n, want := range map[int]string{0: "A", 2: "A", 3: "B"} {
		if got, err := track.ReadKML(context.Background(), in, track.Options{Track: n}); err != nil || got.Name != want {
			t.Errorf("track %d: %+v, %v; want %s", n, got, err, want)
		}
	}
	for n, code := range map[int]string{1: track.CodeNoLine, 4: track.CodeNoSuchTrack} {
		_, err := track.ReadKML(context.Background(), in, track.Options{Track: n})
		wantCode(t, err, code)
	}
}

func TestReadKMLRefuses(t *testing.T) {
	at := func(tuple string) string { return coordinates("7,45\n\n" + tuple + "\n7,47") }
	archive := zipped(t, "doc.kml", kmlFile(placemark("A", kmlLine)))
	broken := []byte(archive)
	broken[60] ^= 0xff
	for name, c := range map[string]refusal{
		"empty":                   {"", track.CodeNotTheFormat, 1, 0, "KML"},
		"other root":              {file(twoPoints), track.CodeNotTheFormat, 1, 0, "<gpx>"},
		"not XML":                 {lineString, track.CodeNotTheFormat, 1, 0, "XML"},
		"web page":                {"<!DOCTYPE html><html>", track.CodeNotTheFormat, 1, 0, "web page"},
		"document type":           {"<!DOCTYPE kml [<!ENTITY a 'b'>]>" + kmlFile(), track.CodeMalformed, 1, 0, "DOCTYPE"},
		"breaks off":              {kmlHead + "\n<Document>\n<Placem", track.CodeMalformed, 3, 0, "breaks off"},
		"wrong nesting":           {kmlHead + "\n<Document></Placemark>", track.CodeMalformed, 2, 0, "well-formed"},
		"one number":              {at("7"), track.CodeOutOfRange, 3, 2, "1 number"},
		"commas everywhere":       {coordinates("7.1, 45.1, 0,\n7.2, 45.2, 0"), track.CodeOutOfRange, 1, 1, "6 numbers"},
		"after a broken tuple":    {coordinates("7,\n45 7,91\n"), track.CodeOutOfRange, 2, 2, "91"},
		"spaces for commas":       {at("8 45 100"), track.CodeOutOfRange, 3, 2, "1 number"},
		"not a number":            {at("7,45°"), track.CodeOutOfRange, 3, 2, "45°"},
		"NaN":                     {at("NaN,45"), track.CodeOutOfRange, 3, 2, "NaN"},
		"no longitude":            {coordinates(",45 7,46"), track.CodeOutOfRange, 1, 1, "longitude"},
		"latitude 91":             {at("120,91"), track.CodeOutOfRange, 3, 2, "91"},
		"longitude 181":           {at("181,45"), track.CodeOutOfRange, 3, 2, "181"},
		"latitude first":          {at("-37.8,144.9"), track.CodeOutOfRange, 3, 2, "longitude, latitude"},
		"gx:coord of one number":  {kmlFile(placemark("", "<gx:Track><gx:coord>7 45</gx:coord>\n<gx:coord>7,46,5</gx:coord></gx:Track>")), track.CodeOutOfRange, 2, 2, "1 number"},
		"no line":                 {kmlFile(), track.CodeNoLine, 0, 0, "line"},
		"link alone":              {kmlFile("<NetworkLink><Link><href>http://example.com/a.kml</href></Link></NetworkLink>"), track.CodeNoLine, 0, 0, "link"},
		"places alone":            {kmlFile(placemark("A", "<Point><coordinates>7,45</coordinates></Point>")), track.CodeNoLine, 0, 0, "1 of them"},
		"one point":               {coordinates("7,45"), track.CodeNoLine, 0, 0, "two points"},
		"zip of something else":   {zipped(t, "word/document.xml", "<x/>"), track.CodeNotTheFormat, 0, 0, ".kml"},
		"zip of nothing":          {zipped(t), track.CodeNotTheFormat, 0, 0, ".kml"},
		"zip that breaks off":     {archive[:len(archive)-30], track.CodeMalformed, 0, 0, "zip"},
		"zip that is broken":      {string(broken), track.CodeMalformed, 0, 0, "unpacked"},
		"zip of links alone":      {zipped(t, "doc.kml", kmlFile("<NetworkLink/>"), "a.kml", kmlFile("<NetworkLink/>")), track.CodeNoLine, 0, 0, "link"},
		"zip of another format":   {zipped(t, "doc.kml", file(twoPoints)), track.CodeNotTheFormat, 1, 0, "<gpx>"},
		"zip of a broken KML":     {zipped(t, "doc.kml", kmlHead+"\n<"), track.CodeMalformed, 2, 0, "breaks off"},
		"coordinates in a folder": {kmlFile("<coordinates>7,45 7,46</coordinates>"), track.CodeNoLine, 0, 0, "line"},
	} {
		t.Run(name, func(t *testing.T) { c.check(t, track.ReadKML) })
	}
}

func TestReadKMLLimits(t *testing.T) {
	limits := track.Limits{Points: 10, Marks: 3, Depth: 8, Parts: 4, Elements: 100, Bytes: 5000}
	line := func(n int) string {
		return placemark("", "<LineString><coordinates>"+strings.Repeat("7,45 ", n)+"</coordinates></LineString>")
	}
	track90 := placemark("", "<gx:Track>"+strings.Repeat("<gx:coord>7 45</gx:coord>", 90)+"</gx:Track>")
	place := placemark("", "<Point><coordinates>7,45</coordinates></Point>")
	for name, c := range map[string]struct {
		in            string
		limit, actual int // 0: accepted
	}{
		"10 points":        {kmlFile(line(10)), 0, 0},
		"11 points":        {kmlFile(line(11)), 10, 11},
		"90 points":        {kmlFile(line(50), line(40)), 10, 90},
		"90 track points":  {kmlFile(track90), 10, 90},
		"3 places":         {kmlFile(line(2), place, place, place), 0, 0},
		"4 places":         {kmlFile(line(2), place, place, place, place), 3, 4},
		"8 levels":         {kmlFile(line(2), "<x><x><x><x><x><x/></x></x></x></x></x>"), 0, 0},
		"9 levels":         {kmlFile(line(2), "<x><x><x><x><x><x><x/></x></x></x></x></x></x>"), 8, 9},
		"4 parts":          {kmlFile(line(2), line(2), line(2), line(2)), 0, 0},
		"5 parts":          {kmlFile(line(1), line(1), line(1), line(1), line(1)), 4, 5},
		"100 elements":     {kmlFile(line(2), strings.Repeat("<x/>", 94)), 0, 0},
		"101 elements":     {kmlFile(line(2), strings.Repeat("<x/>", 95)), 100, 101},
		"many bytes":       {zipped(t, "doc.kml", kmlFile(line(2))+strings.Repeat("\n", 4000)), 0, 0},
		"more packed ones": {zipped(t, "doc.kml", kmlFile(line(2))+strings.Repeat("\n", 8000)), 5000, 8000 + len(kmlFile(line(2)))},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := track.ReadKML(context.Background(), []byte(c.in), track.Options{Limits: limits})
			if c.limit == 0 {
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			if e := wantCode(t, err, track.CodeTooMany); e.Limit != c.limit || e.Actual != c.actual {
				t.Errorf("limit %d, actual %d; want %d, %d: %v", e.Limit, e.Actual, c.limit, c.actual, e)
			}
		})
	}
}

// TestReadKMLZipThatLies unpacks a file that is larger than its archive says.
func TestReadKMLZipThatLies(t *testing.T) {
	var packed, archive bytes.Buffer
	deflate, err := flate.NewWriter(&packed, flate.BestSpeed)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := deflate.Write([]byte(kmlHead + strings.Repeat(" ", 10_000) + "</kml>")); err != nil {
		t.Fatal(err)
	}
	if err := deflate.Close(); err != nil {
		t.Fatal(err)
	}
	w := zip.NewWriter(&archive)
	f, err := w.CreateRaw(&zip.FileHeader{Name: "doc.kml", Method: zip.Deflate, CompressedSize64: uint64(packed.Len()), UncompressedSize64: 100})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(packed.Bytes()); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = track.ReadKML(context.Background(), archive.Bytes(), track.Options{Limits: track.Limits{Bytes: 5000}})
	wantCode(t, err, track.CodeMalformed)
}

// TestReadKMLZipBomb unpacks no more than what an honest archive would hold.
func TestReadKMLZipBomb(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	bomb := zipped(t, "doc.kml", kmlHead+strings.Repeat(" ", 100<<20)+"</kml>")
	_, err := track.ReadKML(context.Background(), []byte(bomb), track.Options{})
	e := wantCode(t, err, track.CodeTooMany)
	if want := track.PlentifulBytes + track.MostPacked*len(bomb); e.Limit != want || e.Actual < 100<<20 {
		t.Errorf("limit %d, actual %d; want the limit %d", e.Limit, e.Actual, want)
	}
}
