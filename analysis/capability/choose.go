package capability

import (
	"fmt"
	"math"
	"slices"
)

// Rule says how the best fit is chosen, in sentences.
const Rule = "The fit with the smallest sum of the relative standard errors of its parameters. " +
	"Two-parameter fits count only where no effort is shorter than 1 min, or no three-parameter fit counts; " +
	"three-parameter fits only where their maximal power is above every effort's and known to a fifth. " +
	"Of equals, as with two efforts, the first in the order two-parameter on time, on work, on power, three-parameter on time, on power."

const (
	// sprintS is the duration below which two parameters don't count, s: they would have
	// power grow without limit (common practice).
	sprintS = 60.0
	// uncertain is the share of maximal power that its standard error may come to.
	uncertain = 0.2
	// alike is the difference between sums of relative standard errors that doesn't
	// count: it is rounding's where the efforts follow a model exactly.
	alike = 1e-6
)

// choose returns the index of the best fit and the reason, and marks the fits that count.
func choose(t *trials, fits []Fit) (best int, reason string) {
	sprint := t.shortestS() < sprintS
	twoHold := !sprint || !slices.ContainsFunc(fits, func(f Fit) bool { return f.limited(t) })
	best = -1
	counting := 0
	for i := range fits {
		f := &fits[i]
		if f.Counts = f.limited(t) || twoHold && f.Kind.Parameters() == 2; !f.Counts {
			continue
		}
		counting++
		if best < 0 || f.better(&fits[best]) {
			best = i
		}
	}
	if best < 0 {
		return 0, "No fit counts; of those that don't it is the first. Its maximal power isn't determined by these efforts."
	}
	return best, fits[best].reason(t, sprint, counting)
}

// better reports whether a fit's errors are smaller than another's by more than rounding.
func (f *Fit) better(other *Fit) bool {
	return f.relativeError() < other.relativeError()-alike
}

// limited reports whether there is a maximal power, above every effort's and not known
// to be uncertain.
func (f *Fit) limited(t *trials) bool {
	return !f.flat && f.MaxPowerW > slices.Max(t.powerW) && !(f.MaxPowerErrorW > uncertain*f.MaxPowerW)
}

// relativeError is what fits are compared by; +Inf where it isn't known.
func (f *Fit) relativeError() float64 {
	e := f.CriticalPowerErrorW/f.CriticalPowerW + f.WPrimeErrorJ/f.WPrimeJ
	if f.Kind.Parameters() == 3 {
		e += f.MaxPowerErrorW / f.MaxPowerW
	}
	if math.IsNaN(e) {
		return math.Inf(1)
	}
	return e
}

// reason says why a fit was chosen.
func (f *Fit) reason(t *trials, sprint bool, counting int) string {
	among := "Of the fits that count"
	if sprint && f.Kind.Parameters() == 3 {
		among = fmt.Sprintf("An effort of %s is too short for two parameters; of the fits that count", span(t.shortestS()))
	}
	switch {
	case counting == 1:
		return among + " it is the only one."
	case math.IsInf(f.relativeError(), 1):
		return among + " it is the first; there are too few efforts to tell errors by which to compare."
	}
	errors := fmt.Sprintf("%s of critical power and %s of W′", percent(f.CriticalPowerErrorW/f.CriticalPowerW), percent(f.WPrimeErrorJ/f.WPrimeJ))
	if f.Kind.Parameters() == 3 {
		errors += fmt.Sprintf(" and %s of maximal power", percent(f.MaxPowerErrorW/f.MaxPowerW))
	}
	return among + " it has the smallest relative standard errors: " + errors + "."
}
