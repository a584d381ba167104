package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/tally"
	"parcours.example/analysis/wording"
)

// position writes a place along the course to ten metres or a hundredth of a mile.
func (w teller) position(name string, m float64) phrase {
	return number(name, m, w.units().Position(m))
}

// seconds writes the size of a difference of times, below a second to a hundredth.
func (w teller) seconds(name string, s float64) phrase {
	return number(name, s, secondsText(s))
}

// signed writes a difference of times with its sign.
func (w teller) signed(name string, s float64) phrase {
	text := secondsText(s)
	if s < 0 {
		text = "−" + text
	}
	return number(name, s, text)
}

func secondsText(s float64) string {
	if math.Abs(s) < 0.995 {
		return wording.Hundredths(s)
	}
	return wording.Seconds(s)
}

// fine writes a length of a few metres or feet to a tenth.
func (w teller) fine(name string, m float64) phrase {
	return number(name, m, w.units().Fine(math.Abs(m)))
}

// perMass writes a power over body mass.
func (w teller) perMass(name string, wPerKg float64) phrase {
	return number(name, wPerKg, wording.WattsPerKilogram(wPerKg))
}

// mean writes a mean of counts or points to a tenth.
func (w teller) mean(name string, v float64) phrase {
	return number(name, v, wording.Number(v, 1))
}

// chance writes a probability.
func (w teller) chance(name string, o tally.Odds) phrase {
	if o.P == 0 {
		return number(name, 0, "none")
	}
	return number(name, o.P, wording.Chance(o.P))
}

// odds writes a probability with its standard error, where it has one.
func (w teller) odds(name string, o tally.Odds) phrase {
	if !(o.SE > 0) {
		return w.chance(name, o)
	}
	return say("{} ± {}", w.chance(name, o), number(name+"_standard_error", o.SE, wording.Chance(o.SE)))
}

// ofRuns writes in how many runs something happens.
func (w teller) ofRuns(name string, o tally.Odds) phrase {
	switch o.P {
	case 0:
		return number(name, 0, "no run")
	case 1:
		return number(name, 1, "every run")
	}
	return say("{} of the runs", w.odds(name, o))
}

// mostListed bounds the names that a sentence lists.
const mostListed = 4

// few lists phrases, of many only the first, with the number of the others.
func (w teller) few(fact string, phrases []phrase) phrase {
	if len(phrases) > mostListed {
		rest := len(phrases) - mostListed + 1
		phrases = append(phrases[:mostListed-1:mostListed-1], say("{} more", w.count(fact, rest)))
	}
	return list(phrases...)
}

// grouped is what some have in common: a head, and a member for each.
type grouped struct {
	head    phrase
	members []phrase
}

// gather adds a member under its head, in the order in which heads come up.
func gather(groups []grouped, head, member phrase) []grouped {
	for i := range groups {
		if groups[i].head.text == head.text {
			groups[i].members = append(groups[i].members, member)
			return groups
		}
	}
	return append(groups, grouped{head, []phrase{member}})
}

// gathered writes groups: "light for Nour and Bram; aero for Isa".
func (w teller) gathered(fact string, groups []grouped) phrase {
	told := make([]phrase, len(groups))
	for i, g := range groups {
		told[i] = say("{} for {}", g.head, w.few(fmt.Sprintf("%s.group-%d.more", fact, i+1), g.members))
	}
	return join("; ", told...)
}
