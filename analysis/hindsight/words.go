package hindsight

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/wording"
)

// Model says what the computation supposes.
func Model() []string {
	return []string{
		"Between prediction and ride lies a chain of simulated rides: each has one thing more as it was ridden, in the order start, mean power, pacing, drag area, rolling resistance, shelter. A part is the difference that its step makes; another order would move a little between the parts.",
		"The recorded power is taken by place, not by time. Stops are taken off; what speeding up again costs stays in the rest.",
		"The rest holds bends and brakes as they were ridden, wind that wasn't foretold, errors of elevation, mass and power meter, and of the model.",
	}
}

// tellShare is the share of the predicted time from which on a part is worth a word.
const tellShare = 0.002

// Words tells the account in a few sentences.
func (a *Account) Words() string {
	late := a.RiddenS - a.PredictedS
	about := tellShare * a.PredictedS
	s := fmt.Sprintf("Predicted %s, ridden %s", wording.Clock(a.PredictedS), wording.Clock(a.RiddenS))
	if math.Abs(late) < about {
		s += ": as foreseen"
	} else {
		s += fmt.Sprintf(": %s %s", wording.Seconds(math.Abs(late)), longer(late))
	}
	sentences := []string{s + "."}
	if told := a.Parts.words(about); told != "" {
		sentences = append(sentences, told)
	}
	switch {
	case a.Halt != nil:
		sentences = append(sentences, fmt.Sprintf("The recorded power doesn't carry this mass past %s: the mass, the set-up, the elevation or the power meter is wrong, and the difference isn't taken apart.", wording.Position(a.Halt.AtM)))
	case math.IsNaN(a.RiddenPowerW):
		sentences = append(sentences, "Without recorded power the difference isn't taken apart.")
	}
	if b := a.Balance; b != nil && b.MinJ < 0 {
		sentences = append(sentences, fmt.Sprintf("By the recorded power W′ was overdrawn by %s at %s: critical power or W′ is higher than given, or the power meter reads high.", wording.Kilojoules(-b.MinJ), wording.Position(b.MinAtM)))
	}
	if p := a.Plan; p != nil && p.Err == nil && p.AsRiddenS-p.TimeS > about {
		sentences = append(sentences, fmt.Sprintf("The best plan within the same capability, alone and without stops, is %s faster than the recorded power.", wording.Seconds(p.AsRiddenS-p.TimeS)))
	}
	return strings.Join(sentences, " ")
}

func longer(s float64) string {
	if s > 0 {
		return "longer"
	}
	return "less"
}

// words names the parts that count, the largest first.
func (p Parts) words(about float64) string {
	type named struct {
		s    float64
		name string
	}
	parts := []named{
		{p.StartS, "the speed at the start"},
		{p.PowerS, "the power"},
		{p.PacingS, "when and where it was spent"},
		{p.DragS, "drag"},
		{p.RollingS, "rolling resistance"},
		{p.ShelterS, "shelter"},
		{p.StopsS, "standing"},
		{p.RestS, "what none of these explain"},
	}
	slices.SortStableFunc(parts, func(a, b named) int {
		switch x, y := math.Abs(a.s), math.Abs(b.s); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var told []string
	for _, part := range parts {
		if math.Abs(part.s) >= about {
			sign := "+"
			if part.s < 0 {
				sign = "−"
			}
			told = append(told, fmt.Sprintf("%s (%s%s)", part.name, sign, wording.Seconds(math.Abs(part.s))))
		}
	}
	if len(told) == 0 {
		return ""
	}
	return "It comes from " + wording.List(told...) + "."
}

// Words tells a doubt with care: what doesn't fit, and what would make it fit.
func (d Doubt) Words() string {
	var sentences []string
	if math.Abs(d.AgainstFieldPct) >= doubtPct {
		what, more := "slower", "less"
		if d.AgainstFieldPct < 0 {
			what, more = "faster", "more"
		}
		s := fmt.Sprintf("%s rode %s %% %s than power and mass come to, against the others on the same course.", d.Rider, wording.Number(math.Abs(d.AgainstFieldPct), 1), what)
		if power := math.Abs(d.PowerPct); power < mostToldPct {
			s += fmt.Sprintf(" A power meter that reads %s %% %s would explain it", wording.Number(power, 0), map[string]string{"more": "too low", "less": "too high"}[more])
			if mass := math.Abs(d.MassKg); mass < mostToldKg {
				s += fmt.Sprintf(", or a mass %s %s than given", wording.Kilograms(mass), map[bool]string{true: "lower", false: "higher"}[d.AgainstFieldPct < 0])
			}
			s += ", or more or less shelter than the others had."
		} else {
			s += " Neither mass nor power alone would explain it: is it the right recording?"
		}
		sentences = append(sentences, s)
	}
	if d.OverdrawnJ > 0 {
		sentences = append(sentences, fmt.Sprintf("%s gave %s more than critical power and W′ allow: a better day than the last test, or a power meter that reads high.", d.Rider, wording.Kilojoules(d.OverdrawnJ)))
	}
	return strings.Join(append(sentences, "This is a reason to look, not a verdict."), " ")
}

// The largest errors that are named as explanations.
const (
	mostToldPct = 25.0
	mostToldKg  = 15.0
)
