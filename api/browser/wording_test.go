package browser_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"parcours.example/analysis/wording"
	"parcours.example/internal/browsertest"
	"parcours.example/internal/seeded"
)

// twin is a function that the page and the service both have, of one number.
type twin struct {
	// script is the page's function, of the module w.
	script string
	words  func(v float64) string
	// low and high bound what it is given.
	low, high float64
	// unit is what the words are written in; halves are halves of it.
	unit float64
}

// twins hold all that wording.js exports, list apart.
func twins() []twin {
	all := []twin{
		{"w.rounded(v, 0)", func(v float64) string { return wording.Rounded(v, 0) }, -1e9, 1e9, 1},
		{"w.rounded(v, 1)", func(v float64) string { return wording.Rounded(v, 1) }, -1e9, 1e9, 1},
		{"w.rounded(v, 2)", func(v float64) string { return wording.Rounded(v, 2) }, -1e9, 1e9, 1},
		{"w.number(v, 0)", func(v float64) string { return wording.Number(v, 0) }, -1e9, 1e9, 1},
		{"w.number(v, 2)", func(v float64) string { return wording.Number(v, 2) }, -1e9, 1e9, 1},
		{"w.count(Math.trunc(v))", func(v float64) string { return wording.Count(int(v)) }, 0, 1e12, 1},
		{"w.clock(v)", wording.Clock, 0, 1e6, 1},
		{"w.seconds(v)", wording.Seconds, -1e5, 1e5, 1},
		{"w.watts(v)", wording.Watts, -1e4, 1e4, 1},
		{"w.kilojoules(v)", wording.Kilojoules, -1e8, 1e8, 1000},
		{"w.kilograms(v)", wording.Kilograms, -1e3, 1e3, 1},
		{"w.wattsPerKilogram(v)", wording.WattsPerKilogram, -100, 100, 1},
		{"w.percent(v)", wording.Percent, -10, 10, 0.01},
		{"w.chance(v)", wording.Chance, 0, 1, 0.01},
		{"w.gradient(v)", wording.Gradient, -100, 100, 1},
		{"w.certainty(v)", wording.Certainty, 0, 100, 1},
		{"w.kilocalories(v)", wording.Kilocalories, 0, 1e6, 10},
		{"w.grams(v)", wording.Grams, 0, 1e5, 5},
	}
	for _, u := range []wording.Units{{}, {Imperial: true}} {
		name, perHour, mass, drink := "w.unitsOf('metric').", 1000/3600.0, 1.0, 1.0
		if u.Imperial {
			name, perHour, mass, drink = "w.unitsOf('imperial').", wording.MetresPerMile/3600, 0.45359237, 0.0295735295625
		}
		all = append(all,
			twin{name + "length(v)", u.Length, 0, 1e7, u.LongM()},
			twin{name + "length(v)", u.Length, 0, 1e4, u.ShortM()},
			twin{name + "bare(v)", u.Bare, 0, 1e7, u.LongM()},
			twin{name + "covered(v)", u.Covered, 0, 1e7, u.LongM() / 10},
			twin{name + "toGo(123456.7, v)", func(v float64) string { return u.ToGo(123_456.7, v) }, 0, 1e7, u.LongM() / 10},
			twin{name + "height(v)", u.Height, -1e4, 1e5, u.ShortM()},
			twin{name + "fine(v)", u.Fine, -100, 1e4, u.ShortM()},
			twin{name + "speed(v)", u.Speed, 0, 200, perHour},
			twin{name + "mass(v)", u.Mass, 0, 1e3, mass},
			twin{name + "radius(v)", u.Radius, 0, 1e4, u.ShortM()},
			twin{name + "drink(v)", u.Drink, 0, 100, drink},
		)
	}
	return all
}

// TestWordingOfThePage holds the page's words for numbers against the service's: the same
// number must be the same text in the page, in a brief and in a picture.
func TestWordingOfThePage(t *testing.T) {
	b := openWording(t)
	seed := seeded.First(t)
	for i, twin := range twins() {
		drawn := numbers(rand.New(rand.NewPCG(seed, uint64(i))), twin)
		said := eval[[]string](b, "import('/page/wording.js').then(w => "+list(drawn)+".map(v => "+twin.script+"))")
		wrong := 0
		for j, v := range drawn {
			if want := twin.words(v); said[j] != want && wrong < 5 {
				wrong++
				t.Errorf("%s of %v is %q in the page, %q in the service", twin.script, v, said[j], want)
			}
		}
	}
}

func TestUnitsOfThePage(t *testing.T) {
	b := openWording(t)
	type units struct {
		Long, Short   string
		LongM, ShortM float64
	}
	for name, u := range map[string]wording.Units{"metric": {}, "imperial": {Imperial: true}} {
		got := eval[units](b, "import('/page/wording.js').then(({unitsOf}) => { const u = unitsOf('"+name+"'); return {Long: u.long, Short: u.short, LongM: u.longM, ShortM: u.shortM}; })")
		if want := (units{u.Long(), u.Short(), u.LongM(), u.ShortM()}); got != want {
			t.Errorf("%s: %+v in the page, %+v in the service", name, got, want)
		}
	}
}

func TestListsOfThePage(t *testing.T) {
	b := openWording(t)
	for n := range 5 {
		things := []string{"a", "b", "c and d", ""}[:n:n]
		literals := make([]string, n)
		for i, thing := range things {
			literals[i] = browsertest.Quote(thing)
		}
		got := eval[string](b, "import('/page/wording.js').then(w => w.list("+strings.Join(literals, ",")+"))")
		if want := wording.List(things...); got != want {
			t.Errorf("%q in the page, %q in the service", got, want)
		}
	}
}

// TestWordingIsHeldWhole demands that each function of the page's module is held against
// the service's by a test above.
func TestWordingIsHeldWhole(t *testing.T) {
	b := openWording(t)
	functions := eval[[]string](b, `import('/page/wording.js').then(w => {
		const names = (o, at) => Object.keys(o).filter(n => typeof o[n] === "function").map(n => at + n);
		return [...names(w, "w."), ...names(w.unitsOf("metric"), "w.unitsOf('metric').")];
	})`)
	for _, f := range functions {
		held := slices.ContainsFunc(twins(), func(t twin) bool { return strings.HasPrefix(t.script, f+"(") })
		if !held && f != "w.list" && f != "w.unitsOf" {
			t.Errorf("nothing holds %s against the service's words", f)
		}
	}
}

// openWording opens a tab from which the page's modules can be imported.
func openWording(t *testing.T) *tab {
	t.Helper()
	b := newTab(t)
	b.Open("/")
	return b
}

// edges are where words change: from one unit or count of decimals to the next.
var edges = []float64{
	0.005, 0.995, 9.5, 9.5 * 0.3048, 9.95, 59.5, 60, 300, 995, 0.995 * wording.MetresPerMile, 3599.5, 3600, 9999.5, 10_000, 999_999.5,
}

// numbers draws what a function is given: numbers of all sizes, halves of all decimals that are
// written, and those beside them; the bounds, zeros and
// edges are among them.
func numbers(r *rand.Rand, t twin) []float64 {
	const drawn = 2500
	low, high := t.low, t.high
	out := []float64{low, high, math.Copysign(0, low), 0}
	for _, edge := range edges {
		for range 20 {
			out = append(out, edge+(r.Float64()-0.5)*3e-6)
		}
		out = append(out, edge, math.Nextafter(edge, 0), math.Nextafter(edge, math.MaxFloat64))
	}
	out = slices.DeleteFunc(out, func(v float64) bool { return v < low || v > high })
	for len(out) < drawn {
		v := math.Exp(math.Log(1e-7) + r.Float64()*math.Log(max(high, -low)*1e7))
		if low < 0 && r.IntN(2) == 0 {
			v = -v
		}
		switch unit := t.unit * math.Pow10(r.IntN(6)-3); r.IntN(4) {
		case 0:
			v = (math.Round(v/unit) + 0.5) * unit
		case 1:
			v = math.Nextafter((math.Round(v/unit)+0.5)*unit, math.Copysign(math.MaxFloat64, r.Float64()-0.5))
		case 2:
			v = (math.Round(v/unit)+0.5)*unit + (r.Float64()-0.5)*1e-6
		}
		if low <= v && v <= high {
			out = append(out, v)
		}
	}
	return out
}

// list writes numbers as a JavaScript literal that has their very bits.
func list(numbers []float64) string {
	texts := make([]string, len(numbers))
	for i, v := range numbers {
		texts[i] = strconv.FormatFloat(v, 'g', -1, 64)
	}
	return "[" + strings.Join(texts, ",") + "]"
}
