package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/ride"
	"parcours.example/analysis/wording"
)

// told is a held plan whose reasons are checked from its ride alone.
type told struct {
	road   *ride.Road
	rider  ride.Rider
	limits Limits
	plan   *Plan
	held   *Held
}

// tellable are rides on which each reason is the one for some step.
func tellable(t *testing.T) map[string]told {
	t.Helper()
	windy, coasting := conditions(), conditions()
	windy.HeadwindMps = 3
	coasting.CoastAboveMps = 11
	limited, reserved := Unlimited(), Unlimited()
	limited.MaxPowerW, limited.MinPowerW = 330, 120
	reserved.EndReserveJ = 4_000
	strong := capable(260, 20_000)
	strong.MaxPowerW = 1000
	hill := func(s float64) float64 { return 0.07*min(s, 2500) - 0.05*max(0, min(s-3000, 2500)) }
	rolling := func(s float64) float64 { return 40 * math.Sin(s/500) }
	rises := func(s float64) float64 { return 0.02*min(max(s-3000, 0), 1500) + 0.03*min(max(s-7000, 0), 1500) }
	dip := func(s float64) float64 {
		return -0.02*min(s, 8000) + 0.07*min(max(s-8000, 0), 1500) + 0.02*min(max(s-9500, 0), 400) + 0.1*max(s-9900, 0)
	}
	return map[string]told{
		"a hill":      hold(t, even(9_000, 20, hill), windy, capable(260, 20_000), Unlimited()),
		"rolling":     hold(t, even(12_000, 20, rolling), conditions(), strong, Unlimited()),
		"coasting":    hold(t, even(9_000, 20, hill), coasting, capable(260, 20_000), reserved),
		"limited":     hold(t, even(9_000, 20, rolling), conditions(), capable(260, 20_000), limited),
		"flat":        hold(t, even(20_000, 20, func(float64) float64 { return 0 }), conditions(), capable(260, 20_000), Unlimited()),
		"two rises":   hold(t, even(10_000, 20, rises), conditions(), strong, Unlimited()),
		"a dip":       hold(t, even(10_700, 20, dip), windy, capable(260, 12_000), Unlimited()),
		"last a wall": hold(t, even(10_000, 20, func(s float64) float64 { return 0.09 * max(0, s-9_000) }), windy, capable(260, 20_000), Unlimited()),
	}
}

var (
	change  = regexp.MustCompile(`(spends?|recovers?) (?:what is left, )?([0-9.]+) kJ`)
	pace    = regexp.MustCompile(`at ([0-9]+) km/h`)
	slope   = regexp.MustCompile(`^([0-9.]+) %( down)?`)
	earns   = regexp.MustCompile(`([0-9.]+) s a kJ at even power, ([0-9.]+) s on the whole`)
	ahead   = regexp.MustCompile(`for the ([0-9.]+) kJ to spend at ([0-9]+) W`)
	back    = regexp.MustCompile(`of which ([0-9.]+) kJ are back ([0-9.]+ k?m) later`)
	mean    = regexp.MustCompile(`mean power of the ride, ([0-9]+) W`)
	freely  = regexp.MustCompile(`too fast to pedal for ([0-9.]+ k?m)`)
	arrives = regexp.MustCompile(`^from standstill up to ([0-9]+) km/h`)
)

// kinds tells a reason by its words.
var kinds = map[string]*regexp.Regexp{
	"bound":     regexp.MustCompile("power allowed"),
	"start":     arrives,
	"finish":    regexp.MustCompile("^last .*: spend "),
	"freewheel": freely,
	"slow":      regexp.MustCompile("more saves [0-9.]+ s here"),
	"fast":      regexp.MustCompile("more saves only |down [^:]*: recover [0-9.]+ kJ$"),
	"keep":      regexp.MustCompile("critical power keeps W′ for the"),
	"save":      regexp.MustCompile(": (recover [0-9.]+ kJ )?for the"),
	"back":      back,
	"even":      regexp.MustCompile(": about the mean power"),
	"apart":     regexp.MustCompile("W (above|below) the mean power"),
}

func TestReasonsAreTrue(t *testing.T) {
	seen := map[string]int{}
	for name, c := range tellable(t) {
		for i, s := range c.held.Steps {
			n := 0
			for kind, words := range kinds {
				if words.MatchString(s.Reason) {
					seen[kind]++
					n++
				}
			}
			if n != 1 {
				t.Errorf("%s: %q is of %d kinds", name, s.Reason, n)
			}
			for _, wrong := range c.untrue(t, i) {
				t.Errorf("%s: step %d, %v–%v m at %v W, %q: %s", name, i+1, s.StartM, s.EndM, s.PowerW, s.Reason, wrong)
			}
		}
	}
	if len(seen) < 7 {
		t.Errorf("the steps have reasons of few kinds: %v", seen)
	}
}

// untrue lists what of a step's reason isn't so.
func (c told) untrue(t *testing.T, i int) []string {
	t.Helper()
	s, tr := c.held.Steps[i], &c.held.Ride.Trace
	from, to := stateAt(tr, s.StartM), stateAt(tr, s.EndM)
	spent := from.balanceJ - to.balanceJ
	var wrong []string
	hold := func(ok bool, format string, args ...any) {
		if !ok {
			wrong = append(wrong, fmt.Sprintf(format, args...))
		}
	}
	if m := change.FindStringSubmatch(s.Reason); m != nil {
		amount := spent
		if strings.HasPrefix(m[1], "recover") {
			amount = -spent
		}
		hold(near(m[2], amount/1000, 0.05), "the balance changes by %v J", spent)
	}
	speedKmh := (s.EndM - s.StartM) / (to.timeS - from.timeS) * 3.6
	if m := pace.FindStringSubmatch(s.Reason); m != nil {
		hold(near(m[1], speedKmh, 0.5), "%v km/h", speedKmh)
	}
	if m := slope.FindStringSubmatch(s.Reason); m != nil {
		rise := 0.0
		for _, p := range c.road.Pieces {
			rise += p.Gradient * max(0, min(p.EndM, s.EndM)-max(p.StartM, s.StartM))
		}
		pct := 100 * rise / (s.EndM - s.StartM)
		hold(near(m[1], math.Abs(pct), 0.05) && (m[2] != "") == (pct < 0), "the slope is %v %%", pct)
	}
	hold(strings.Contains(s.Reason, "into the wind") == (!strings.HasPrefix(s.Reason, "from ") && !strings.HasPrefix(s.Reason, "last ") && c.road.Conditions.HeadwindMps >= 1), "the headwind is %v m/s", c.road.Conditions.HeadwindMps)
	if m := earns.FindStringSubmatch(s.Reason); m != nil {
		here, all := c.worth(t, s.StartM, s.EndM), c.worth(t, 0, c.road.LengthM())
		hold(near(m[1], 1000*here, 0.15) && near(m[2], 1000*all, 0.15), "by finite differences %v and %v", 1000*here, 1000*all)
		hold((here > all) == strings.Contains(s.Reason, "more where"), "worth %v here, %v on the whole", here, all)
		hold((s.PowerW > c.held.Ride.MeanPowerW) == strings.Contains(s.Reason, "more where"), "the mean power is %v W", c.held.Ride.MeanPowerW)
	}
	if m := ahead.FindStringSubmatch(s.Reason); m != nil {
		hold(c.spendsLater(i, m[1], m[2]), "no such step comes")
		keeps := strings.Contains(s.Reason, "keeps W′")
		hold(s.PowerW <= c.rider.CriticalPowerW || (keeps && s.PowerW <= c.rider.CriticalPowerW+3), "more than critical power")
		hold(!keeps || math.Abs(spent) < 0.02*c.rider.WPrimeJ, "it spends %v J", spent)
	}
	if m := back.FindStringSubmatch(s.Reason); m != nil {
		hold(c.highest(s.EndM)-to.balanceJ >= 1000*number64(m[1])-50, "the balance rises to %v J", c.highest(s.EndM))
	}
	if m := mean.FindStringSubmatch(s.Reason); m != nil {
		hold(near(m[1], c.held.Ride.MeanPowerW, 0.5), "it is %v W", c.held.Ride.MeanPowerW)
		if strings.Contains(s.Reason, "about") {
			hold(math.Abs(s.PowerW/c.held.Ride.MeanPowerW-1) <= 0.03, "not so near")
		}
	}
	if m := arrives.FindStringSubmatch(s.Reason); m != nil {
		hold(s.StartM == 0 && tr.SpeedMps[0] == 0, "it doesn't stand")
	}
	if freely.MatchString(s.Reason) {
		coasted := 0.0
		for k := range tr.TimeS[1:] {
			if tr.PowerW[k] < 1 {
				coasted += max(0, min(tr.DistanceM[k+1], s.EndM)-max(tr.DistanceM[k], s.StartM))
			}
		}
		hold(coasted >= 0.3*(s.EndM-s.StartM) && strings.Contains(s.Reason, wording.Metres(coasted)), "%v m are coasted", coasted)
	}
	if strings.HasPrefix(s.Reason, "last ") {
		hold(i == len(c.held.Steps)-1, "it isn't the last")
		left := to.balanceJ - orZero(c.limits.EndReserveJ)
		hold(strings.Contains(s.Reason, "stay") == (left > 0.02*c.rider.WPrimeJ), "%v J are left", left)
		hold(strings.Contains(s.Reason, "down to the reserve") == (c.limits.EndReserveJ > 0), "the reserve is %v J", c.limits.EndReserveJ)
	}
	if strings.Contains(s.Reason, "power allowed") {
		hold(s.PowerW == c.limits.MaxPowerW || s.PowerW == c.limits.MinPowerW, "it is not at a bound")
	}
	return wrong
}

// worth is the time saved by a joule more on a stretch, at constant power, in s.
func (c told) worth(t *testing.T, fromM, toM float64) float64 {
	t.Helper()
	const more = 2.0
	power := c.plan.ConstantPowerW
	ridden := func(extra float64) *ride.Ride {
		steps := []ride.Step{{EndM: toM, PowerW: power + extra}, {EndM: math.Inf(1), PowerW: power}}
		if fromM > 0 {
			steps = append([]ride.Step{{EndM: fromM, PowerW: power}}, steps...)
		}
		r, err := ride.Simulate(t.Context(), c.road, c.rider, setup(), ride.Effort{Kind: ride.BySteps, Steps: steps}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	less, plain, harder := ridden(-more), ridden(0), ridden(more)
	return (less.TimeS - harder.TimeS) / (2 * more * (stateAt(&plain.Trace, toM).timeS - stateAt(&plain.Trace, fromM).timeS))
}

// spendsLater reports whether a step after the i-th spends so many kJ at so many W.
func (c told) spendsLater(i int, kJ, watts string) bool {
	for _, s := range c.held.Steps[i+1:] {
		spent := stateAt(&c.held.Ride.Trace, s.StartM).balanceJ - stateAt(&c.held.Ride.Trace, s.EndM).balanceJ
		if near(kJ, spent/1000, 0.05) && near(watts, s.PowerW, 0.5) {
			return true
		}
	}
	return false
}

// highest is the highest balance from a place on.
func (c told) highest(fromM float64) float64 {
	most := 0.0
	for i, w := range c.held.Ride.Trace.WBalanceJ {
		if c.held.Ride.Trace.DistanceM[i] >= fromM {
			most = max(most, w)
		}
	}
	return most
}

func number64(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

// near reports whether a number in words is within a distance of a value.
func near(words string, value, within float64) bool {
	return math.Abs(number64(words)-value) <= within*(1+1e-6)
}

// hold plans a ride and holds it.
func hold(t *testing.T, c *course.Course, cond ride.Conditions, r ride.Rider, limits Limits) told {
	t.Helper()
	road := mustRoad(t, c, cond)
	p, err := Optimise(t.Context(), road, r, setup(), limits, nil)
	if err != nil {
		t.Fatal(err)
	}
	h, err := Hold(t.Context(), road, r, setup(), limits, p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return told{road, r, limits, p, h}
}

func TestEachReasonHasItsFigures(t *testing.T) {
	const mean, worth = 250, 0.002
	// usual is a step at the mean power on which work is worth what it is on the whole.
	usual := figures{fromM: 0, toM: 1000, powerW: mean, givenW: mean, timeS: 100, speedMps: 10, arrivalMps: 10, fromJ: 12_000, toJ: 12_000, worth: worth}
	with := func(change func(f *figures)) figures {
		f := usual
		change(&f)
		return f
	}
	spender := with(func(f *figures) { f.fromM, f.toM, f.powerW, f.toJ = 3000, 4000, 330, 9_000 })
	for name, c := range map[string]struct {
		step   figures
		want   reason
		words  string
		others []figures
	}{
		"bound":       {with(func(f *figures) { f.powerW = 400 }), atBound, "level at 36 km/h: the highest power allowed", []figures{spender}},
		"start":       {with(func(f *figures) { f.powerW, f.toJ = 380, 10_500 }), toStart, "from standstill up to 36 km/h; spends 1.5 kJ", []figures{usual}},
		"finish":      {with(func(f *figures) { f.powerW, f.toJ = 330, 100 }), toFinish, "last 1.0 km: spend what is left, 11.9 kJ", nil},
		"freewheel":   {with(func(f *figures) { f.coastM, f.toJ = 600, 15_000 }), toFreewheel, "level at 36 km/h: too fast to pedal for 600 m; recovers 3.0 kJ", []figures{spender}},
		"keep":        {with(func(f *figures) { f.powerW = 260 }), toKeep, "level at 36 km/h: critical power keeps W′ for the 3.0 kJ to spend at 330 W, 2.0 km on", []figures{spender}},
		"slow":        {with(func(f *figures) { f.powerW, f.toJ, f.worth, f.gradient, f.headwindMps = 300, 9_000, 0.003, 0.078, 3 }), whereSlow, "7.8 % into the wind at 36 km/h: a kilojoule more saves 3.0 s here, 2.0 s on the whole course; spends 3.0 kJ", []figures{usual}},
		"fast down":   {with(func(f *figures) { f.powerW, f.toJ, f.worth, f.gradient = 90, 14_100, 0.001, -0.05 }), whereFast, "5.0 % down at 36 km/h: recover 2.1 kJ", []figures{spender}},
		"fast":        {with(func(f *figures) { f.powerW, f.toJ, f.worth, f.headwindMps = 200, 13_000, 0.001, -4 }), whereFast, "level with the wind at 36 km/h: a kilojoule more saves only 1.0 s here, 2.0 s on the whole course; recovers 1.0 kJ", []figures{spender}},
		"save":        {with(func(f *figures) { f.powerW, f.toJ = 200, 13_000 }), toSave, "level at 36 km/h: recover 1.0 kJ for the 3.0 kJ to spend at 330 W, 2.0 km on", []figures{spender}},
		"comes back":  {with(func(f *figures) { f.powerW, f.toJ = 280, 11_000 }), comesBack, "level at 36 km/h: spend 1.0 kJ, of which 1.0 kJ are back 2.0 km later", []figures{spender}},
		"even":        {usual, evenly, "level at 36 km/h: about the mean power of the ride, 250 W", nil},
		"apart":       {with(func(f *figures) { f.powerW, f.toJ = 290, 9_000 }), apart, "level at 36 km/h: 40 W above the mean power of the ride, 250 W; spends 3.0 kJ", []figures{usual}},
		"even, alone": {usual, evenly, "level at 36 km/h: about the mean power of the ride, 250 W", []figures{usual}},
	} {
		limits := Unlimited()
		limits.MaxPowerW, limits.EndReserveJ = 400, 0
		e := &explained{
			task:  &task{road: &ride.Road{Pieces: []ride.Piece{{EndM: 10_000}}}, limits: limits, capacity: ride.Reserve{CriticalPowerW: 260, WPrimeJ: 20_000}},
			ride:  &ride.Ride{MeanPowerW: mean, Trace: ride.Trace{SpeedMps: []float64{0}}},
			steps: append([]figures{c.step}, c.others...), worth: worth,
		}
		if name == "apart" || name == "slow" {
			e.ride.Trace.SpeedMps[0] = 10
		}
		if got, words := e.reasonOf(0); got != c.want || words != c.words {
			t.Errorf("%s: reason %d, %q; want %d, %q", name, got, words, c.want, c.words)
		}
	}
}
