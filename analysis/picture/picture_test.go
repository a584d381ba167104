package picture

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/colour"
	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
)

func themes() []colour.Theme { return []colour.Theme{colour.Light, colour.Dark, colour.Print} }

func drawn(tb testing.TB, in Input) *Drawing {
	tb.Helper()
	d, err := Draw(in)
	if err != nil {
		tb.Fatal(err)
	}
	return d
}

// fatal is what tests and properties have in common.
type fatal interface {
	Helper()
	Errorf(format string, args ...any)
}

// checkTexts holds that no text of a drawing meets another, leaves the paper, or lies on
// the line that leads from another to its place.
func checkTexts(t fatal, d *Drawing) {
	t.Helper()
	paper := box{0, 0, float64(d.WidthPx), float64(d.HeightPx)}
	var all []letters
	for _, e := range d.elements {
		if e.letters != nil {
			all = append(all, *e.letters)
		}
	}
	for _, line := range leaders(d) {
		for _, a := range all {
			if a.box().meets(line) {
				t.Errorf("%q at %v lies on the line of another label, %v", a.words, a.box(), line)
			}
		}
	}
	for i, a := range all {
		if !a.box().within(paper) {
			t.Errorf("%q leaves the paper: %v", a.words, a.box())
		}
		for _, b := range all[:i] {
			if a.box().meets(b.box()) {
				t.Errorf("%q at %v meets %q at %v", a.words, a.box(), b.words, b.box())
			}
		}
	}
}

// leaders are the upright lines that a label is written after.
func leaders(d *Drawing) (lines []box) {
	for i, e := range d.elements {
		if e.stroke == nil || len(e.stroke.lines) != 1 || i+1 == len(d.elements) || d.elements[i+1].letters == nil {
			continue
		}
		if l := e.stroke.lines[0]; len(l) == 2 && l[0].x == l[1].x && l[0].y < l[1].y {
			lines = append(lines, box{l[0].x - 0.5, l[0].y + 0.1, l[0].x + 0.5, l[1].y})
		}
	}
	return lines
}

// checkSVG holds that bytes are well-formed XML without anything from outside, and returns
// the texts in it.
func checkSVG(t fatal, svg []byte) (texts []string) {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(svg))
	inside := ""
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return texts
		}
		if err != nil {
			t.Errorf("the SVG is no XML: %v", err)
			return texts
		}
		switch x := token.(type) {
		case xml.StartElement:
			inside = x.Name.Local
			if !strings.Contains(" svg title desc path text ", " "+inside+" ") {
				t.Errorf("the SVG has an element %q", inside)
			}
		case xml.CharData:
			if inside == "text" && strings.TrimSpace(string(x)) != "" {
				texts = append(texts, string(x))
			}
		}
	}
}

func TestTextsNeverMeet(t *testing.T) {
	c, dissected := longRace(t)
	names := []string{OfCourse, OfLaps}
	for _, climb := range dissected.Climbs {
		names = append(names, climb.ID)
	}
	if len(dissected.Marks) != 40 || c.Laps.Count != 12 || len(dissected.Climbs) == 0 {
		t.Fatalf("%d marks, %d laps, %d climbs", len(dissected.Marks), c.Laps.Count, len(dissected.Climbs))
	}
	rapid.Check(t, func(t *rapid.T) {
		d, err := Draw(Input{
			Course: c, Terrain: dissected, Focus: rapid.SampledFrom(names).Draw(t, "focus"),
			WidthPx: rapid.IntRange(LeastWidthPx, MostWidthPx).Draw(t, "width"), HeightPx: rapid.IntRange(LeastHeightPx, MostHeightPx).Draw(t, "height"),
			Theme: rapid.SampledFrom(themes()).Draw(t, "theme"), Units: wording.Units{Imperial: rapid.Bool().Draw(t, "imperial")},
		})
		if err != nil {
			t.Fatal(err)
		}
		checkTexts(t, d)
		if d.WidthPx > 800 && len(leaders(d)) == 0 {
			t.Errorf("no label has a line")
		}
	})
}

func TestTextsNeverMeetOnTheSeasonsPictures(t *testing.T) {
	for _, name := range seasonNames() {
		c, dissected := season(t, name)
		for _, focus := range []string{OfCourse, OfLaps, OfMap, "climb-1", "climb-2"} {
			for _, width := range []int{480, 1000, 1600} {
				d, err := Draw(Input{Course: c, Terrain: dissected, Focus: focus, WidthPx: width})
				if why, ok := errors.AsType[*Error](err); ok && (why.Code == CodeNoLaps || why.Code == CodeNoSuchClimb) {
					continue
				}
				if err != nil {
					t.Fatal(err)
				}
				checkTexts(t, d)
				checkSVG(t, d.SVG())
			}
		}
	}
}

func seasonNames() []string {
	return []string{"brambleseth-time-trial", "hoskerrow-eight", "ludwether-mountain-stage", "morvask-laps-and-climb", "quellmere-criterium", "skarnholt-hill-climb"}
}

// The most important labels are not those that are left out.
func TestWhatMattersIsLabelled(t *testing.T) {
	c, dissected := season(t, "morvask-laps-and-climb")
	for width, want := range map[int][]string{
		480:  {"Summit of the Wall, 4.2 km at 6.3 %", "lap 3", "48.8"},
		1000: {"Summit of the Wall, 4.2 km at 6.3 %", "Summit of Undlebeck, 2.0 km at 3.8 %", "Climb 4, 1.4 km at 3.6 %", "Morvask gate, 3.2 km", "lead-in", "run-out"},
	} {
		texts := checkSVG(t, drawn(t, Input{Course: c, Terrain: dissected, Focus: OfCourse, WidthPx: width}).SVG())
		for _, w := range want {
			if !strings.Contains("\n"+strings.Join(texts, "\n")+"\n", "\n"+w+"\n") {
				t.Errorf("%d px: %q is not among %q", width, w, texts)
			}
		}
	}
}

// A name is whatever a file holds; it stays a text.
func TestNamesStayTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{`</text><script>x()</script>`, "a\x00\xff\u202eb", `" onload="x`, "<!--", "]]>&amp;"})).Draw(t, "name")
		c := &course.Course{Name: name, S: []float64{0, 900, 1000}, Z: []float64{0, 1, 60}, AscentTo: []float64{0, 1, 60}, DescentTo: []float64{0, 0, 0}}
		dissected := &terrain.Terrain{Marks: []terrain.Mark{{ID: "mark-1", Name: name, Kind: track.Sprint, Passes: []terrain.MarkPass{{AtM: 500}}}}}
		d, err := Draw(Input{Course: c, Terrain: dissected, Focus: OfCourse, WidthPx: 700})
		if err != nil {
			t.Fatal(err)
		}
		checkSVG(t, d.SVG())
		checkTexts(t, d)
	})
}

func TestWithoutElevation(t *testing.T) {
	c, err := course.FromProfile(context.Background(), []float64{0, 5000, 9000}, nil, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	d := drawn(t, Input{Course: c, Terrain: dissect(c), Focus: OfCourse, WidthPx: 600})
	checkTexts(t, d)
	if all := strings.Join(checkSVG(t, d.SVG()), "\n"); !strings.Contains(all, "no elevations") || strings.Contains(all, "gradient") {
		t.Errorf("%q", all)
	}
}

func TestDrawRefuses(t *testing.T) {
	flat, err := course.FromProfile(context.Background(), []float64{0, 5000}, []float64{3, 3}, course.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	bare, err := course.FromProfile(context.Background(), []float64{0, 5000}, nil, func() course.Options { o := course.Defaults(); o.Laps = 3; return o }())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		course *course.Course
		in     Input
		code   string
	}{
		{flat, Input{Focus: "climb-1", WidthPx: 600}, CodeNoSuchClimb},
		{flat, Input{Focus: OfLaps, WidthPx: 600}, CodeNoLaps},
		{bare, Input{Focus: OfLaps, WidthPx: 600}, CodeNoElevation},
		{flat, Input{Focus: OfMap, WidthPx: 600}, CodeNoPositions},
		{flat, Input{Focus: OfCourse, WidthPx: 479}, CodeSize},
		{flat, Input{Focus: OfCourse, WidthPx: 600, HeightPx: 1201}, CodeSize},
	} {
		c.in.Course, c.in.Terrain = c.course, dissect(c.course)
		_, err := Draw(c.in)
		if why, ok := errors.AsType[*Error](err); !ok || why.Code != c.code {
			t.Errorf("%+v: %v, want %s", c.in.Focus, err, c.code)
		}
	}
}

// A picture of a long race stays small enough for a chat.
func TestSizeOfALongRace(t *testing.T) {
	c, dissected := longRace(t)
	for _, focus := range []string{OfCourse, OfLaps} {
		if n := len(drawn(t, Input{Course: c, Terrain: dissected, Focus: focus, WidthPx: MostWidthPx}).SVG()); n > 150_000 {
			t.Errorf("%s: %d bytes, want 150,000 at most", focus, n)
		}
	}
}

// The most marks and laps that a course may have make no endless picture.
func TestSizeOfTheFullestCourse(t *testing.T) {
	c, dissected := hills(t, 4000, 200, crowd(4000, 500))
	d := drawn(t, Input{Course: c, Terrain: dissected, Focus: OfCourse, WidthPx: MostWidthPx})
	checkTexts(t, d)
	if n := len(d.SVG()); n > 300_000 {
		t.Errorf("%d bytes, want 300,000 at most", n)
	}
}
