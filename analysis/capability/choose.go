package capability

import (
	"fmt"
	"math"
	"slices"
)

// Rule says how the best fit is chosen, in sentences.
const Rule = "The fit with the smallest sum of the relative standard errors of its parameters. " +
	"Two-parameter fits count only where no effort is shorter than 1 min, or no three-parameter fit is left; " +
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

// choose returns the index of the best fit and the reason.
func choose(t *trials, fits []Fit) (best int, reason string) {
	sprint := t.shortestS() < sprintS
	candidates := func(parameters int) []int {
		var of []int
		for i := range fits {
			if fits[i].Kind.Parameters() == parameters && (parameters == 2 || fits[i].limited(t)) {
				of = append(of, i)
			}
		}
		return of
	}
	two, three := candidates(2), candidates(3)
	all := slices.Concat(two, three)
	switch {
	case sprint && len(three) > 0:
		all = three
	case len(all) == 0: // nothing but three-parameter fits that are poorly known
		return 0, "It is the only model that fits these efforts; its maximal power isn't determined by them."
	}
	best = all[0]
	for _, i := range all[1:] {
		if fits[i].relativeError() < fits[best].relativeError()-alike || math.IsInf(fits[best].relativeError(), 1) && !math.IsInf(fits[i].relativeError(), 1) {
			best = i
		}
	}
	return best, fits[best].reason(t, sprint, len(all))
}

// limited reports whether the maximal power of three parameters is above every effort's,
// and not known to be uncertain.
func (f *Fit) limited(t *trials) bool {
	return f.MaxPowerW > slices.Max(t.powerW) && !(f.MaxPowerErrorW > uncertain*f.MaxPowerW)
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
func (f *Fit) reason(t *trials, sprint bool, candidates int) string {
	among := "Of the fits that count"
	if sprint && f.Kind.Parameters() == 3 {
		among = fmt.Sprintf("An effort of %s is too short for two parameters; of the other fits", span(t.shortestS()))
	}
	switch {
	case candidates == 1:
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
