package brief

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"parcours.example/analysis/wording"
)

func TestFormat(t *testing.T) {
	metric, imperial := format{}, format{imperial: true}
	for _, c := range []struct {
		got  phrase
		want string
	}{
		{metric.length("", 61432), "61.4 km"},
		{metric.length("", 1250), "1.3 km"},
		{metric.length("", 1250-1e-9), "1.3 km"},
		{metric.length("", 999), "1.0 km"},
		{metric.length("", 994.9), "990 m"},
		{metric.length("", 404), "400 m"},
		{metric.length("", 9.4), "9 m"},
		{metric.length("", 9.6), "10 m"},
		{imperial.length("", 16093.44), "10.0 miles"},
		{imperial.length("", 804.672), "0.50 miles"},
		{imperial.length("", 1605), "1.0 miles"},
		{imperial.length("", 200), "660 ft"},
		{metric.height("", 811.6), "812 m"},
		{imperial.height("", 100), "328 ft"},
		{metric.window("", 25), "25 m"},
		{metric.elevation("", 120.4), "120 m"},
		{metric.elevation("", 0.2), "sea level"},
		{metric.elevation("", -4), "4 m below sea level"},
		{metric.radius("", 13), "15 m"},
		{metric.radius("", 0.4), "5 m"},
		{metric.gradient("", 6.449), "6.4 %"},
		{metric.gradient("", -0.04), "0.0 %"},
		{metric.slope("", -3.2), "3 %"},
		{metric.share("", 0.764), "76 %"},
		{metric.speed("", 10), "36.0 km/h"},
		{imperial.speed("", 10), "22.4 mph"},
		{metric.power("", 249.6), "250 W"},
		{imperial.mass("", 70), "154 lb"},
		{metric.clock("", 59.4), "0:59"},
		{metric.clock("", 59.6), "1:00"},
		{metric.clock("", 3599.5), "1:00:00"},
		{metric.clock("", 5530), "1:32:10"},
		{metric.count("", 3), "three"},
		{metric.count("", 25), "25"},
		{metric.times("", 1), "once"},
		{metric.times("", 2), "twice"},
		{metric.times("", 12), "12 times"},
	} {
		if c.got.text != c.want || c.got.markdown != c.want {
			t.Errorf("got %q, want %q", c.got.text, c.want)
		}
	}
}

// TestLengthsNeverSayNothing holds that a length of half a metre or more has a
// number above nought, off by no more than its last digit.
func TestLengthsNeverSayNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.Float64Range(0.5, 500e3).Draw(t, "m")
		for _, f := range []format{{}, {imperial: true}} {
			if got := f.units().Length(m); strings.HasPrefix(got, "0 ") || strings.HasPrefix(got, "0.00") {
				t.Errorf("%v m is %q", m, got)
			}
		}
	})
}

// TestRoundedAgreesOnHalves holds that the last bits of a half don't matter.
func TestRoundedAgreesOnHalves(t *testing.T) {
	for _, v := range []float64{0.05, 1.25, 2.675, 1234.5, 0.35} {
		up, down := math.Nextafter(v, math.Inf(1)), math.Nextafter(v, 0)
		for decimals := range 3 {
			if a, b := wording.Rounded(up, decimals), wording.Rounded(down, decimals); a != b {
				t.Errorf("%v to %d decimals: %s and %s", v, decimals, a, b)
			}
		}
	}
}

func TestSayKeepsFactsInOrder(t *testing.T) {
	f := format{}
	p := say("{} of {}, {}", f.count("n", 3), f.length("l", 12000), list(f.power("a", 1), f.power("b", 2), f.power("c", 3)))
	if p.text != "three of 12.0 km, 1 W, 2 W and 3 W" {
		t.Errorf("text %q", p.text)
	}
	names := ""
	for _, fact := range p.facts {
		names += fact.Name
	}
	if names != "nlabc" {
		t.Errorf("facts %q", names)
	}
	if c := capital(p); c.text[:5] != "Three" || c.facts[0].Text != "Three" || p.facts[0].Text != "three" {
		t.Errorf("capital: %q with %q", c.text, c.facts[0].Text)
	}
}
