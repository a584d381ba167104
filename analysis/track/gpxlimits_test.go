package track_test

import (
	"context"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"

	"parcours.example/analysis/track"
)

func TestReadGPXLimits(t *testing.T) {
	limits := track.Limits{Points: 10, Marks: 3, Depth: 8, Parts: 4, Elements: 100}
	point, waypoint := `<trkpt lat="1" lon="1"/>`, `<wpt lat="1" lon="1"/>`
	for name, c := range map[string]struct {
		in            string
		limit, actual int // 0: accepted
	}{
		"10 points":          {file(strings.Repeat(point, 10)), 0, 0},
		"11 points":          {file(strings.Repeat(point, 11)), 10, 11},
		"90 points":          {file(strings.Repeat(point, 90)), 10, 90},
		"11 points of 2":     {head + `<rte>` + strings.Repeat(`<rtept lat="1" lon="1"/>`, 6) + `</rte><trk><trkseg>` + strings.Repeat(point, 5) + `</trkseg></trk></gpx>`, 10, 11},
		"3 waypoints":        {head + strings.Repeat(waypoint, 3) + `<trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, 0, 0},
		"4 waypoints":        {head + strings.Repeat(waypoint, 4) + `<trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, 3, 4},
		"8 levels":           {file(twoPoints + `<x><x><x><x><x/></x></x></x></x>`), 0, 0},
		"9 levels":           {file(twoPoints + `<x><x><x><x><x><x/></x></x></x></x></x>`), 8, 9},
		"9 levels in a name": {file(strings.Replace(twoPoints, `<ele>`, `<name><x><x><x><x/></x></x></x></name><ele>`, 1)), 8, 9},
		"4 parts":            {head + `<rte/><rte/><trk><trkseg>` + twoPoints + `</trkseg></trk></gpx>`, 0, 0},
		"5 parts":            {head + `<rte/><rte/><trk><trkseg>` + twoPoints + `</trkseg><trkseg/></trk></gpx>`, 4, 5},
		"100 elements":       {file(twoPoints + strings.Repeat("<x/>", 93)), 0, 0},
		"101 elements":       {file(twoPoints + strings.Repeat("<x/>", 94)), 100, 101},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := track.ReadGPX(context.Background(), []byte(c.in), track.Options{Limits: limits})
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

func TestReadGPXCutsNames(t *testing.T) {
	name := strings.Repeat("é", 300)
	in := head + `<wpt lat="1" lon="1"><name>` + name + `</name></wpt><trk><name>` + name + `</name><trkseg>` + twoPoints + `</trkseg></trk></gpx>`
	for limit, want := range map[int]int{0: 200, 7: 7} {
		got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{Limits: track.Limits{NameRunes: limit}})
		if err != nil {
			t.Fatal(err)
		}
		if got.Name != strings.Repeat("é", want) || got.Marks[0].Name != got.Name {
			t.Errorf("limit %d: names %q and %q", limit, got.Name, got.Marks[0].Name)
		}
	}
}

func TestReadGPXDropsNamedPointsBeyondTheLimit(t *testing.T) {
	in := head + `<rte>` + strings.Repeat(`<rtept lat="1" lon="1"><name>Old mill</name></rtept>`, 5) + `</rte></gpx>`
	got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{Limits: track.Limits{Marks: 3}})
	if err != nil || len(got.Marks) != 3 || len(got.Warnings) != 1 || got.Warnings[0].Code != "marks-dropped" {
		t.Errorf("got %+v, %v", got, err)
	}
}

// TestReadGPXDeepNesting reads elements inside each other where a reader that
// recurses would run out of stack, which no program survives.
func TestReadGPXDeepNesting(t *testing.T) {
	depths := []int{1e3, 1e4, 1e5, 1e6}
	if testing.Short() {
		depths = depths[:2]
	}
	for _, depth := range depths {
		for name, in := range map[string]string{
			"under the root":     head + strings.Repeat("<x>", depth) + strings.Repeat("</x>", depth) + "</gpx>",
			"in extensions":      head + "<extensions>" + strings.Repeat("<x>", depth) + strings.Repeat("</x>", depth) + "</extensions></gpx>",
			"in a point":         file(`<trkpt lat="1" lon="1">` + strings.Repeat("<x>", depth)),
			"in a name":          head + "<trk><name>" + strings.Repeat("<name>", depth),
			"segments":           head + "<trk>" + strings.Repeat("<trkseg>", depth),
			"points":             file(strings.Repeat(`<trkpt lat="1" lon="1">`, depth)),
			"roots":              strings.Repeat("<gpx>", depth),
			"closed by no means": head + strings.Repeat("<x>", depth),
		} {
			_, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
			if e := wantCode(t, err, track.CodeTooMany); e.Limit != 64 || e.Actual != 65 {
				t.Errorf("%s, %d deep: %v", name, depth, e)
			}
		}
	}
}

// TestReadGPXBombs reads files made of a million small things that a reader might
// make large ones of, and counts what it allocates meanwhile.
func TestReadGPXBombs(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const million = 1_000_000
	for name, c := range map[string]struct {
		in   string
		code string // empty: accepted
		most uint64 // bytes allocated in all, MB
	}{
		"bare points":            {file(strings.Repeat("<trkpt/>", million)), track.CodeOutOfRange, 1},
		"bare waypoints":         {head + strings.Repeat("<wpt/>", million), track.CodeOutOfRange, 1},
		"waypoints":              {head + strings.Repeat(`<wpt lat="1" lon="1"/>`, million), track.CodeTooMany, 10},
		"tracks":                 {head + strings.Repeat("<trk/>", million), track.CodeTooMany, 60},
		"segments":               {head + "<trk>" + strings.Repeat("<trkseg/>", million), track.CodeTooMany, 60},
		"routes":                 {head + strings.Repeat("<rte/>", million), track.CodeTooMany, 60},
		"attributes":             {head + "<trk " + strings.Repeat("a='' ", million) + "/></gpx>", track.CodeTooMany, 10},
		"attributes of the root": {"<gpx " + strings.Repeat("a='' ", million) + "/>", track.CodeTooMany, 10},
		"declaration":            {"<?xml " + strings.Repeat("a='' ", million) + "?>", track.CodeTooMany, 10},
		"a long element name":    {head + "<" + strings.Repeat("a", 10*million) + "/></gpx>", track.CodeTooMany, 10},
		"a long closing tag":     {head + "<a></" + strings.Repeat("a", 10*million) + "></gpx>", track.CodeTooMany, 10},
		"entities in a name":     {head + "<trk><name>" + strings.Repeat("&amp;", million) + "</name></trk></gpx>", track.CodeNoLine, 20},
		"a name of 10 MB":        {head + "<trk><name>" + strings.Repeat("a", 10*million) + "</name></trk></gpx>", track.CodeNoLine, 45},
		"names in a point":       {file(`<trkpt lat="1" lon="1">` + strings.Repeat("<name>abc</name>", million/10) + "</trkpt>"), track.CodeNoLine, 200},
		"comments":               {head + strings.Repeat("<!---->", million) + "</gpx>", track.CodeNoLine, 200},
	} {
		t.Run(name, func(t *testing.T) {
			data := []byte(c.in)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := track.ReadGPX(context.Background(), data, track.Options{})
			runtime.ReadMemStats(&after)
			wantCode(t, err, c.code)
			if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > c.most {
				t.Errorf("%d MB allocated, at most %d expected", mb, c.most)
			} else {
				t.Logf("%d MB allocated for a file of %d MB", mb, len(data)>>20)
			}
		})
	}
}

// TestReadGPXLivesSmall reads very many of the smallest points: what stands in
// memory at any time must be near what is handed back.
func TestReadGPXLivesSmall(t *testing.T) {
	points := 100_000
	switch {
	case testing.Short():
		t.Skip("long")
	case os.Getenv("PARCOURS_FULL") != "":
		points = track.DefaultLimits().Points
	}
	const point = `<trkpt lat="1" lon="1"/>`
	data := []byte(file(strings.Repeat(point, points)))
	debug.FreeOSMemory()
	before := heapInUse()
	got, err := track.ReadGPX(context.Background(), data, track.Options{})
	if err != nil || len(got.Points) != points {
		t.Fatal(err)
	}
	// What the heap took from the system is not given back at once.
	grown := heapInUse() - before
	t.Logf("the heap grew by %d MB for %d points, %d MB of file", grown>>20, points, len(data)>>20)
	if most := int64(30<<20 + 200*points); grown > most {
		t.Errorf("the heap grew by %d MB, at most %d expected", grown>>20, most>>20)
	}
}

// heapInUse returns the bytes of memory that the heap holds from the system.
func heapInUse() int64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapSys) - int64(m.HeapReleased)
}
