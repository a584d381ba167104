package track_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/geodesy"
	"parcours.example/analysis/track"
)

// recordedLine is one line of a file as testdata/recorded/lengths.py tells it.
type recordedLine struct {
	Name         string
	Points       int
	Breaks       []int
	LengthM      float64 `json:"length_m"`
	Elevations   int
	MinElevation *float64 `json:"min_elevation_m"`
	MaxElevation *float64 `json:"max_elevation_m"`
}

type recordedFile struct {
	Waypoints int
	Lines     []recordedLine
}

const recorded = "../../testdata/recorded"

func recordedFiles(t *testing.T) map[string]recordedFile {
	t.Helper()
	var files map[string]recordedFile
	readRecorded(t, "lengths.json", &files)
	return files
}

// TestRecordedFiles holds what is read of recorded files (their sources are in
// testdata/recorded/README.md) against xml.etree, and their lengths against
// GeographicLib in Python (python3-geographiclib of Debian, MIT).
func TestRecordedFiles(t *testing.T) {
	for name, want := range recordedFiles(t) {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(recorded, name))
			if err != nil {
				t.Fatal(err)
			}
			checkLines(t, data, want)
		})
	}
}

// TestOriginalFiles reads the files of github.com/tkrajina/gpxgo v1.4.0 as the
// module ships them: all that was stripped of ours changes nothing.
func TestOriginalFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := moduleDir(t, "github.com/tkrajina/gpxgo")
	files := recordedFiles(t)
	for original, ours := range map[string]string{
		"Mojstrovka.gpx": "mojstrovka.gpx", "cerknicko-without-times.gpx": "cerknicko.gpx",
		"korita-zbevnica.gpx": "korita-zbevnica.gpx", "visnjan.gpx": "visnjan.gpx",
		"iso8859-1encoded.gpx": "iso-8859-1.gpx",
	} {
		t.Run(original, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "test_files", original))
			if err != nil {
				t.Skip(err)
			}
			checkLines(t, data, files[ours])
		})
	}
}

// TestDeviceFiles reads the FIT files of github.com/muktihari/fit v0.26.1 (BSD-3) as
// the module ships them, and holds what is read against another parser, as
// testdata/recorded/fit.mjs tells it.
func TestDeviceFiles(t *testing.T) {
	dir := moduleDir(t, "github.com/muktihari/fit")
	var files map[string]struct {
		Records, Positions, Distances, Elevations int
		LengthM                                   float64  `json:"length_m"`
		FirstDistance                             float64  `json:"first_distance_m"`
		LastDistance                              float64  `json:"last_distance_m"`
		MinElevation                              *float64 `json:"min_elevation_m"`
		MaxElevation                              *float64 `json:"max_elevation_m"`
	}
	readRecorded(t, "fit.json", &files)
	for name, want := range files {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "testdata", filepath.FromSlash(name)))
			if err != nil {
				t.Skip(err)
			}
			got, err := track.ReadFIT(context.Background(), data, track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			line := recordedLine{Points: want.Positions, LengthM: want.LengthM, Elevations: want.Elevations, MinElevation: want.MinElevation, MaxElevation: want.MaxElevation}
			if got.DistanceM == nil {
				line.Elevations -= want.Records - want.Positions
			} else {
				line.Points, line.LengthM = want.Distances, 0
				if first, last := got.DistanceM[0], got.DistanceM[len(got.DistanceM)-1]; first != want.FirstDistance || last != want.LastDistance {
					t.Errorf("from %v to %v m, want %v to %v m", first, last, want.FirstDistance, want.LastDistance)
				}
			}
			checkLine(t, got, line)
		})
	}
}

// TestConvertedFiles reads TCX files that gpsbabel made of recorded GPX files, and
// holds what is read against what gpsbabel reads of them itself, as
// testdata/recorded/tcx.py tells it, and against the GPX files.
func TestConvertedFiles(t *testing.T) {
	var files map[string]recordedLine
	readRecorded(t, "tcx.json", &files)
	for name, want := range files {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(recorded, name))
			if err != nil {
				t.Fatal(err)
			}
			got, err := track.ReadTCX(context.Background(), data, track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			want.Name = got.Name // the converter's own
			checkLine(t, got, want)
			if data, err = os.ReadFile(filepath.Join(recorded, strings.TrimSuffix(name, ".tcx")+".gpx")); err != nil {
				t.Fatal(err)
			}
			original, err := track.ReadGPX(context.Background(), data, track.Options{})
			if err != nil || len(original.Points) != len(got.Points) {
				t.Fatalf("%d points of %v, %v", len(got.Points), original, err)
			}
			for i, p := range original.Points { // it writes seven decimals, and one of an elevation
				if d := geodesy.Distance(p.Pos, got.Points[i].Pos); d > 0.01 || math.Abs(p.Elevation-got.Points[i].Elevation) > 0.0501 {
					t.Fatalf("point %d: %.3f m from the original, elevations %v and %v", i, d, p.Elevation, got.Points[i].Elevation)
				}
			}
		})
	}
}

// readRecorded reads one of the files that tell what other readers found.
func readRecorded(t *testing.T, name string, files any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(recorded, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, files); err != nil {
		t.Fatal(err)
	}
}

// moduleDir returns where a module's files are, and skips the test where they are
// not at hand.
func moduleDir(t *testing.T, module string) string {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", module).Output()
	if err != nil || len(dir) < 2 {
		t.Skip("the module's files are not at hand")
	}
	return strings.TrimSpace(string(dir))
}

func checkLines(t *testing.T, data []byte, want recordedFile) {
	t.Helper()
	for i, w := range want.Lines {
		got, err := track.ReadGPX(context.Background(), data, track.Options{Track: i + 1})
		if w.Points < 2 {
			wantCode(t, err, track.CodeNoLine)
			continue
		}
		if err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		checkLine(t, got, w)
		if len(got.Marks) != want.Waypoints {
			t.Errorf("line %d: %d marks, want %d", i+1, len(got.Marks), want.Waypoints)
		}
	}
	if len(want.Lines) == 0 {
		_, err := track.ReadGPX(context.Background(), data, track.Options{})
		wantCode(t, err, track.CodeNoLine)
	}
}

func checkLine(t *testing.T, got *track.Track, want recordedLine) {
	t.Helper()
	if got.Name != want.Name || len(got.Points) != want.Points || !slices.Equal(got.Breaks, want.Breaks) {
		t.Errorf("%q: %d points, breaks %v; want %q: %d, %v", got.Name, len(got.Points), got.Breaks, want.Name, want.Points, want.Breaks)
	}
	if l := length(got.Points); math.Abs(l-want.LengthM) > 1e-6*want.LengthM {
		t.Errorf("%s: %.6f m, want %.6f m", want.Name, l, want.LengthM)
	} else {
		t.Logf("%s: %.3f m, off by %.1e", want.Name, l, l/want.LengthM-1)
	}
	n, lowest, highest := 0, math.Inf(1), math.Inf(-1)
	for _, p := range got.Points {
		if !math.IsNaN(p.Elevation) {
			n, lowest, highest = n+1, min(lowest, p.Elevation), max(highest, p.Elevation)
		}
	}
	if n != want.Elevations || n > 0 && (lowest != *want.MinElevation || highest != *want.MaxElevation) {
		t.Errorf("%s: %d elevations, %v…%v m; want %+v", want.Name, n, lowest, highest, want)
	}
}

// length returns the sum of the geodesics between consecutive points in metres.
func length(points []track.Point) float64 {
	sum := 0.0
	for i := 1; i < len(points); i++ {
		sum += geodesy.Distance(points[i-1].Pos, points[i].Pos)
	}
	return sum
}

// wantCode fails unless err is a *track.Error with the code and a sentence.
func wantCode(t *testing.T, err error, code string) *track.Error {
	t.Helper()
	e := &track.Error{}
	ok := errors.As(err, &e)
	if !ok || e.Code != code || len(e.Detail) < 20 {
		t.Fatalf("got %T %v, want the code %q", err, err, code)
	}
	return e
}

// extent is a line as testdata/recorded/ogr.py tells it, its corners as longitude,
// latitude and elevation.
type extent struct {
	Name     string
	Points   int
	Min, Max [3]float64
}

type ogrFile struct {
	Places []string
	Lines  []extent
}

// TestFilesOfOGR holds what is read of files that GDAL wrote against what GDAL reads
// of them itself (python3-gdal 3.6.2 of Debian, MIT; testdata/recorded/ogr.py).
func TestFilesOfOGR(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(recorded, "ogr.json"))
	if err != nil {
		t.Fatal(err)
	}
	var files map[string]ogrFile
	if err := json.Unmarshal(data, &files); err != nil {
		t.Fatal(err)
	}
	readers := map[string]func(context.Context, []byte, track.Options) (*track.Track, error){
		".geojson": track.ReadGeoJSON, ".kml": track.ReadKML, ".kmz": track.ReadKML,
		".csv": track.ReadTable, ".tsv": track.ReadTable,
	}
	for name, want := range files {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(recorded, name))
			if err != nil {
				t.Fatal(err)
			}
			for i, line := range want.Lines {
				got, err := readers[filepath.Ext(name)](context.Background(), data, track.Options{Track: i + 1})
				if err != nil {
					t.Fatal(err)
				}
				line.check(t, got)
				if len(got.Marks) != len(want.Places) {
					t.Fatalf("%d marks, want %q", len(got.Marks), want.Places)
				}
				for i, m := range got.Marks {
					if m.Name != want.Places[i] {
						t.Errorf("mark %d is %q, want %q", i+1, m.Name, want.Places[i])
					}
				}
			}
		})
	}
}

func (e extent) check(t *testing.T, got *track.Track) {
	t.Helper()
	least := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	most := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, p := range got.Points {
		lat, lon := p.Pos.Degrees()
		for i, v := range [3]float64{lon, lat, p.Elevation} {
			least[i], most[i] = min(least[i], v), max(most[i], v)
		}
	}
	for i := range least {
		if math.Abs(least[i]-e.Min[i]) > 1e-9 || math.Abs(most[i]-e.Max[i]) > 1e-9 {
			t.Errorf("%q: from %v to %v, want %v to %v", e.Name, least, most, e.Min, e.Max)
			break
		}
	}
	if len(got.Points) != e.Points || e.Name != "" && got.Name != e.Name {
		t.Errorf("%q, %d points, want %q, %d", got.Name, len(got.Points), e.Name, e.Points)
	}
}

// TestGeoJSONExamples reads the examples of RFC 7946, of section 1.5 and of appendix A,
// that have lines or could be taken for some.
func TestGeoJSONExamples(t *testing.T) {
	const collection = `{
       "type": "FeatureCollection",
       "features": [{
           "type": "Feature",
           "geometry": {"type": "Point", "coordinates": [102.0, 0.5]},
           "properties": {"prop0": "value0"}
       }, {
           "type": "Feature",
           "geometry": {"type": "LineString", "coordinates": [[102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0]]},
           "properties": {"prop0": "value0", "prop1": 0.0}
       }, {
           "type": "Feature",
           "geometry": {"type": "Polygon", "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]]},
           "properties": {"prop0": "value0", "prop1": {"this": "that"}}
       }]
   }`
	none := math.NaN()
	for name, c := range map[string]struct {
		in     string
		points [][3]float64 // none: refused
		marks  int
	}{
		"1.5":           {collection, [][3]float64{{0, 102, none}, {1, 103, none}, {0, 104, none}, {1, 105, none}}, 1},
		"A.1 Points":    {`{"type": "Point", "coordinates": [100.0, 0.0]}`, nil, 0},
		"A.2 Lines":     {`{"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}`, [][3]float64{{0, 100, none}, {1, 101, none}}, 0},
		"A.4 Points":    {`{"type": "MultiPoint", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}`, nil, 0},
		"A.5 Lines":     {`{"type": "MultiLineString", "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]]}`, [][3]float64{{0, 100, none}, {1, 101, none}, {2, 102, none}, {3, 103, none}}, 0},
		"A.7 collected": {`{"type": "GeometryCollection", "geometries": [{"type": "Point", "coordinates": [100.0, 0.0]}, {"type": "LineString", "coordinates": [[101.0, 0.0], [102.0, 1.0]]}]}`, [][3]float64{{0, 101, none}, {1, 102, none}}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := track.ReadGeoJSON(context.Background(), []byte(c.in), track.Options{})
			if c.points == nil {
				wantCode(t, err, track.CodeNoLine)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			wantPoints(t, got, c.points)
			if len(got.Marks) != c.marks {
				t.Errorf("%d marks, want %d", len(got.Marks), c.marks)
			}
		})
	}
}

// TestKMLExample reads the example of a LineString in OGC KML 2.2 (OGC 07-147r2, 10.7.4):
// a line on the ground, whose altitudes are 0, and one 50 m above it. Neither tells an
// elevation.
func TestKMLExample(t *testing.T) {
	const in = `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>LineString.kml</name><open>1</open>
  <LookAt><longitude>-122.36415</longitude><latitude>37.824553</latitude><altitude>0</altitude><range>150</range><tilt>50</tilt><heading>0</heading></LookAt>
  <Placemark><name>unextruded</name>
    <LineString><extrude>0</extrude><tessellate>1</tessellate>
      <coordinates>
        -122.364383,37.824664,0 -122.364152,37.824322,0
      </coordinates>
    </LineString>
  </Placemark>
  <Placemark><name>extruded</name>
    <LineString><extrude>1</extrude><tessellate>1</tessellate><altitudeMode>relativeToGround</altitudeMode>
      <coordinates>
        -122.364167,37.824787,50 -122.363917,37.824423,50
      </coordinates>
    </LineString>
  </Placemark></Document></kml>`
	for i, want := range []struct {
		name, warning string
		points        [][3]float64
	}{
		{"unextruded", "elevation-all-zero", [][3]float64{{37.824664, -122.364383, math.NaN()}, {37.824322, -122.364152, math.NaN()}}},
		{"extruded", "altitude-above-ground", [][3]float64{{37.824787, -122.364167, math.NaN()}, {37.824423, -122.363917, math.NaN()}}},
	} {
		got, err := track.ReadKML(context.Background(), []byte(in), track.Options{Track: i + 1})
		if err != nil {
			t.Fatal(err)
		}
		wantPoints(t, got, want.points)
		if codes := warningCodes(got); got.Name != want.name || len(codes) != 1 || codes[0] != want.warning {
			t.Errorf("%q, warnings %+v; want %q, %s", got.Name, got.Warnings, want.name, want.warning)
		}
	}
}
