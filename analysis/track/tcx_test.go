package track_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

// tcxHead starts a file; the namespace is invented, for any is taken.
const tcxHead = `<?xml version="1.0" encoding="UTF-8"?>
<TrainingCenterDatabase xmlns="urn:example:training" xmlns:x="urn:example:more">`

// tcxCourse returns a file with one course of the given content.
func tcxCourse(content string) string {
	return tcxHead + `<Courses><Course>` + content + `</Course></Courses></TrainingCenterDatabase>`
}

// tcxTrack returns a file with one course of the given points.
func tcxTrack(points string) string { return tcxCourse("<Track>" + points + "</Track>") }

// tcxAt returns a point at a place.
func tcxAt(lat, lon string) string {
	return `<Trackpoint><Time>2024-05-04T10:00:00Z</Time><Position><LatitudeDegrees>` + lat +
		`</LatitudeDegrees><LongitudeDegrees>` + lon + `</LongitudeDegrees></Position></Trackpoint>`
}

var tcxTwo = tcxAt("45", "7") + tcxAt("45.001", "7")

func TestReadTCXCourse(t *testing.T) {
	place := func(name, kind string) string {
		return `<CoursePoint><Name>` + name + `</Name><Time>2024-05-04T10:00:00Z</Time><Position><LatitudeDegrees> 45.0005 </LatitudeDegrees>` +
			`<LongitudeDegrees>7</LongitudeDegrees></Position><PointType>` + kind + `</PointType><Notes>n</Notes></CoursePoint>`
	}
	in := tcxCourse(`<Name> Mill
		loop </Name><Lap><BeginPosition><LatitudeDegrees>95</LatitudeDegrees></BeginPosition></Lap><Track>
		<Trackpoint><AltitudeMeters> 210.2 </AltitudeMeters><Position><LongitudeDegrees>7</LongitudeDegrees><LatitudeDegrees>45</LatitudeDegrees></Position>
		<Extensions><x:AltitudeMeters>9</x:AltitudeMeters></Extensions></Trackpoint>` + tcxAt("45.001", "7") + `</Track>` +
		place("Bridge", "Sprint") + place("", "Summit") + place("Elm Street", "Left") + place("Wall", "3rd Category") + place("Tap", "Water") +
		place("Feed zone", "Generic") + place("", "Generic") + place("Ditch", "Danger"))
	got, err := track.ReadTCX(context.Background(), []byte(in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Name != "Mill loop" || got.DistanceM != nil || len(got.Points) != 2 || got.Points[0].Elevation != 210.2 || !math.IsNaN(got.Points[1].Elevation) {
		t.Errorf("%+v", got)
	}
	wantMarks(t, got, "sprint Bridge", "summit Summit", "summit Wall", "feed Tap", "feed Feed zone", "other mark 6", "other Ditch")
	wantWarnings(t, got, "turns-left-out")
	if lat, lon := got.Marks[0].Pos.Degrees(); math.Abs(lat-45.0005) > 1e-9 || math.Abs(lon-7) > 1e-9 {
		t.Errorf("mark at %v %v", lat, lon)
	}
}

func TestReadTCXActivity(t *testing.T) {
	lap := func(from float64, n int) string {
		var b strings.Builder
		b.WriteString(`<Lap StartTime="2024-05-04T10:00:00Z"><DistanceMeters>9</DistanceMeters><Track>`)
		for i := range n {
			fmt.Fprintf(&b, `<Trackpoint><DistanceMeters>%.2f</DistanceMeters><AltitudeMeters>%d</AltitudeMeters></Trackpoint>`, from+100*float64(i), 100+i)
		}
		b.WriteString(`</Track></Lap>`)
		return b.String()
	}
	activity := func(laps ...string) string {
		return `<Activity Sport="Biking"><Id>2024-05-04T10:00:00Z</Id>` + strings.Join(laps, "") + `</Activity>`
	}
	in := []byte(tcxHead + `<Activities>` + activity(lap(0, 0)) + activity(lap(0, 4), lap(400, 2)) + activity(lap(0, 4), lap(0, 4)) +
		`<MultiSportSession><FirstSport>` + activity(lap(10, 2)) + `</FirstSport></MultiSportSession>` +
		activity(`<Track><Trackpoint><DistanceMeters>7</DistanceMeters></Trackpoint></Track><Track/><Track><Trackpoint><AltitudeMeters>101</AltitudeMeters><DistanceMeters>9</DistanceMeters></Trackpoint></Track>`) + `</Activities></TrainingCenterDatabase>`)
	for _, c := range []struct {
		track    int
		distance []float64
		breaks   []int
		warnings []string
	}{
		{0, []float64{0, 100, 200, 300, 400, 500}, []int{4}, []string{"several-tracks"}},
		{3, []float64{0, 100, 200, 300, 300, 400, 500, 600}, []int{4}, []string{"distance-restarted"}},
		{4, []float64{10, 110}, nil, nil},
		{5, []float64{7, 9}, []int{1}, nil}, // without laps, with an empty segment
	} {
		got, err := track.ReadTCX(context.Background(), in, track.Options{Track: c.track})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got.DistanceM, c.distance) || !slices.Equal(got.Breaks, c.breaks) || got.Points[1].Elevation != 101 || got.Name != "" {
			t.Errorf("track %d: %+v", c.track, got)
		}
		wantWarnings(t, got, c.warnings...)
	}
	_, err := track.ReadTCX(context.Background(), in, track.Options{Track: 1})
	wantCode(t, err, track.CodeNoLine)
}

func TestReadTCXRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		in          string
		code        string
		line, point int
		says        string
	}{
		"nothing":           {"", track.CodeNotTheFormat, 1, 0, "no TCX element"},
		"text":              {"a,b", track.CodeNotTheFormat, 1, 0, "does not start as XML"},
		"another root":      {"<gpx/>", track.CodeNotTheFormat, 1, 0, "root element is <gpx>"},
		"web page":          {"<!DOCTYPE html><html/>", track.CodeNotTheFormat, 1, 0, "web page"},
		"document type":     {tcxHead + "<!DOCTYPE x>", track.CodeMalformed, 2, 0, "document type"},
		"broken off":        {tcxHead + "\n<Courses><Course><Track>" + tcxTwo, track.CodeMalformed, 3, 0, "breaks off"},
		"not well-formed":   {tcxTrack(tcxTwo + "</Lap>"), track.CodeMalformed, 2, 0, "not well-formed"},
		"no course":         {tcxHead + "<Courses/></TrainingCenterDatabase>", track.CodeNoLine, 0, 0, "two points"},
		"one point":         {tcxTrack(tcxAt("45", "7")), track.CodeNoLine, 0, 0, "two points"},
		"latitude 91":       {tcxTrack(tcxTwo + "\n" + tcxAt("91", "7")), track.CodeOutOfRange, 3, 3, `latitude "91" is beyond`},
		"longitude NaN":     {tcxTrack(tcxTwo + "\n" + tcxAt("45", "NaN")), track.CodeOutOfRange, 3, 3, `longitude "NaN" is not a decimal`},
		"no longitude":      {tcxTrack(tcxAt("1", "1") + "\n<Trackpoint>\n<Position><LatitudeDegrees>1</LatitudeDegrees></Position></Trackpoint>"), track.CodeOutOfRange, 3, 2, "longitude is missing"},
		"place off earth":   {tcxCourse("<Track>" + tcxTwo + "</Track>\n<CoursePoint><Position><LatitudeDegrees>-90.1</LatitudeDegrees></Position></CoursePoint>"), track.CodeOutOfRange, 3, 0, "latitude of course point 1"},
		"place without any": {tcxCourse("<Track>" + tcxTwo + "</Track><CoursePoint><Position/></CoursePoint>"), track.CodeOutOfRange, 2, 0, "latitude of course point 1 is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := track.ReadTCX(context.Background(), []byte(c.in), track.Options{})
			if e := wantCode(t, err, c.code); e.Line != c.line || e.Point != c.point || !strings.Contains(e.Detail, c.says) {
				t.Errorf("line %d, point %d, %q; want %d, %d, %q", e.Line, e.Point, e.Detail, c.line, c.point, c.says)
			}
		})
	}
}

func TestReadTCXWarns(t *testing.T) {
	point := func(field string) string { return strings.Replace(tcxAt("45.002", "7"), "</Time>", "</Time>"+field, 1) }
	for name, c := range map[string]struct {
		in   string
		code string
	}{
		"as written":           {tcxTrack(tcxTwo), ""},
		"elevation in words":   {tcxTrack(tcxTwo + point("<AltitudeMeters>12 m</AltitudeMeters>")), "elevation-unreadable"},
		"elevation of the sky": {tcxTrack(tcxTwo + point("<AltitudeMeters>1e5</AltitudeMeters>")), "elevation-out-of-range"},
		"decimal comma":        {tcxTrack(tcxTwo + point("<AltitudeMeters>12,5</AltitudeMeters>")), "decimal-comma"},
		"distance backwards":   {tcxTrack(tcxTwo + point("<DistanceMeters>-1</DistanceMeters>")), "distance-unreadable"},
		"distance infinite":    {tcxTrack(tcxTwo + point("<DistanceMeters>1e999</DistanceMeters>")), "distance-unreadable"},
		"more after the end":   {tcxTrack(tcxTwo) + "<gpx/>", "content-after-end"},
		"a hole":               {tcxTrack(tcxTwo + "<Trackpoint/>" + tcxTwo), "position-missing"},
		"segments apart":       {tcxCourse("<Track>" + tcxTwo + "</Track><Track>" + tcxAt("45.1", "7") + "</Track>"), "segment-gap"},
		"place without place":  {tcxCourse("<Track>" + tcxTwo + "</Track><CoursePoint><Name>Mill</Name></CoursePoint>"), "mark-without-place"},
		"wrong encoding":       {tcxCourse("<Name>S\xfcd</Name><Track>" + tcxTwo + "</Track>"), "encoding-guessed"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := track.ReadTCX(context.Background(), []byte(c.in), track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if c.code == "" {
				wantWarnings(t, got)
			} else {
				wantWarnings(t, got, c.code)
			}
		})
	}
}

func TestReadTCXLimits(t *testing.T) {
	limits := track.Limits{Points: 4, Marks: 2, Depth: 8, Parts: 3, Elements: 60}
	place := `<CoursePoint><Position><LatitudeDegrees>1</LatitudeDegrees><LongitudeDegrees>1</LongitudeDegrees></Position><PointType>Sprint</PointType></CoursePoint>`
	for name, c := range map[string]struct {
		in            string
		limit, actual int
	}{
		"6 points":     {tcxTrack(strings.Repeat("<Trackpoint/>", 6)), 4, 6},
		"3 places":     {tcxCourse(strings.Repeat(place, 5)), 2, 3},
		"9 levels":     {tcxTrack(strings.Repeat("<x>", 5)), 8, 9},
		"3 segments":   {tcxCourse(strings.Repeat("<Track></Track>", 3)), 3, 4},
		"61 elements":  {tcxTrack(strings.Repeat("<x/>", 57)), 60, 61},
		"nested track": {tcxCourse(strings.Repeat("<Track>", 9)), 8, 9},
	} {
		_, err := track.ReadTCX(context.Background(), []byte(c.in), track.Options{Limits: limits})
		if e := wantCode(t, err, track.CodeTooMany); e.Limit != c.limit || e.Actual != c.actual || e.Line == 0 {
			t.Errorf("%s: %+v", name, e)
		}
	}
}

// TestReadTCXGivesBackWhatWasWritten writes random courses in random dress and
// reads them.
func TestReadTCXGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		space := rapid.SampledFrom([]string{"", "\n", "\r\n\t "}).Draw(t, "space")
		var b strings.Builder
		var want [][3]float64
		for range rapid.IntRange(2, 20).Draw(t, "points") {
			p := [3]float64{rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon"), math.Round(rapid.Float64Range(-400, 5000).Draw(t, "ele")*1000) / 1000}
			fmt.Fprintf(&b, `%s<t:Trackpoint>%s<t:AltitudeMeters>%s%.3f</t:AltitudeMeters>`, space, space, space, p[2])
			fmt.Fprintf(&b, `<t:Position><t:LatitudeDegrees>%.10f%s</t:LatitudeDegrees><!-- c --><t:LongitudeDegrees>%.10f</t:LongitudeDegrees></t:Position>`, p[0], space, p[1])
			b.WriteString(`<Extensions><Watts>1</Watts></Extensions></t:Trackpoint>`)
			want = append(want, p)
		}
		in := `<t:TrainingCenterDatabase xmlns:t="urn:example:training"><t:Courses><t:Course><t:Track>` + b.String() + `</t:Track></t:Course></t:Courses></t:TrainingCenterDatabase>`
		got, err := track.ReadTCX(context.Background(), []byte(in), track.Options{})
		if err != nil || len(got.Points) != len(want) || got.Warnings != nil {
			t.Fatalf("%+v, %v", got, err)
		}
		for i, want := range want {
			lat, lon := got.Points[i].Pos.Degrees()
			offLon := math.Remainder(lon-want[1], 360) * math.Cos(want[0]*math.Pi/180)
			if math.Abs(lat-want[0]) > 1e-9 || math.Abs(offLon) > 1e-9 || got.Points[i].Elevation != want[2] {
				t.Fatalf("point %d: %v %v %v, want %v", i, lat, lon, got.Points[i].Elevation, want)
			}
		}
	})
}

// FuzzReadTCX holds whatever comes out to what every reader of a track counts on.
func FuzzReadTCX(f *testing.F) {
	place := `<CoursePoint><Name>Mill</Name><Position><LatitudeDegrees>1</LatitudeDegrees><LongitudeDegrees>1</LongitudeDegrees></Position><PointType>Sprint</PointType></CoursePoint>`
	for _, in := range []string{
		tcxTrack(tcxTwo), tcxCourse("<Name>a</Name><Track>" + tcxTwo + "<Trackpoint/>" + tcxAt("1", "2") + "</Track>" + place),
		tcxTrack(strings.Repeat("<Trackpoint><DistanceMeters>150</DistanceMeters><AltitudeMeters>1,5</AltitudeMeters></Trackpoint>", 3) + "<Trackpoint><DistanceMeters>3</DistanceMeters></Trackpoint>"),
		tcxHead + "<Activities><Activity><Lap><Track>" + tcxTwo + "</Track></Lap></Activity><Activity><Track>" + tcxTwo + "</Track></Activity></Activities></TrainingCenterDatabase>",
	} {
		f.Add([]byte(in), 0)
		f.Add([]byte(in), 2)
	}
	fuzzReader(f, track.ReadTCX)
}
