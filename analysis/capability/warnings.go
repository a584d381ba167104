package capability

import (
	"fmt"
	"math"
)

// The codes of Warning.
const (
	// CodeNoErrors: there are no more different efforts than parameters.
	CodeNoErrors = "no-errors"
	// CodeAllLong: every effort is longer than 15 min.
	CodeAllLong = "all-efforts-long"
	// CodeAllShort: every effort is shorter than 10 min.
	CodeAllShort = "all-efforts-short"
	// CodeShortEffort: an effort is too short for two parameters.
	CodeShortEffort = "short-effort"
	// CodeLongEffort: an effort is longer than the models are meant for.
	CodeLongEffort = "long-effort"
	// CodeCloseDurations: the longest effort is less than twice the shortest.
	CodeCloseDurations = "close-durations"
	// CodePowerDoesNotFall: a longer effort has as much power as a shorter one.
	CodePowerDoesNotFall = "power-does-not-fall"
	// CodeOutlier: an effort is far from what the others say.
	CodeOutlier = "outlier"
	// CodeFitsDisagree: fits differ by more than their errors.
	CodeFitsDisagree = "fits-disagree"
	// CodeMaxPowerUncertain: a three-parameter fit's maximal power is hardly known.
	CodeMaxPowerUncertain = "max-power-uncertain"
	// CodeMaxPowerExceeded: an effort's power is above a fit's maximal power.
	CodeMaxPowerExceeded = "max-power-exceeded"
	// CodeCriticalPowerHigh: an effort's power is below a fit's critical power.
	CodeCriticalPowerHigh = "critical-power-above-effort"
	// CodeUnlikely: the best fit has a value that hardly any rider has.
	CodeUnlikely = "unlikely-value"
)

// Warning is something that keeps efforts from determining what a fit says.
type Warning struct {
	// Code is one of the Code constants, Detail a sentence with the number that matters.
	Code, Detail string
	// Kind is the fit that it is about, empty for all of them.
	Kind Kind
	// Effort is the index of the effort that it is about, −1 for all of them.
	Effort int
}

const (
	shortS    = 120.0  // common practice
	allLongS  = 900.0  // common practice
	allShortS = 600.0  // Mattioni Maturana et al. 2018: critical power comes out too high
	longS     = 3600.0 // common practice
	// closeRatio is the least ratio of the longest and the shortest duration that isn't
	// warned of; 3, 7 and 12 min have 4 (our choice).
	closeRatio = 2.0
)

// warnings lists what is to be warned of, the efforts first, then the fits.
func warnings(t *trials, c *Capability) []Warning {
	out := t.warnOfDurations()
	out = append(out, t.warnOfOrder()...)
	best := &c.Fits[c.Best]
	out = append(out, best.warnOfBest(t)...)
	for i := range c.Fits {
		out = append(out, c.Fits[i].warn(t)...)
	}
	return append(out, c.warnOfDisagreement()...)
}

// general is a warning about all efforts.
func general(code, format string, args ...any) Warning {
	return Warning{Code: code, Effort: -1, Detail: fmt.Sprintf(format, args...)}
}

func (t *trials) warnOfDurations() []Warning {
	var out []Warning
	shortest, longest := t.shortestS(), t.longestS()
	if shortest > allLongS {
		out = append(out, general(CodeAllLong, "The shortest effort lasts %s: with none below 15 min, W′ is an extrapolation.", span(shortest)))
	}
	if longest < allShortS {
		out = append(out, general(CodeAllShort, "The longest effort lasts %s: with none of 10 min or more, critical power comes out too high.", span(longest)))
	}
	if ratio := longest / shortest; ratio < closeRatio {
		power := mean(t.powerW, t.weight)
		perCent := 0.01 * power / (longest - shortest)
		out = append(out, general(CodeCloseDurations,
			"The longest effort lasts only %.2f times the shortest: an error of 1 %% in their powers moves critical power by about %s and W′ by %s.",
			ratio, watts(perCent*math.Sqrt(float64(longest*longest)+float64(shortest*shortest))), joules(perCent*math.Sqrt2*longest*shortest)))
	}
	if longest > longS {
		out = append(out, Warning{
			Code: CodeLongEffort, Effort: t.given[len(t.given)-1],
			Detail: fmt.Sprintf("%s lasts longer than an hour, where power falls below critical power for other reasons than W′; leave it out.", t.name(len(t.given)-1)),
		})
	}
	return out
}

// name writes the i-th trial as it was given.
func (t *trials) name(i int) string {
	return fmt.Sprintf("Effort %d (%s, %s)", t.given[i]+1, span(t.durationS[i]), watts(t.powerW[i]))
}

// warnOfOrder names the effort that falls furthest short of a longer one.
func (t *trials) warnOfOrder() []Warning {
	worst, than, deficit, others := -1, -1, math.Inf(-1), -1
	high := -1 // the trial with the highest power of those longer than i
	next := len(t.durationS)
	for i := len(t.durationS) - 1; i >= 0; i-- {
		for ; next > 0 && t.durationS[next-1] > t.durationS[i]; next-- {
			if high < 0 || t.powerW[next-1] > t.powerW[high] {
				high = next - 1
			}
		}
		if high < 0 || t.powerW[high] < t.powerW[i] {
			continue
		}
		others++
		if d := t.powerW[high] - t.powerW[i]; d > deficit {
			worst, than, deficit = i, high, d
		}
	}
	if worst < 0 {
		return nil
	}
	detail := fmt.Sprintf("%s wasn't maximal: as much or more was held for longer in effort %d (%s, %s).",
		t.name(worst), t.given[than]+1, span(t.durationS[than]), watts(t.powerW[than]))
	if others > 0 {
		detail += fmt.Sprintf(" The same holds for %d more.", others)
	}
	return []Warning{{Code: CodePowerDoesNotFall, Effort: t.given[worst], Detail: detail}}
}
