package track_test

import (
	"context"
	"encoding/binary"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/track"
)

func TestReadFITCourse(t *testing.T) {
	w := new(fitWriter)
	w.define(1, fitCourse, []fitField{{5, 16, fitString}}, 0)
	w.message(1, "Mill  loop")
	w.define(0, fitRecord, recordFields, 0)
	w.message(0, semicircles(45), semicircles(7), altitude(210.2), centimetres(0))
	w.message(0, semicircles(45.001), semicircles(7), noUint32, centimetres(111))
	w.define(2, fitPlace, placeFields, 0)
	for _, p := range []struct {
		kind int64
		name string
	}{{15, "Bridge"}, {1, ""}, {6, "Elm Street"}, {7, "Sprint right"}, {10, "Wall"}, {0, "Timing gate"}, {0, ""}, {3, "Tap"}, {200, "?"}} {
		w.message(2, semicircles(45.0005), semicircles(7), noUint32, p.kind, p.name)
	}
	got, err := track.ReadFIT(context.Background(), w.file(), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Name != "Mill loop" || got.DistanceM != nil || len(got.Points) != 2 {
		t.Errorf("%q, distances %v, points %v", got.Name, got.DistanceM, got.Points)
	}
	if lat, lon := got.Points[1].Pos.Degrees(); math.Abs(lat-45.001) > 1e-7 || math.Abs(lon-7) > 1e-7 {
		t.Errorf("position %v %v", lat, lon)
	}
	if e := got.Points[0].Elevation; math.Abs(e-210.2) > 1e-9 || !math.IsNaN(got.Points[1].Elevation) {
		t.Errorf("elevations %v", got.Points)
	}
	wantMarks(t, got, "sprint Bridge", "summit summit", "sprint Sprint right", "summit Wall", "gate Timing gate", "other mark 6", "feed Tap", "other ?")
	wantWarnings(t, got, "turns-left-out")
}

// wantMarks compares the marks as "kind name".
func wantMarks(t *testing.T, got *track.Track, want ...string) {
	t.Helper()
	var marks []string
	for _, m := range got.Marks {
		marks = append(marks, string(m.Kind)+" "+m.Name)
	}
	if !slices.Equal(marks, want) {
		t.Errorf("marks %q, want %q", marks, want)
	}
}

// wantWarnings compares the codes of the warnings.
func wantWarnings(t *testing.T, got *track.Track, want ...string) {
	t.Helper()
	var codes []string
	for _, w := range got.Warnings {
		codes = append(codes, w.Code)
	}
	if !slices.Equal(codes, want) {
		t.Errorf("warnings %+v, want %q", got.Warnings, want)
	}
}

func TestReadFITRefuses(t *testing.T) {
	whole := fitLine(3).file()
	const head, definition, record = 14, 6 + 4*3, 1 + 4*4
	for name, c := range map[string]struct {
		in    []byte
		code  string
		point int
		says  string
	}{
		"nothing":             {nil, track.CodeNotTheFormat, 0, "does not start as FIT"},
		"text":                {[]byte("distance,elevation\n0,1\n"), track.CodeNotTheFormat, 0, "does not start as FIT"},
		"another signature":   {[]byte(strings.Replace(string(whole), ".FIT", ".FAT", 1)), track.CodeNotTheFormat, 0, "FIT"},
		"half a header":       {whole[:9], track.CodeNotTheFormat, 0, "FIT"},
		"header alone":        {whole[:head], track.CodeMalformed, 0, "breaks off: it has 14 bytes of the 85"},
		"cut in a definition": {whole[:head+7], track.CodeMalformed, 0, "(byte 14)"},
		"cut in the 2nd point": {
			whole[:head+definition+record+3], track.CodeMalformed, 1, "(byte 49)",
		},
		"no data":                {new(fitWriter).file(), track.CodeMalformed, 0, "no data follow"},
		"no definition":          {(&fitWriter{data: []byte{3, 0, 0}}).file(), track.CodeMalformed, 0, "no definition"},
		"message over the end":   {overrun(), track.CodeMalformed, 1, "over the end of the data"},
		"latitude":               {onePointAt(91, 7).file(), track.CodeOutOfRange, 1, "latitude 91.000000"},
		"no record":              {fitLine(0).file(), track.CodeNoLine, 0, "two points"},
		"one record":             {fitLine(1).file(), track.CodeNoLine, 0, "two points"},
		"second file broken off": {append(slices.Clone(whole), whole[:40]...), track.CodeMalformed, 3, "breaks off"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := track.ReadFIT(context.Background(), c.in, track.Options{})
			if e := wantCode(t, err, c.code); e.Point != c.point || !strings.Contains(e.Detail, c.says) {
				t.Errorf("point %d, %q; want point %d, %q", e.Point, e.Detail, c.point, c.says)
			}
		})
	}
}

// onePointAt returns a record at a place.
func onePointAt(lat, lon float64) *fitWriter {
	w := new(fitWriter)
	w.define(0, fitRecord, recordFields, 0)
	w.message(0, semicircles(lat), semicircles(lon), noUint32, noUint32)
	return w
}

// overrun is a file whose header puts the end of the data inside a message.
func overrun() []byte {
	b := fitLine(2).file()
	binary.LittleEndian.PutUint32(b[4:], uint32(len(b)-14-2-5))
	return b
}

func TestReadFITMends(t *testing.T) {
	line := func() []byte { return fitLine(3).file() }
	short := func() []byte { // a header without a checksum of its own, which that of the data includes
		w := fitLine(3)
		b := w.file()[:12]
		b[0] = 12
		b = append(b, w.data...)
		return binary.LittleEndian.AppendUint16(b, fitSum(b))
	}
	for name, c := range map[string]struct {
		in       []byte
		warnings []string
	}{
		"as written":             {line(), nil},
		"short header":           {short(), nil},
		"wrong checksum":         {change(line(), -1), []string{"checksum-wrong"}},
		"wrong header checksum":  {change(line(), 12), []string{"checksum-wrong"}},
		"changed data":           {change(line(), 40), []string{"checksum-wrong"}},
		"no checksum":            {line()[:len(line())-2], []string{"checksum-wrong"}},
		"half a checksum":        {line()[:len(line())-1], []string{"checksum-wrong"}},
		"followed by text":       {append(line(), "the end"...), []string{"content-after-end"}},
		"followed by a byte":     {append(line(), 14), []string{"content-after-end"}},
		"followed by its equal":  {append(line(), line()...), []string{"several-tracks"}},
		"followed by the header": {append(line(), line()[:13]...), []string{"content-after-end"}},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := track.ReadFIT(context.Background(), c.in, track.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Points) != 3 {
				t.Errorf("%d points", len(got.Points))
			}
			wantWarnings(t, got, c.warnings...)
		})
	}
}

// change flips the lowest bit of a byte, counted from the end if negative.
func change(b []byte, at int) []byte {
	b[(at+len(b))%len(b)] ^= 1
	return b
}

func TestReadFITChained(t *testing.T) {
	second := new(fitWriter)
	second.define(1, fitCourse, []fitField{{5, 8, fitString}}, 0)
	second.message(1, "Second")
	second.data = append(second.data, fitLine(5).data...)
	settings := new(fitWriter) // a file without a line is no track
	settings.define(0, 2, []fitField{{0, 1, fitEnum}}, 0)
	settings.message(0, int64(1))
	data := slices.Concat(fitLine(3).file(), settings.file(), second.file())
	for n, points := range map[int]int{0: 3, 1: 3, 2: 5} {
		got, err := track.ReadFIT(context.Background(), data, track.Options{Track: n})
		if err != nil || len(got.Points) != points {
			t.Errorf("track %d: %v, %v", n, got, err)
		}
	}
	_, err := track.ReadFIT(context.Background(), data, track.Options{Track: 3})
	wantCode(t, err, track.CodeNoSuchTrack)
	// A definition doesn't hold beyond its file.
	orphan := &fitWriter{data: fitLine(1).data[18:]}
	_, err = track.ReadFIT(context.Background(), append(fitLine(3).file(), orphan.file()...), track.Options{})
	wantCode(t, err, track.CodeMalformed)
}

func TestReadFITLimits(t *testing.T) {
	limits := track.Limits{Points: 3, Marks: 2, Parts: 2}
	places := fitLine(2)
	places.define(1, fitPlace, placeFields, 0)
	for range 4 {
		places.message(1, semicircles(45), semicircles(7), noUint32, int64(6), "")
		places.message(1, semicircles(45), semicircles(7), noUint32, int64(15), "")
	}
	for name, c := range map[string]struct {
		in    []byte
		limit int
	}{
		"4 points":       {fitLine(4).file(), 3},
		"2 and 2 points": {append(fitLine(2).file(), fitLine(2).file()...), 3},
		"3 places":       {places.file(), 2},
		"3 files":        {slices.Concat(fitLine(1).file(), fitLine(1).file(), fitLine(1).file()), 2},
	} {
		_, err := track.ReadFIT(context.Background(), c.in, track.Options{Limits: limits})
		if e := wantCode(t, err, track.CodeTooMany); e.Limit != c.limit || e.Actual != c.limit+1 {
			t.Errorf("%s: %+v", name, e)
		}
	}
}

// TestReadFITGivesBackWhatWasWritten writes random records in random dress and
// reads them.
func TestReadFITGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &fitWriter{big: rapid.Bool().Draw(t, "big endian")}
		fields := rapid.Permutation(slices.Concat(recordFields, []fitField{{2, 2, fitUint16}, {3, 1, 2}, {253, 4, fitUint32}})).Draw(t, "fields")
		developer := rapid.SampledFrom([]byte{0, 7}).Draw(t, "developer bytes")
		local := rapid.SampledFrom([]byte{0, 3}).Draw(t, "local number")
		w.define(local, fitRecord, fields, developer)
		n := rapid.IntRange(2, 20).Draw(t, "points")
		var want [][3]float64
		for range n {
			lat, lon := semicircles(rapid.Float64Range(-90, 90).Draw(t, "lat")), semicircles(rapid.Float64Range(-180, 179.99).Draw(t, "lon"))
			fine, coarse := int64(rapid.Uint32Range(0, 40000).Draw(t, "fine")), int64(rapid.Uint16Range(0, 40000).Draw(t, "coarse"))
			ele := float64(fine)/5 - 500
			if rapid.Bool().Draw(t, "old device") {
				fine, ele = noUint32, float64(coarse)/5-500
			}
			value := map[byte]any{0: lat, 1: lon, 78: fine, 2: coarse, 5: noUint32, 3: int64(140), 253: int64(1)}
			var values []any
			for _, f := range fields {
				values = append(values, value[f.num])
			}
			if rapid.Bool().Draw(t, "compressed") {
				w.compressed(local, 9, values...)
			} else {
				w.message(local, values...)
			}
			w.data = append(w.data, make([]byte, developer)...)
			want = append(want, [3]float64{float64(lat) * 180 / (1 << 31), float64(lon) * 180 / (1 << 31), ele})
		}
		got, err := track.ReadFIT(context.Background(), w.file(), track.Options{})
		if err != nil || len(got.Points) != n || got.Warnings != nil {
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

// FuzzReadFIT holds whatever comes out to what every reader of a track counts on.
func FuzzReadFIT(f *testing.F) {
	places := fitLine(3)
	places.define(1, fitPlace, placeFields, 3)
	places.message(1, semicircles(45), semicircles(7), centimetres(30), int64(15), "Bridge")
	places.data = append(places.data, 1, 2, 3)
	big := &fitWriter{big: true}
	big.define(2, fitRecord, recordFields, 0)
	for i := range 9 {
		big.compressed(2, byte(i), noSint32, noSint32, altitude(float64(i)), centimetres(float64(i%5)*150))
	}
	for _, data := range [][]byte{fitLine(3).file(), places.file(), big.file(), append(fitLine(2).file(), big.file()...), overrun()} {
		f.Add(data, 0)
		f.Add(data, 2)
	}
	fuzzReader(f, track.ReadFIT)
}
