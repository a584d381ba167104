package brief

import (
	"bytes"
	"encoding/xml"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// Checks against what others have published or commonly do.

// A course with a climb to the line can hold three quarters of its ascent before
// that climb, and a brief must say so instead of calling the way there flat
// [common practice].
func TestClimbToTheLineIsNotCalledFlat(t *testing.T) {
	in := hilltop()
	if share := in.Terrain.Climbing.ShareBeforeLastClimb; share < 0.7 || share > 0.8 {
		t.Fatalf("the course holds %.2f of its ascent before the last climb", share)
	}
	for _, limit := range []int{280, 350, 0} {
		in.MaxChars = limit
		if got := Write(in).Text; !strings.Contains(got, "79 % of the climbing comes before") || strings.Contains(got, "flat") {
			t.Errorf("within %d code points:\n%s", limit, got)
		}
	}
}

// A finishing climb that averages 6–7 % can hold three sections with pitches of
// 17–19 % [common practice]; each must be told.
func TestPitchesOfAFinishingClimb(t *testing.T) {
	c := build("Upper Arvane", course.PointToPoint, stretch{course.Whole, 1, []ramp{
		{20000, 0}, {900, 6}, {40, 18}, {400, 2}, {300, 9}, {40, 17}, {500, 4}, {400, 9}, {30, 19}, {300, 4},
	}})
	k := climb(c, 1, "Fold", []float64{20000}, 940, 1340, 1680, 2180, 2610, 2910)
	if k.MeanGradientPct < 6 || k.MeanGradientPct > 7 {
		t.Fatalf("mean %.1f %%", k.MeanGradientPct)
	}
	got := Write(Input{Course: c, Terrain: dissected(c, []terrain.Climb{k}, nil)}).Text
	for _, pitch := range []string{"25 m at 18 %", "25 m at 17 %", "25 m at 19 %"} {
		if !strings.Contains(got, pitch) {
			t.Errorf("%s isn't told in\n%s", pitch, got)
		}
	}
}

// Road books print the passage of km 100 at 38, 40 and 42 km/h as 2:37:54, 2:30:00
// and 2:22:51 after the start [common practice; the arithmetic recomputed].
func TestPassageTimes(t *testing.T) {
	for kmh, want := range map[float64]string{38: "2:37:54", 40: "2:30:00", 42: "2:22:51"} {
		if got := (format{}).clock("", 100/kmh*3600).text; got != want {
			t.Errorf("km 100 at %v km/h: %s, want %s", kmh, got, want)
		}
	}
}

// In a road book, distance done and to go sum to the stage on every line [common
// practice]. In running text each is rounded by itself, so the sum holds for what the
// text stands for; the itinerary prints numbers that add up (TestItineraryAddsUp).
func TestDoneAndToGoSumToTheCourse(t *testing.T) {
	in := hilltop()
	for _, m := range in.Terrain.Marks {
		for _, p := range m.Passes {
			if sum := p.AtM + p.ToFinishM; sum < in.Course.LengthM()-1e-6 || sum > in.Course.LengthM()+1e-6 {
				t.Errorf("%s: %v + %v", m.Name, p.AtM, p.ToFinishM)
			}
		}
	}
}

// The reference parser of CommonMark 0.30 (cmark 0.30.2, BSD-2-Clause) reads of every
// brief nothing but our own structure, and in it exactly what the plain text says.
func TestReferenceParserReadsTheSame(t *testing.T) {
	parser := referenceParser(t)
	for _, all := range []map[string]Input{fixtures(), itineraries()} {
		for name, in := range all {
			for _, limit := range []int{0, MinChars, 280, 2000, 4096} {
				in.MaxChars = limit
				holdsStructure(t, parser, name, Write(in))
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		holdsStructure(t, parser, "named", Write(named(nasty().Draw(t, "course"), nasty().Draw(t, "name"))))
		holdsStructure(t, parser, "drawn", Write(anyInput(t)))
	})
}

// referenceParser returns the path of the reference parser. Where it isn't installed the
// test is skipped, unless PARCOURS_REQUIRE asks for everything.
func referenceParser(t *testing.T) string {
	t.Helper()
	parser, err := exec.LookPath("cmark")
	if err != nil && os.Getenv("PARCOURS_REQUIRE") == "1" {
		t.Fatal(err)
	} else if err != nil {
		t.Skip("cmark isn't installed")
	}
	return parser
}

// holdsStructure reads a brief's Markdown with the reference parser. Each heading, item and
// paragraph must be a line of the plain text, and so each line of the itinerary's block.
func holdsStructure(t interface {
	Fatalf(string, ...any)
	Errorf(string, ...any)
}, parser, name string, b *Brief,
) {
	command := exec.Command(parser, "-t", "xml")
	command.Stdin = strings.NewReader(b.Markdown)
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var lines []string
	var line strings.Builder
	titles, inText, blocks := 0, false, 0
	for d := xml.NewDecoder(bytes.NewReader(out)); ; {
		token, err := d.Token()
		if err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			switch token.Name.Local {
			case "code_block":
				blocks++
				inText = true
			case "text":
				inText = true
			case "document", "list", "item", "paragraph", "strong":
			case "heading":
				if token.Attr[0].Value == "1" {
					titles++
				}
			default:
				t.Errorf("%s: %s in\n%s", name, token.Name.Local, b.Markdown)
			}
		case xml.CharData:
			if inText {
				line.Write(token)
			}
		case xml.EndElement:
			inText = false
			switch token.Name.Local {
			case "heading", "paragraph", "code_block":
				for l := range strings.Lines(line.String()) {
					lines = append(lines, strings.TrimSpace(l))
				}
				line.Reset()
			}
		}
	}
	var want []string
	for _, l := range strings.Split(b.Text, "\n") {
		if l = strings.TrimSpace(strings.TrimPrefix(l, "- ")); l != "" {
			want = append(want, l)
		}
	}
	if titles > 1 || blocks > 1 || blocks == 1 && b.Itinerary == nil || !slices.Equal(lines, want) {
		t.Errorf("%s: %d titles, lines\n%q\nwant\n%q", name, titles, lines, want)
	}
}

// The international yard and pound agreement of 1959: 1 mile = 1609.344 m, 1 ft =
// 0.3048 m, 1 lb = 0.45359237 kg [from memory].
func TestInternationalUnits(t *testing.T) {
	f := format{imperial: true}
	for got, want := range map[string]string{
		f.length("", 160934.4).text:      "100.0 miles",
		f.height("", 304.8).text:         "1000 ft",
		f.mass("", 45.359237).text:       "100 lb",
		f.speed("", 1609.344/3600).text:  "1.0 mph",
		f.speed("", 16093.44/3600).text:  "10.0 mph",
		f.window("", 0.3048*82.02).text:  "82 ft",
		f.length("", 1609.344*2.25).text: "2.3 miles",
	} {
		if got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}
