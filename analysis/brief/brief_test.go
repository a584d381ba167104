package brief

import (
	"math"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"pgregory.net/rapid"
)

var limits = []int{MinChars, 150, 200, 280, 350, 500, 700, 1000, 1500, 2000, 4096, 10000, 0}

// TestLimits holds every limit, the caution at any limit, and that a larger limit
// keeps what a smaller one had.
func TestLimits(t *testing.T) {
	for name, in := range fixtures() {
		for _, units := range []Units{Metric, Imperial} {
			t.Run(name+" "+string(units), func(t *testing.T) {
				in.Units, in.MaxChars = units, 0
				full := Write(in)
				before := Brief{}
				for _, limit := range limits {
					in.MaxChars = limit
					b := *Write(in)
					holdsLimit(t, b, limit)
					partOfText(t, b, *full)
					partOfText(t, before, b)
					partOfText(t, Brief{Text: before.Markdown}, Brief{Text: b.Markdown})
					if b.Omitted > before.Omitted && before.Text != "" {
						t.Errorf("limit %d omits %d, a smaller one %d", limit, b.Omitted, before.Omitted)
					}
					before = b
				}
				if full.Omitted != 0 {
					t.Errorf("without a limit %d are omitted", full.Omitted)
				}
			})
		}
	}
}

// The short cautions.
const (
	shortOutdoors = "Closed roads or indoors only: law, rules and marshals first."
	shortIndoors  = "Indoors: the event's rules first; stop when you feel unwell."
)

func holdsLimit(t *testing.T, b Brief, limit int) {
	t.Helper()
	for _, s := range []string{b.Markdown, b.Text} {
		if n := utf8.RuneCountInString(s); limit > 0 && n > limit {
			t.Errorf("limit %d: %d code points", limit, n)
		}
		if !strings.Contains(s, b.Cautions[0]) || b.Cautions[0] != shortOutdoors && b.Cautions[0] != shortIndoors {
			t.Errorf("limit %d: no caution in %q", limit, s)
		}
		if len(b.Sections) == 0 || !strings.Contains(s, b.Sections[0].Lines[0]) {
			t.Errorf("limit %d: says nothing of the course: %q", limit, s)
		}
	}
}

// partOfText checks that each line of a brief reads in a longer one's line of the
// same start, sentence by sentence.
func partOfText(t *testing.T, short, long Brief) {
	t.Helper()
	for _, line := range strings.Split(short.Text, "\n") {
		for _, sentence := range sentences(line) {
			if !strings.Contains(long.Text, sentence) {
				t.Errorf("%q is cut or gone in\n%s", sentence, long.Text)
			}
		}
	}
}

// sentences splits at a full stop before a capital, and keeps the stops.
func sentences(line string) []string {
	return strings.Split(regexp.MustCompile(`\. ([A-Z])`).ReplaceAllString(line, ".\n$1"), "\n")
}

// TestWholeSentences holds that every line ends as a sentence does.
func TestWholeSentences(t *testing.T) {
	for name, in := range fixtures() {
		for _, limit := range limits {
			in.MaxChars = limit
			b := Write(in)
			for _, s := range b.Sections {
				for _, line := range s.Lines {
					if !strings.HasSuffix(line, ".") {
						t.Errorf("%s at %d: %q", name, limit, line)
					}
				}
			}
		}
	}
}

// TestEveryPassIsTold finds the passes of all climbs and marks among the facts, or what
// they follow from: how far into each lap they are and which is the last.
func TestEveryPassIsTold(t *testing.T) {
	for name, in := range fixtures() {
		w := writer{in: in}
		told := map[string]bool{}
		for _, f := range Write(in).Facts {
			told[f.Name] = true
		}
		passes := func(id string, passes []pass) {
			first, last, regular := w.onceALap(passes)
			byRule := func(i int) bool { return regular && first <= i && i < last-1 && told[id+".into_lap_m"] }
			for i, p := range passes {
				atEnds := p.at < atEndM || p.toGo < atEndM
				if !told[passFact(id, i)+".at_m"] && !atEnds && !byRule(i) && !w.onLapLine(passes) {
					t.Errorf("%s: %s isn't told", name, passFact(id, i))
				}
			}
		}
		for _, c := range in.Terrain.Climbs {
			if c.ParentID == "" && w.kind() != kindHillClimb {
				passes(c.ID, climbPasses(c.Passes))
			}
		}
		for _, m := range in.Terrain.Marks {
			if !w.toldElsewhere(m) {
				passes(m.ID, markPasses(m.Passes))
			}
		}
	}
}

// TestHallsHaveNoRoad holds that indoors nothing is said of bends, descents and wind, but
// where the file's faults are told.
func TestHallsHaveNoRoad(t *testing.T) {
	road := regexp.MustCompile(`(?i)\bbends?\b|\bdescent|\bwind\b|\bbrake|closed roads`)
	for name, in := range fixtures() {
		in.Indoor, in.Course.Quality = true, course.Quality{PointsRead: 1000}
		for i := range in.Rides {
			in.Rides[i].Band = nil // its doubts are the caller's
		}
		if text := Write(in).Text; road.MatchString(text) {
			t.Errorf("%s: %q in\n%s", name, road.FindString(text), text)
		}
	}
}

// odd is what no brief may say.
var odd = regexp.MustCompile(`NaN|Inf|%!|\{\}|[^0-9.]0(\.0)? (m|ft|km|miles|%)|-0|  |\.\.|, ,|\(\)|lap 1 of 1|\b(1|[Oo]ne) (laps|bends|climbs|passes)|,\.|;\.| \.`)

func readsWell(t interface{ Errorf(string, ...any) }, name string, b *Brief) {
	for _, s := range []string{b.Markdown, b.Text} {
		if at := odd.FindStringIndex(s); at != nil {
			t.Errorf("%s reads oddly at %q", name, s[max(at[0]-40, 0):min(at[1]+20, len(s))])
		}
	}
	for _, f := range b.Facts {
		if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) || f.Text == "" || f.Name == "" {
			t.Errorf("%s: fact %+v", name, f)
		}
	}
	for _, s := range b.Sections {
		if len(s.Lines) == 0 {
			t.Errorf("%s: %q is empty", name, s.Heading)
		}
	}
}

func TestReadsWell(t *testing.T) {
	for name, in := range fixtures() {
		for _, units := range []Units{Metric, Imperial} {
			in.Units = units
			readsWell(t, name, Write(in))
		}
	}
}

// TestAnyCourseReadsWell draws courses of every shape, with and without
// elevations, climbs and predictions.
func TestAnyCourseReadsWell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := anyInput(t)
		b := Write(in)
		readsWell(t, "drawn", b)
		if in.MaxChars > 0 && utf8.RuneCountInString(b.Markdown) > in.MaxChars {
			t.Errorf("%d code points in %d", utf8.RuneCountInString(b.Markdown), in.MaxChars)
		}
		if again := Write(in); again.Markdown != b.Markdown {
			t.Errorf("the same input reads differently")
		}
	})
}

func anyInput(t *rapid.T) Input {
	ramps := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) ramp {
		return ramp{float64(rapid.IntRange(1, 400).Draw(t, "length")) * 10, rapid.Float64Range(-12, 14).Draw(t, "gradient")}
	}), 1, 6)
	laps := rapid.IntRange(0, 30).Draw(t, "laps")
	var c *course.Course
	if laps > 0 {
		c = build("", course.Lapped, stretch{course.LeadIn, 1, ramps.Draw(t, "lead-in")}, stretch{course.Lap, laps, ramps.Draw(t, "lap")},
			stretch{course.RunOut, 1, ramps.Draw(t, "run-out")})
	} else {
		shape := rapid.SampledFrom([]course.Shape{course.OutAndBack, course.Lollipop, course.Circuit, course.PointToPoint}).Draw(t, "shape")
		c = build("", shape, stretch{course.Whole, 1, ramps.Draw(t, "course")})
	}
	if rapid.IntRange(0, 4).Draw(t, "without elevations") == 0 {
		c = bare(c)
	}
	return Input{
		Course: c, Terrain: anyTerrain(t, c), Rides: anyRides(t), Units: rapid.SampledFrom([]Units{Metric, Imperial}).Draw(t, "units"),
		MaxChars: rapid.SampledFrom(limits).Draw(t, "limit"), Indoor: rapid.Bool().Draw(t, "indoor"),
	}
}

func anyTerrain(t *rapid.T, c *course.Course) *terrain.Terrain {
	var climbs []terrain.Climb
	if c.HasElevation() && c.LengthM() >= 500 {
		for n := range rapid.IntRange(0, 3).Draw(t, "climbs") {
			start := rapid.Float64Range(0, 0.9).Draw(t, "foot") * c.LengthM()
			length := rapid.Float64Range(0.1, 1).Draw(t, "length") * (c.LengthM() - start)
			k := climb(c, n+1, "", []float64{start}, 0.3*length, 0.7*length, length)
			// A climb goes up, whatever was drawn.
			k.MeanGradientPct, k.GainM = 3+math.Abs(k.MeanGradientPct), 8+math.Abs(k.GainM)
			k.MaxGradientPct = max(k.MaxGradientPct, k.MeanGradientPct)
			climbs = append(climbs, k)
		}
	}
	d := dissected(c, climbs, nil)
	if s := d.Climbing.ShareBeforeLastClimb; math.IsInf(s, 0) {
		d.Climbing.ShareBeforeLastClimb = math.NaN()
	}
	for n := range rapid.IntRange(0, 3).Draw(t, "marks") {
		d.Marks = append(d.Marks, mark(c, n+1, "", "sprint", rapid.Float64Range(0, 1).Draw(t, "at")*c.LengthM()))
	}
	return d
}

func anyRides(t *rapid.T) []Ride {
	maybe := rapid.OneOf(rapid.Just(math.NaN()), rapid.Float64Range(1, 20000))
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Ride {
		r := Ride{
			MassKg: maybe.Draw(t, "mass"), TimeS: rapid.Float64Range(1, 40000).Draw(t, "time"), MeanSpeedMps: rapid.Float64Range(1, 20).Draw(t, "speed"),
			MeanPowerW: maybe.Draw(t, "power"), RunsDryAtM: maybe.Draw(t, "dry"), CannotClimb: rapid.Bool().Draw(t, "halt"), StopsAtM: maybe.Draw(t, "stop"),
			ClimbTimesS: [][]float64{{maybe.Draw(t, "climb")}},
		}
		if rapid.Bool().Draw(t, "food") && r.MeanPowerW < 2000 {
			r.Food = needs(r)
		}
		if rapid.Bool().Draw(t, "band") {
			low := rapid.Float64Range(1, 40000).Draw(t, "low")
			high := rapid.OneOf(rapid.Just(math.NaN()), rapid.Float64Range(low, 50000)).Draw(t, "high")
			r.Band = doubtful(low, high, rapid.SampledFrom([]string{"cda_m2", "crr", "power_pct", "wind_mps", "temperature_c", "drivetrain_efficiency"}).Draw(t, "source"))
		}
		if rapid.Bool().Draw(t, "paced") {
			r.Pace = &Pace{ConstantPowerW: rapid.Float64Range(1, 1000).Draw(t, "constant"), GainS: rapid.Float64Range(0, 4000).Draw(t, "gain")}
		}
		return r
	}), 0, 4).Draw(t, "rides")
}
