package season

import (
	"fmt"
	"math"

	"parcours.example/analysis/wording"
)

// Model says what a comparison supposes and leaves out.
func Model() []string {
	return []string{
		"Each rider rides alone, at the effort that was asked: shelter, tactics and the day are left out, so that a round suits whom the road suits.",
		"A rider's time in a round is that on the fastest set-up on which the balance of W′ holds. Totals and suitabilities are over the rounds that all riders finish who finish any.",
		"How much a round suits a rider is what the rider is faster than the middle of the roster there, in per cent of the time, beyond the rider's own mean over the rounds. With other riders or other rounds it is another number.",
		"Its parts come from the derivatives of the motion model, halfway between the rider's and the middle of the roster's; what they leave is given as the rest.",
		"The decisive place is the pass of a climb with the largest gain, halved for every 10 km from its top to the finish; where none weighs 10 m, the finish. Both numbers are conventions.",
	}
}

// words says why a round suits a rider, or doesn't.
func (s Suited) words(name, mass, drag string) string {
	better := "better"
	if s.SuitabilityPct < 0 {
		better = "worse"
	}
	first, second := mass, drag
	if math.Abs(s.PowerToDragAreaPct) > math.Abs(s.PowerToMassPct) {
		first, second = drag, mass
	}
	return fmt.Sprintf("%s %% %s than %s's own mean. %s %s The rest: %s.",
		wording.Rounded(math.Abs(s.SuitabilityPct), 1), better, name, first, second, signed(s.RestPct))
}

// words says what comes of a ratio for rider i in round k.
func (p part) words(name string, i, k int) string {
	return fmt.Sprintf("%s: %s; 1 %% of it is worth %s %% of the time here, %s %% in the mean of the rounds, and %s has %s against %s %s in the middle of the roster.",
		p.title, signed(p.pct[i][k]), wording.Rounded(p.counts[k], 2), wording.Rounded(p.meanCounts, 2),
		name, wording.Rounded(ratioOf(p.log[i][k]), p.decimals), wording.Rounded(ratioOf(p.middle[k]), p.decimals), p.unit)
}

// signed writes per cent to a tenth with its sign.
func signed(pct float64) string {
	switch text := wording.Rounded(math.Abs(pct), 1) + " %"; {
	case text == "0.0 %":
		return text
	case pct < 0:
		return "−" + text
	default:
		return "+" + text
	}
}
