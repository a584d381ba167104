package brief

import (
	"bytes"
	"encoding/csv"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"parcours.example/analysis/itinerary"
	"parcours.example/analysis/track"
	"parcours.example/analysis/wording"
	"parcours.example/internal/golden"
	"pgregory.net/rapid"
)

// elapsed is an itinerary that starts no clock.
var elapsed = math.NaN()

// withItinerary adds an itinerary at three speeds, and for riders by name who ride evenly.
func withItinerary(in Input, startS float64, neutral itinerary.Neutral, riders ...string) Input {
	t := &itinerary.Table{
		LengthM: in.Course.LengthM(), StartS: startS, Neutral: neutral,
		Rows: itinerary.Rows(in.Course, in.Terrain, neutral.EndM),
	}
	if len(riders) == 0 {
		t.Ordinary = &itinerary.Ordinary{MassKg: 70, PowerW: 210, MeanSpeedMps: 11.1, HaltsAtM: math.NaN()}
		for _, v := range itinerary.Speeds(11.1, wording.Units{Imperial: in.Units == Imperial}) {
			t.Columns = append(t.Columns, itinerary.Column{SpeedMps: v, ClocksS: neutral.AtSpeed(t.Rows, v)})
		}
	}
	for i, rider := range riders {
		c := itinerary.Column{SpeedMps: math.NaN(), Rider: rider, Setup: "light"}
		c.ClocksS = neutral.AtSpeed(t.Rows, 10+float64(i)/10)
		t.Columns = append(t.Columns, c)
	}
	in.Itinerary = t
	return in
}

// itineraries are briefs with one.
func itineraries() map[string]Input {
	short := mountains(Imperial)
	short.MaxChars = 2000
	return map[string]Input{
		"itinerary_hilltop":   withItinerary(hilltop(), elapsed, itinerary.Neutral{EndM: 3000, TimeS: 420}),
		"itinerary_riders":    withItinerary(twoCircuits(), 23*3600+1800, itinerary.Neutral{TimeS: 600}, "Marta Venn", "Joss Pell", "Ivo Tarn", "Lys Ober"),
		"itinerary_mountains": withItinerary(short, elapsed, itinerary.Neutral{}),
		"itinerary_hostile":   withItinerary(foreign(), 13*3600, itinerary.Neutral{}, "*_@here_* `rm`", "=1+1|calc"),
	}
}

// foreign has names of every script and of none, and as long as names may be.
func foreign() Input {
	in := hilltop()
	in.Terrain.Climbs[0].Name = "גבעת הרוח 12"
	in.Terrain.Climbs[2].Name = strings.Repeat("北山", 100)
	in.Terrain.Marks[0].Name = "=HYPERLINK(\"http://evil.example\";\"x\")\r\n```\n| a | b |"
	in.Terrain.Marks[1].Name = "\u202eab\u2066c\"\",\"d"
	in.Terrain.Marks[2].Name = strings.Repeat("Überlang ", 22)
	return in
}

// TestItineraryGolden holds tables as they read.
func TestItineraryGolden(t *testing.T) {
	for name, in := range itineraries() {
		t.Run(name, func(t *testing.T) {
			b := Write(in)
			golden.Check(t, name+".txt", table(t, b.Text))
			golden.Check(t, name+".csv", string(b.Itinerary.CSV()))
		})
	}
}

// table returns the section of the itinerary.
func table(t *testing.T, text string) string {
	t.Helper()
	_, from, found := strings.Cut(text, "Itinerary\n")
	if !found {
		t.Fatalf("no itinerary in %s", text)
	}
	section, _, _ := strings.Cut(from, "\n\n")
	return section + "\n"
}

// TestItineraryInAnyBrief holds what a table must keep to, whatever the course, the names
// and the limit.
func TestItineraryInAnyBrief(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := anyInput(t)
		for i := range in.Terrain.Marks {
			in.Terrain.Marks[i].Name = nasty().Draw(t, "mark")
			in.Terrain.Marks[i].Kind = track.MarkKind(rapid.SampledFrom([]string{"sprint", "summit", "gate", "feed", "other"}).Draw(t, "kind"))
		}
		neutral := itinerary.Neutral{TimeS: rapid.Float64Range(0, 2000).Draw(t, "neutral")}
		startS := rapid.OneOf(rapid.Just(elapsed), rapid.Float64Range(0, 86_399)).Draw(t, "start")
		riders := rapid.SliceOfN(nasty(), 0, 5).Draw(t, "riders")
		in = withItinerary(in, startS, neutral, riders...)
		b := Write(in)
		holdsTable(t, b)
		whole := in
		whole.MaxChars = 0
		all := Write(whole)
		for _, line := range tableLines(b.Text) {
			if !slices.Contains(tableLines(all.Text), line) {
				t.Errorf("the row %q is cut", line)
			}
		}
		holdsCSV(t, b.Itinerary)
	})
}

// clockLine matches the rows of a table and the line above them.
var clockLine = regexp.MustCompile(`(?m)^ *(\d+\.\d\d +\d+\.\d\d|(km|miles) +to go) .*$`)

func tableLines(text string) []string { return clockLine.FindAllString(text, -1) }

// holdsTable checks the table of a brief in both renderings.
func holdsTable(t interface{ Errorf(string, ...any) }, b *Brief) {
	rows := tableLines(b.Text)
	if len(rows) == 1 {
		t.Errorf("a head without rows: %q", rows[0])
	}
	if len(rows) == 0 {
		if strings.Contains(b.Markdown, "```") {
			t.Errorf("a table of nothing in %s", b.Markdown)
		}
		return
	}
	place := strings.LastIndex(rows[0], "place")
	for _, row := range rows {
		if columns(row) > tableColumns {
			t.Errorf("%q is %d columns wide", row, columns(row))
		}
		if numbers := row[:min(place, len(row))]; len(row) < place || strings.ContainsFunc(numbers, func(r rune) bool { return r > unicode.MaxASCII }) || row[place-1] != ' ' {
			t.Errorf("%q isn't set below %q", row, rows[0])
		}
	}
	parts := strings.Split(b.Markdown, "```")
	if len(parts) != 3 || !strings.HasPrefix(parts[1], "\n"+rows[0]+"\n"+rows[1]) {
		t.Errorf("the fence of %s", b.Markdown)
	}
	if strings.Count(b.Text, firstStrongIsolate) != strings.Count(b.Text, popIsolate) {
		t.Errorf("isolates don't close in %s", b.Text)
	}
}

// holdsCSV reads the table back as RFC 4180 has it.
func holdsCSV(t interface{ Errorf(string, ...any) }, table *Itinerary) {
	content := table.CSV()
	if bytes.Count(content, []byte("\n")) != len(table.Rows)+1 || bytes.Count(content, []byte("\r\n")) != len(table.Rows)+1 {
		t.Errorf("%d rows in %q", len(table.Rows), content)
	}
	records, err := csv.NewReader(bytes.NewReader(content)).ReadAll()
	if err != nil || len(records) != len(table.Rows)+1 {
		t.Errorf("%d records, %v", len(records), err)
		return
	}
	for i, record := range records[1:] {
		if len(record) != 7+len(table.Columns) || record[0] != table.Lines[i].Covered || record[1] != table.Lines[i].ToGo {
			t.Errorf("row %d reads %q", i, record)
		}
		for _, cell := range record[5:7] {
			if strings.IndexFunc(cell, startsFormula) == 0 || strings.ContainsFunc(cell, unicode.IsControl) {
				t.Errorf("row %d holds %q", i, cell)
			}
		}
	}
}

// TestItineraryLimits holds every limit, and that the numbers are facts.
func TestItineraryLimits(t *testing.T) {
	for name, in := range itineraries() {
		before := Brief{}
		for _, limit := range limits {
			in.MaxChars = limit
			b := *Write(in)
			holdsLimit(t, b, limit)
			holdsTable(t, &b)
			partOfText(t, before, b)
			if name != "itinerary_hostile" { // whose names hold numbers
				onlyFacts(t, name, b.Text, b.Facts)
				onlyFacts(t, name, b.Markdown, b.Facts)
			}
			if len(b.Itinerary.Lines) != len(in.Itinerary.Rows) {
				t.Errorf("%s at %d: %d of %d rows in the answer", name, limit, len(b.Itinerary.Lines), len(in.Itinerary.Rows))
			}
			before = b
		}
	}
}

// TestItineraryAddsUp adds what is printed, and holds it against what it stands for.
func TestItineraryAddsUp(t *testing.T) {
	hundredths := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return math.Round(100 * x)
	}
	for name, in := range itineraries() {
		u := wording.Units{Imperial: in.Units == Imperial}
		for i, line := range Write(in).Itinerary.Lines {
			row := in.Itinerary.Rows[i]
			if hundredths(line.Covered)+hundredths(line.ToGo) != hundredths(u.Covered(in.Itinerary.LengthM)) {
				t.Errorf("%s: %s and %s on a course of %s", name, line.Covered, line.ToGo, u.Covered(in.Itinerary.LengthM))
			}
			if line.Covered != u.Covered(row.AtM) || line.Elevation != u.Level(row.ElevationM) {
				t.Errorf("%s: row %d says %+v", name, i, line)
			}
			for k, clock := range line.Clocks {
				s := in.Itinerary.Columns[k].ClocksS[i]
				want := wording.Clock(s)
				if !math.IsNaN(in.Itinerary.StartS) {
					want = wording.TimeOfDay(in.Itinerary.StartS + s)
				}
				if clock != want {
					t.Errorf("%s: %s, want %s", name, clock, want)
				}
			}
		}
	}
}

// TestItineraryInMarkdown parses briefs as CommonMark: the table is one fenced block, to
// the letter.
func TestItineraryInMarkdown(t *testing.T) {
	for name, in := range itineraries() {
		b := Write(in)
		rows := strings.SplitAfter(table(t, b.Text), "\n")
		want := strings.Join(rows[1:], "")
		if got := fenced(b.Markdown); !slices.Equal(got, []string{want}) {
			t.Errorf("%s: fenced blocks %q, want %q", name, got, want)
		}
	}
}

// TestPassesStayTogether demands all passes of a place in a table, or none.
func TestPassesStayTogether(t *testing.T) {
	for name, in := range itineraries() {
		w := writer{in: in}
		for limit := 120; limit < 4096; limit += 97 {
			in.MaxChars = limit
			told := map[string]bool{}
			for _, f := range Write(in).Facts {
				told[f.Name] = true
			}
			type place struct{ rank, group int }
			kept := map[place]bool{}
			for i, r := range in.Itinerary.Rows {
				main := w.mainThing(r)
				p, is := place{w.thingRank(main), groupOf(main)}, told[rowFact(i)+".at_m"]
				if before, seen := kept[p]; seen && before != is {
					t.Errorf("%s at %d: row %d (%s) without others of its place", name, limit, i, main.Kind)
				}
				kept[p] = is
			}
		}
	}
}

func TestRidersBesideSpeedsHaveTheirLetters(t *testing.T) {
	in := withItinerary(hilltop(), elapsed, itinerary.Neutral{}, "Marta Venn")
	in.Itinerary.Columns = append([]itinerary.Column{{SpeedMps: 10, ClocksS: itinerary.Neutral{}.AtSpeed(in.Itinerary.Rows, 10)}}, in.Itinerary.Columns...)
	if text := Write(in).Text; !strings.Contains(text, "Times at 36.0 km/h. A is Marta Venn.") || !strings.Contains(text, "    36.0       A place") {
		t.Errorf("the first rider isn't A in\n%s", table(t, text))
	}
}

func TestInertCells(t *testing.T) {
	for cell, want := range map[string]string{
		"": "", "Mill": "Mill", "'s Hill": "'s Hill", "=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "＝1": "'＝1", "a=b": "a=b",
	} {
		if got := inert(cell); got != want {
			t.Errorf("%q becomes %q, want %q", cell, got, want)
		}
	}
}

func TestColumnsOfText(t *testing.T) {
	for text, want := range map[string]int{"": 0, "Mill": 4, "Höhe": 4, "Ho\u0308he": 4, "北山": 4, "ｱ": 1, "Ａ": 2, "🚴": 2, firstStrongIsolate + "גב" + popIsolate: 2} {
		if got := columns(text); got != want {
			t.Errorf("%q takes %d columns, want %d", text, got, want)
		}
	}
	for most, want := range map[int]string{9: "climb 12", 8: "climb 12", 7: "climb…", 1: "…"} {
		cut := narrowed(say("climb {}", number("n", 12, "12")), most)
		if cut.text != want || strings.Contains(want, "12") != (len(cut.facts) == 1) {
			t.Errorf("cut to %d: %q with %d facts", most, cut.text, len(cut.facts))
		}
	}
	if got := narrowed(words("北山北山"), 4).text; got != "北…" {
		t.Errorf("wide characters cut to 4 columns: %q", got)
	}
}
