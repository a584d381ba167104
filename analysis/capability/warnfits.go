package capability

import (
	"fmt"
	"math"
	"slices"
)

const (
	// An outlier's power is off by more than offShare of itself, and its residual is
	// more than offDeviations of the others' standard deviation (our choice).
	offShare, offDeviations = 0.03, 4.0
	// Fits disagree where they differ by more than both standard errors together, and by
	// more than these shares of the best fit's values (our choice).
	differentPower, differentWPrime = 0.01, 0.05
)

// The values that hardly any rider is outside of (common practice: critical power of
// 2 to 6.4 W/kg, W′ of 8 to 28 kJ, powers of a few seconds of 9 to 22 W/kg, all widened).
const (
	unlikelyLowPowerW, unlikelyHighPowerW       = 60.0, 550.0
	unlikelyLowWPrimeJ, unlikelyHighWPrimeJ     = 4_000.0, 45_000.0
	unlikelyLowMaxPowerW, unlikelyHighMaxPowerW = 200.0, 2_500.0
)

// warnOfBest lists what is to be warned of in the best fit alone.
func (f *Fit) warnOfBest(t *trials) []Warning {
	var out []Warning
	about := func(code, format string, args ...any) {
		w := general(code, format, args...)
		w.Kind = f.Kind
		out = append(out, w)
	}
	switch {
	case f.flat:
		about(CodeNoErrors, "The efforts are so alike that its parameters can make up for each other: no errors of the fit can be told.")
	case math.IsNaN(f.CriticalPowerErrorW):
		about(CodeNoErrors, "%d different efforts for %d parameters: no errors of the fit can be told. Add an effort of another duration.", t.distinctEfforts(), f.Kind.Parameters())
	}
	if i := f.outlier(t); i >= 0 {
		off := t.powerW[i]/f.PowerW(t.durationS[i]) - 1
		about(CodeOutlier, "%s is %s off the fit, %.1f standard deviations of what the others say. Check it, or leave it out.", t.name(i), percent(math.Abs(off)), math.Abs(f.studentised[i]))
		out[len(out)-1].Effort = t.given[i]
	}
	if n := t.shorterThan(shortS); n > 0 && f.Kind.Parameters() == 2 {
		about(CodeShortEffort, "Two parameters don't hold below 2 min; shorter: %d of %d efforts, down to %s. Leave such efforts out, or add one of 5 to 60 s for a model with a maximal power.", n, len(t.durationS), span(t.shortestS()))
	}
	for _, q := range []struct {
		name             string
		value, low, high float64
		write            func(float64) string
	}{
		{"critical power", f.CriticalPowerW, unlikelyLowPowerW, unlikelyHighPowerW, watts},
		{"W′", f.WPrimeJ, unlikelyLowWPrimeJ, unlikelyHighWPrimeJ, joules},
		{"maximal power", f.MaxPowerW, unlikelyLowMaxPowerW, unlikelyHighMaxPowerW, watts},
	} {
		if q.value < q.low || q.value > q.high {
			about(CodeUnlikely, "A %s of %s is outside what nearly all riders have, %s to %s: check durations, powers and their units.", q.name, q.write(q.value), q.write(q.low), q.write(q.high))
		}
	}
	return out
}

// outlier returns the trial that is furthest from what the others say, −1 if none is far.
func (f *Fit) outlier(t *trials) int {
	worst := -1
	for i, r := range f.studentised {
		off := math.Abs(t.powerW[i]/f.PowerW(t.durationS[i]) - 1)
		if off > offShare && math.Abs(r) > offDeviations && (worst < 0 || math.Abs(r) > math.Abs(f.studentised[worst])) {
			worst = i
		}
	}
	return worst
}

func (t *trials) shorterThan(s float64) int {
	n, _ := slices.BinarySearch(t.durationS, s)
	return n
}

// warn lists what is to be warned of in a fit, the best or not.
func (f *Fit) warn(t *trials) []Warning {
	var out []Warning
	about := func(effort int, code, format string, args ...any) {
		out = append(out, Warning{Code: code, Kind: f.Kind, Effort: effort, Detail: fmt.Sprintf(format, args...)})
	}
	highest := slices.Index(t.powerW, slices.Max(t.powerW))
	if f.MaxPowerW <= t.powerW[highest] {
		about(t.given[highest], CodeMaxPowerExceeded, "%s is above this fit's maximal power of %s.", t.name(highest), watts(f.MaxPowerW))
	}
	if f.flat && f.Kind.Parameters() == 3 {
		about(-1, CodeMaxPowerUncertain, "This fit's maximal power isn't determined: changes of it are made up for by critical power and W′. Add an effort of 5 to 60 s.")
	}
	if f.MaxPowerErrorW > uncertain*f.MaxPowerW {
		about(-1, CodeMaxPowerUncertain, "The standard error of this fit's maximal power is %s of %s. Add an effort of 5 to 60 s.", watts(f.MaxPowerErrorW), watts(f.MaxPowerW))
	}
	lowest := slices.Index(t.powerW, slices.Min(t.powerW))
	if f.Counts && f.CriticalPowerW >= t.powerW[lowest] {
		about(t.given[lowest], CodeCriticalPowerHigh, "%s is not above this fit's critical power of %s, which could be held without end.", t.name(lowest), watts(f.CriticalPowerW))
	}
	return out
}

// warnOfDisagreement compares the other fits that count with the best.
func (c *Capability) warnOfDisagreement() []Warning {
	best := &c.Fits[c.Best]
	lowP, highP, lowW, highW := best.CriticalPowerW, best.CriticalPowerW, best.WPrimeJ, best.WPrimeJ
	differ := false
	for i := range c.Fits {
		f := &c.Fits[i]
		if !f.Counts {
			continue
		}
		lowP, highP = min(lowP, f.CriticalPowerW), max(highP, f.CriticalPowerW)
		lowW, highW = min(lowW, f.WPrimeJ), max(highW, f.WPrimeJ)
		differ = differ || apart(f.CriticalPowerW, best.CriticalPowerW, f.CriticalPowerErrorW+best.CriticalPowerErrorW, differentPower) ||
			apart(f.WPrimeJ, best.WPrimeJ, f.WPrimeErrorJ+best.WPrimeErrorJ, differentWPrime)
	}
	if !differ {
		return nil
	}
	return []Warning{general(CodeFitsDisagree,
		"The fits that count differ by more than their standard errors: critical power from %s to %s, W′ from %s to %s. Take the difference as the uncertainty.",
		watts(lowP), watts(highP), joules(lowW), joules(highW))}
}

// apart reports whether a value differs from the best fit's by more than their errors
// together and by more than a share of it; never where the errors aren't known.
func apart(value, best, errors, share float64) bool {
	d := math.Abs(value - best)
	return d > errors && d > share*best
}
