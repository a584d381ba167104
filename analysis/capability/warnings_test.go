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
		{"all long", CodeAllLong, "16.7 min", -1, unweighted([2]float64{1000, 300}, [2]float64{1800, 285}, [2]float64{2700, 281})},
		{"all short", CodeAllShort, "9.5 min", -1, unweighted([2]float64{150, 380}, [2]float64{300, 330}, [2]float64{570, 302})},
		{"close", CodeCloseDurations, "1.50 times", -1, unweighted([2]float64{480, 310}, [2]float64{600, 300}, [2]float64{720, 292})},
		{"an hour and a half", CodeLongEffort, "Effort 2 (90 min, 240 W)", 1, unweighted([2]float64{180, 350}, [2]float64{5400, 240}, [2]float64{720, 280})},
		{"a lazy one", CodePowerDoesNotFall, "Effort 1 (6 min, 260 W) wasn't maximal: as much or more was held for longer in effort 3 (12 min, 280 W)", 0, unweighted([2]float64{360, 260}, [2]float64{180, 350}, [2]float64{720, 280}, [2]float64{1200, 270})},
		{"two lazy ones", CodePowerDoesNotFall, "The same holds for 1 more", 0, unweighted([2]float64{360, 260}, [2]float64{180, 350}, [2]float64{420, 270}, [2]float64{720, 280}, [2]float64{1200, 270})},
		{"a short one", CodeShortEffort, "1 of 3, the shortest of 90 s", -1, unweighted([2]float64{90, 430}, [2]float64{300, 320}, [2]float64{900, 280})},
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

// Good efforts of a rider with both parameters, as a league's rider brings them.
func TestNothingToWarnOf(t *testing.T) {
	c := mustDetermine(t, unweighted([2]float64{150, 391}, [2]float64{300, 319.2}, [2]float64{480, 291.2}, [2]float64{720, 278.1}, [2]float64{1200, 266.2}))
	if len(c.Warnings) > 0 {
		t.Errorf("%+v", c.Warnings)
	}
}

func TestChoice(t *testing.T) {
	sprints := unweighted([2]float64{6, 1060}, [2]float64{15, 870}, [2]float64{60, 545}, [2]float64{180, 372}, [2]float64{420, 318}, [2]float64{720, 297}, [2]float64{1200, 285})
	for _, tc := range []struct {
		name    string
		efforts []Effort
		best    Kind
		reason  string
	}{
		{"five trials", trialsOf2018(), TwoParameterTime, "0.6 % of critical power and 7.8 % of W′"},
		{"two efforts", unweighted([2]float64{180, 350}, [2]float64{720, 280}), TwoParameterTime, "too few efforts to tell errors"},
		{"sprints", sprints, ThreeParameterPower, "An effort of 6 s is too short for two parameters"},
	} {
		c := mustDetermine(t, tc.efforts)
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

// Efforts without an upper limit have fits of two parameters, and those of three are left
// out with the reason.
func TestNoMaxPower(t *testing.T) {
	c := mustDetermine(t, unweighted([2]float64{100, 450}, [2]float64{200, 350}, [2]float64{400, 300}, [2]float64{800, 275}))
	if len(c.Fits) != 3 || len(c.Absent) != 2 || c.Absent[0].Code != CodeNoMaxPower || c.Absent[1].Code != CodeNoMaxPower {
		t.Errorf("%+v", c)
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
