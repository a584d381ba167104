package track_test

import (
	"context"
	"encoding/xml"
	"strings"
	"testing"

	"parcours.example/analysis/track"
)

// readMarks returns the marks of a file that holds the points before its track.
func readMarks(t *testing.T, points string) []track.Mark {
	t.Helper()
	got, err := track.ReadGPX(context.Background(), []byte(head+points+`<trk><trkseg>`+twoPoints+`</trkseg></trk></gpx>`), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return got.Marks
}

func TestMarkKinds(t *testing.T) {
	for name, want := range map[string]track.MarkKind{
		"Sprint":                  track.Sprint,
		"SPRINT 2":                track.Sprint,
		"Sprint finish":           track.Sprint,
		"2. Zwischensprint":       track.Sprint,
		"Traguardo volante":       track.Sprint,
		"Meta volante":            track.Sprint,
		"Summit":                  track.Summit,
		"Top of Harrow Hill":      track.Summit,
		"Col d'Orsane":            track.Summit,
		"Passhöhe":                track.Summit,
		"Passho\u0308he":          track.Summit,
		"Cima Velda":              track.Summit,
		"Alto de Brena":           track.Summit,
		"Finish at the top":       track.Summit,
		"Timing gate 1":           track.Gate,
		"Start/Ziel":              track.Gate,
		"Départ":                  track.Gate,
		"Ligne d’arrivée":         track.Gate,
		"finish-line":             track.Gate,
		"Arrivo":                  track.Gate,
		"Llegada":                 track.Gate,
		"Feed zone":               track.Feed,
		"RAVITO":                  track.Feed,
		"Verpflegung":             track.Feed,
		"Agua":                    track.Feed,
		"Stopford":                track.Other,
		"Passau":                  track.Other,
		"Colchester":              track.Other,
		"Waterloo":                track.Other,
		"Sprinter's Arms":         track.Other,
		"Starting blocks":         track.Other,
		"The old mill":            track.Other,
		"\u202eSprint\u202c here": track.Sprint,
	} {
		var b strings.Builder
		if err := xml.EscapeText(&b, []byte(name)); err != nil {
			t.Fatal(err)
		}
		marks := readMarks(t, `<wpt lat="1" lon="1"><name>`+b.String()+`</name></wpt>`)
		if len(marks) != 1 || marks[0].Kind != want {
			t.Errorf("%q: got %v, want %s", name, marks, want)
		}
	}
}

func TestMarkKindsBySource(t *testing.T) {
	for in, want := range map[string]track.MarkKind{
		`<name>Old mill</name><type>sprint</type>`:                 track.Sprint,
		`<name>Old mill</name><sym>Summit</sym>`:                   track.Summit,
		`<name>Sprint 1</name><sym>Summit</sym>`:                   track.Sprint,
		`<name>Sprint 1</name><type>FEED</type><sym>Summit</sym>`:  track.Feed,
		`<name>Old mill</name><sym>Drinking Water</sym>`:           track.Feed,
		`<name>Old mill</name><desc>The sprint is 2 km on</desc>`:  track.Other,
		`<name>Old mill</name><sym>Flag, Blue</sym><type></type>`:  track.Other,
		`<x:type xmlns:x="urn:x">sprint</x:type><name>Mill</name>`: track.Other,
	} {
		if marks := readMarks(t, `<wpt lat="1" lon="1">`+in+`</wpt>`); len(marks) != 1 || marks[0].Kind != want {
			t.Errorf("%s: got %v, want %s", in, marks, want)
		}
	}
}

func TestMarkNames(t *testing.T) {
	for in, want := range map[string]string{
		`<name>Old mill</name><desc>D</desc><cmt>C</cmt>`: "Old mill",
		`<desc>D</desc><cmt>C</cmt>`:                      "D",
		`<name> </name><cmt>C</cmt>`:                      "C",
		``:                                                "mark 2",
		`<name>001</name>`:                                "001",
		"<name>\n  Old\t \n mill </name>":                 "Old mill",
		"<name>Old\u202emill\u2066</name>":                "Oldmill",
		"<name>Old&#x85;mill\u007f\u0090</name>":          "Old mill",
		"<name>Old\u2028mill\ufeff</name>":                "Old mill",
		"<name>&lt;b&gt;&amp;amp;</name>":                 "<b>&amp;",
		"<name>🚴‍♀️ line</name>":                          "🚴‍♀️ line",
	} {
		marks := readMarks(t, `<wpt lat="0" lon="0"><name>First</name></wpt><wpt lat="1" lon="1">`+in+`</wpt>`)
		if len(marks) != 2 || marks[1].Name != want {
			t.Errorf("%q: got %+v, want %q", in, marks, want)
		}
	}
}

func TestMarksOfTheLine(t *testing.T) {
	in := head + `<rte>` +
		`<rtept lat="1" lon="1"><name>Start</name></rtept>` +
		`<rtept lat="1" lon="2"><name>RPT001</name></rtept>` +
		`<rtept lat="1" lon="3"><name>017</name></rtept>` +
		`<rtept lat="1" lon="4"><name>Punkt 5</name></rtept>` +
		`<rtept lat="1" lon="5"><desc>turn left</desc></rtept>` +
		`<rtept lat="1" lon="6"><name>Top 2</name></rtept>` +
		`<rtept lat="1" lon="7"><name>Mill 3 bridge</name></rtept>` +
		`<rtept lat="1" lon="8"><name>B</name></rtept></rte>` +
		`<wpt lat="2" lon="2"><name>Feed</name></wpt></gpx>`
	got, err := track.ReadGPX(context.Background(), []byte(in), track.Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		name string
		kind track.MarkKind
		lon  float64
	}{{"Feed", track.Feed, 2}, {"Start", track.Gate, 1}, {"Top 2", track.Summit, 6}, {"Mill 3 bridge", track.Other, 7}}
	if len(got.Marks) != len(want) {
		t.Fatalf("got %+v", got.Marks)
	}
	for i, w := range want {
		m := got.Marks[i]
		if _, lon := m.Pos.Degrees(); m.Name != w.name || m.Kind != w.kind || lon < w.lon-1e-9 || lon > w.lon+1e-9 {
			t.Errorf("mark %d: got %+v, want %+v", i, m, w)
		}
	}
}
