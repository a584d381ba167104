package capability

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// find returns the first warning of a code, nil if there is none.
func find(c *Capability, code string) *Warning {
	for i := range c.Warnings {
		if c.Warnings[i].Code == code {
			return &c.Warnings[i]
		}
	}
	return nil
}

func TestWarnings(t *testing.T) {
	for _, tc := range []struct {
		name, code, number string
		effort             int
		efforts            []Effort
	}{
		{"two efforts", CodeNoErrors, "2 different efforts", -1, unweighted([2]float64{180, 350}, [2]float64{720, 280})},
		{"the same twice", CodeNoErrors, "2 different efforts", -1, unweighted([2]float64{180, 350}, [2]float64{720, 280}, [2]float64{720, 280})},
		{"alike", CodeNoErrors, "so alike", -1, unweighted([2]float64{600, 300}, [2]float64{600.0000001, 299.99999999}, [2]float64{600.0000002, 299.99999998})},
		{"all long", CodeAllLong, "16.7 min", -1, unweighted([2]float64{1000, 300}, [2]float64{1800, 285}, [2]float64{2700, 281})},
		{"all short", CodeAllShort, "9.5 min", -1, unweighted([2]float64{150, 380}, [2]float64{300, 330}, [2]float64{570, 302})},
		{"close", CodeCloseDurations, "only 1.50 times the shortest: an error of 1 % in their powers moves critical power by about 11 W and W′ by 6123 J", -1, unweighted([2]float64{480, 310}, [2]float64{600, 300}, [2]float64{720, 292})},
		{"an hour and a half", CodeLongEffort, "Effort 2 (90 min, 240 W)", 1, unweighted([2]float64{180, 350}, [2]float64{5400, 240}, [2]float64{720, 280})},
		{"a lazy one", CodePowerDoesNotFall, "Effort 1 (6 min, 260 W) wasn't maximal: as much or more was held for longer in effort 3 (12 min, 280 W)", 0, unweighted([2]float64{360, 260}, [2]float64{180, 350}, [2]float64{720, 280}, [2]float64{1200, 270})},
		{"two lazy ones", CodePowerDoesNotFall, "The same holds for 1 more", 0, unweighted([2]float64{360, 260}, [2]float64{180, 350}, [2]float64{420, 270}, [2]float64{720, 280}, [2]float64{1200, 270})},
		{"a short one", CodeShortEffort, "1 of 3 efforts, down to 90 s", -1, unweighted([2]float64{90, 430}, [2]float64{300, 320}, [2]float64{900, 280})},
		{"an outlier", CodeOutlier, "Effort 3", 2, unweighted([2]float64{150, 360}, [2]float64{300, 310}, [2]float64{480, 265}, [2]float64{720, 281}, [2]float64{900, 277}, [2]float64{1200, 272})},
		{"far apart", CodeFitsDisagree, "W′ from 17.8 kJ", -1, trialsOf2018()},
		{"a limit that is hardly seen", CodeMaxPowerUncertain, "835 W of 1004 W", -1, trialsOf2018()},
		{"kilojoules for joules", CodeUnlikely, "W′ of 820 J", -1, unweighted([2]float64{180, 254.5}, [2]float64{300, 252.7}, [2]float64{720, 251.1})},
		{"a long one below", CodeCriticalPowerHigh, "Effort 5", 4, unweighted([2]float64{120, 400}, [2]float64{180, 372}, [2]float64{300, 330}, [2]float64{600, 298}, [2]float64{1800, 262})},
		{"a sprint above", CodeMaxPowerExceeded, "Effort 1", 0, unweighted([2]float64{1, 1500}, [2]float64{60, 530}, [2]float64{180, 360}, [2]float64{420, 310}, [2]float64{720, 292}, [2]float64{1200, 280})},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := mustDetermine(t, tc.efforts)
			w := find(c, tc.code)
			if w == nil || !strings.Contains(w.Detail, tc.number) || w.Effort != tc.effort {
				t.Errorf("%+v", c.Warnings)
			}
		})
	}
}

// What doesn't count is not warned of: two parameters beside a sprint fit nothing.
func TestSprintsAlone(t *testing.T) {
	c := mustDetermine(t, sprints())
	if w := find(c, CodeCriticalPowerHigh); w != nil {
		t.Errorf("%+v", w)
	}
	if w := find(c, CodeFitsDisagree); w != nil {
		t.Errorf("%+v", w)
	}
}

// Good efforts of a rider with both parameters, as a league's rider brings them.
func TestNothingToWarnOf(t *testing.T) {
	c := mustDetermine(t, unweighted([2]float64{150, 391}, [2]float64{300, 319.2}, [2]float64{480, 291.2}, [2]float64{720, 278.1}, [2]float64{1200, 266.2}))
	if len(c.Warnings) > 0 {
		t.Errorf("%+v", c.Warnings)
	}
}

func sprints() []Effort {
	return unweighted([2]float64{6, 1060}, [2]float64{15, 870}, [2]float64{60, 545}, [2]float64{180, 372}, [2]float64{420, 318}, [2]float64{720, 297}, [2]float64{1200, 285})
}

func TestChoice(t *testing.T) {
	for _, tc := range []struct {
		name    string
		efforts []Effort
		best    Kind
		reason  string
	}{
		{"five trials", trialsOf2018(), TwoParameterTime, "0.6 % of critical power and 7.8 % of W′"},
		{"two efforts", unweighted([2]float64{180, 350}, [2]float64{720, 280}), TwoParameterTime, "too few efforts to tell errors"},
		{"sprints", sprints(), ThreeParameterPower, "An effort of 6 s is too short for two parameters"},
	} {
		c := mustDetermine(t, tc.efforts)
		for i, f := range c.Fits {
			if counts := f.Kind.Parameters() == 3 && f.limited(newTrials(tc.efforts)) || f.Kind.Parameters() == 2 && tc.name != "sprints"; f.Counts != counts {
				t.Errorf("%s: %s counts: %v", tc.name, f.Kind, f.Counts)
			}
			if !f.Counts && i == c.Best {
				t.Errorf("%s: the best doesn't count", tc.name)
			}
		}
		if best := c.Fits[c.Best].Kind; best != tc.best || !strings.Contains(c.Reason, tc.reason) {
			t.Errorf("%s: %s: %s", tc.name, best, c.Reason)
		}
	}
}

func TestNoFit(t *testing.T) {
	for name, tc := range map[string]struct {
		efforts []Effort
		why     string
	}{
		"one duration": {unweighted([2]float64{300, 300}, [2]float64{300, 310}), "needs efforts of 2 different durations, not of 1"},
		"one power":    {unweighted([2]float64{300, 300}, [2]float64{600, 300}), "Effort 1 (5 min, 300 W) wasn't maximal"},
		"rising":       {unweighted([2]float64{300, 300}, [2]float64{600, 310}, [2]float64{900, 330}), "in effort 3 (15 min, 330 W). The same holds for 1 more"},
		"all the work": {unweighted([2]float64{60, 1000}, [2]float64{600, 100}), "critical power at zero or below"},
	} {
		c, err := Determine(tc.efforts)
		if err == nil {
			t.Fatalf("%s: %+v", name, c)
		}
		e := err.(*Error)
		if !strings.Contains(e.Detail, tc.why) {
			t.Errorf("%s: %s", name, e.Detail)
		}
		if e.Code != CodeUndetermined || len(e.Absent) != len(Kinds()) || e.Effort != -1 {
			t.Errorf("%s: %+v", name, e)
		}
		for _, a := range e.Absent {
			if a.Detail == "" || !slices.Contains([]string{CodeTooFew, CodeNoCriticalPower, CodeNoMaxPower}, a.Code) {
				t.Errorf("%s: %+v", name, a)
			}
		}
	}
}

// Efforts without an upper limit, or with a very high one, have fits of two parameters,
// and those of three are left out with the reason.
func TestNoMaxPower(t *testing.T) {
	for name, offsetS := range map[string]float64{"without": 0, "against": -20, "high": 20_000.0 / 5750} {
		var efforts []Effort
		for _, s := range []float64{100, 200, 400, 800} {
			efforts = append(efforts, Effort{DurationS: s, PowerW: 250 + 20_000/(s+offsetS), Weight: 1})
		}
		c := mustDetermine(t, efforts)
		if len(c.Fits) != 3 || len(c.Absent) != 2 || c.Absent[0].Code != CodeNoMaxPower || c.Absent[1].Code != CodeNoMaxPower {
			t.Errorf("%s: %+v", name, c)
		}
	}
}

func TestOutOfRange(t *testing.T) {
	for name, tc := range map[string]struct{ cp, w float64 }{
		"little W′": {250, 400}, "much W′": {250, 110_000}, "little power": {8, 20_000}, "much power": {1100, 20_000},
	} {
		var efforts []Effort
		for _, s := range []float64{100, 200, 400, 800} {
			efforts = append(efforts, Effort{DurationS: s, PowerW: tc.cp + tc.w/s, Weight: 1})
		}
		_, err := Determine(efforts)
		if e, ok := err.(*Error); !ok || e.Absent[0].Code != CodeOutOfRange {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestApart(t *testing.T) {
	for _, tc := range []struct {
		value, best, errors, share float64
		want                       bool
	}{
		{260, 250, 9, 0.01, true}, {240, 250, 9, 0.01, true}, {260, 250, 11, 0.01, false}, {260, 250, 0, 0.05, false}, {260, 250, math.NaN(), 0.01, false},
	} {
		if got := apart(tc.value, tc.best, tc.errors, tc.share); got != tc.want {
			t.Errorf("%+v: %v", tc, got)
		}
	}
}

// Critical power alone may differ, or W′ alone.
func TestDisagreement(t *testing.T) {
	at := func(cp, w float64) Fit {
		return Fit{CriticalPowerW: cp, WPrimeJ: w, CriticalPowerErrorW: 2, WPrimeErrorJ: 1000, Counts: true}
	}
	for name, tc := range map[string]struct {
		other Fit
		want  bool
	}{
		"power": {at(256, 20_000), true}, "W′": {at(250, 17_000), true}, "neither": {at(253, 21_500), false},
		"what doesn't count": {Fit{CriticalPowerW: 300, WPrimeJ: 5000, CriticalPowerErrorW: 2, WPrimeErrorJ: 1000}, false},
	} {
		c := Capability{Fits: []Fit{at(250, 20_000), tc.other}}
		if got := len(c.warnOfDisagreement()) > 0; got != tc.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

func TestInvalidEfforts(t *testing.T) {
	good := unweighted([2]float64{180, 350}, [2]float64{720, 280})
	for name, bad := range map[string]Effort{
		"no duration": {PowerW: 300, Weight: 1}, "no power": {DurationS: 300, Weight: 1}, "no weight": {DurationS: 300, PowerW: 300},
		"not a number": {DurationS: math.NaN(), PowerW: 300, Weight: 1}, "infinite": {DurationS: 300, PowerW: math.Inf(1), Weight: 1},
		"two days": {DurationS: 172_800, PowerW: 100, Weight: 1},
	} {
		_, err := Determine(append(slices.Clone(good), bad))
		if e, ok := err.(*Error); !ok || e.Code != CodeInvalid || e.Effort != 2 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Determine(good[:1]); err == nil {
		t.Error("one effort")
	}
}
