package duel

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/wording"
)

const (
	// tellS is the gap in s below which the two are told to be level: it reads 0.0.
	tellS = 0.05
	// doubtful is the change of power, as a share, that a power meter's error of 1 to 2 %
	// makes up (common practice).
	doubtful = 0.01
)

// Model says what the computation supposes.
func Model() []string {
	return []string{
		"In the duel each rides alone at the given effort: nobody shelters. In a bunch a light rider pays less for little power, so that the gaps on the level there are smaller than these.",
		"Scaling the effort changes all of it by one factor; another mass keeps the power per body mass, and the drag area follows it as the frontal area does.",
	}
}

// Words tells the duel: who is ahead and by how much, where that comes from, and with what
// it would be otherwise.
func (a *Answer) Words() string {
	sentences := []string{a.outcome() + a.whence() + "."}
	if s := a.tips(); s != "" {
		sentences = append(sentences, s)
	}
	for _, r := range []Rider{a.Heavier, a.Lighter} {
		if !r.Feasible {
			sentences = append(sentences, r.Name+"'s own effort is more than critical power and W′ allow.")
		}
	}
	return strings.Join(sentences, " ")
}

// who names a rider with mass and power.
func (r Rider) who() string {
	return fmt.Sprintf("%s (%s, %s)", r.Name, wording.Kilograms(r.MassKg), wording.WattsPerKilogram(r.WPerKg))
}

func (a *Answer) outcome() string {
	switch {
	case math.Abs(a.GapS) < tellS:
		return fmt.Sprintf("Each alone, %s and %s finish together", a.Lighter.who(), a.Heavier.who())
	case a.GapS > 0:
		return fmt.Sprintf("Each alone, %s finishes %s ahead of %s", a.Heavier.who(), wording.Seconds(a.GapS), a.Lighter.who())
	}
	return fmt.Sprintf("Each alone, %s finishes %s ahead of %s", a.Lighter.who(), wording.Seconds(a.GapS), a.Heavier.who())
}

// whence says how they stand at the foot of the last climb and what it changes; without
// one, where the road does it.
func (a *Answer) whence() string {
	if a.LastClimb == nil {
		return a.bySlope()
	}
	foot, gain := a.LastClimb.StartGapS, a.LastClimb.GainS()
	name := a.Lighter.Name
	var before string
	switch {
	case a.LastClimb.StartM == 0:
		before = ": from the foot, where the race starts, "
	case math.Abs(foot) < tellS:
		before = ": level at the foot of the last climb, "
	case foot > 0:
		before = fmt.Sprintf(": %s is %s behind at the foot of the last climb and ", name, wording.Seconds(foot))
	default:
		before = fmt.Sprintf(": %s is %s ahead at the foot of the last climb and ", name, wording.Seconds(foot))
	}
	subject := ""
	if a.LastClimb.StartM == 0 || math.Abs(foot) < tellS {
		subject = name + " "
	}
	switch {
	case math.Abs(gain) < tellS:
		return before + subject + "neither gains nor loses on it"
	case gain < 0:
		return before + subject + "loses " + wording.Seconds(gain) + " on it"
	}
	return before + subject + "gains " + wording.Seconds(gain) + " on it"
}

// bySlope says where the lighter rider gains most and loses most.
func (a *Answer) bySlope() string {
	most, least := a.Ground[0], a.Ground[0]
	for _, g := range a.Ground[1:] {
		if g.GainS() > most.GainS() {
			most = g
		}
		if g.GainS() < least.GainS() {
			least = g
		}
	}
	var parts []string
	if most.GainS() >= tellS {
		parts = append(parts, "gains "+wording.Seconds(most.GainS())+" "+most.Slope.where())
	}
	if least.GainS() <= -tellS {
		parts = append(parts, "loses "+wording.Seconds(least.GainS())+" "+least.Slope.where())
	}
	if len(parts) == 0 {
		return ""
	}
	return ": " + a.Lighter.Name + " " + strings.Join(parts, " and ")
}

func (s Slope) where() string {
	return map[Slope]string{Up: "uphill", Level: "on the level", Down: "downhill"}[s]
}

// tips says with what the two would be level.
func (a *Answer) tips() string {
	if math.Abs(a.GapS) < tellS {
		return ""
	}
	s := a.tipsByPower() + a.tipsByMass()
	if a.LastClimb != nil && a.GapS > 0 && a.LastClimb.StartGapS > tellS && a.LastClimb.StartM > 0 {
		s += a.tipsOnClimb()
	}
	s += "."
	if p := a.Power; p.Found && math.Abs(p.Factor-1) < doubtful {
		s += " That is within a power meter's error of 1 to 2 %, so who of the two is faster can't be told."
	}
	return s
}

func (a *Answer) tipsByPower() string {
	p := a.Power
	if !p.Found {
		return fmt.Sprintf("No power from %s to %s brings %s level", wording.Rounded(p.Low, 2), wording.WattsPerKilogram(p.High), a.Lighter.Name)
	}
	s := fmt.Sprintf("They would finish together with %s at %s throughout, %s", a.Lighter.Name, wording.WattsPerKilogram(p.Value), moreOrLess(p.Factor))
	if !p.Feasible && a.Lighter.Feasible {
		s += ", which critical power and W′ don't allow"
	}
	return s
}

// moreOrLess writes a factor as a change in tenths of a per cent.
func moreOrLess(factor float64) string {
	word := "more"
	if factor < 1 {
		word = "less"
	}
	return wording.Rounded(100*math.Abs(factor-1), 1) + " % " + word
}

func (a *Answer) tipsByMass() string {
	if !a.Mass.Found {
		return fmt.Sprintf("; no mass from %s to %s does at the same power per mass", wording.Kilograms(a.Mass.Low), wording.Kilograms(a.Mass.High))
	}
	return fmt.Sprintf(", or at %s with the same power per mass", wording.Kilograms(a.Mass.Value))
}

func (a *Answer) tipsOnClimb() string {
	c := a.LastClimb
	if !c.Needed.Found {
		return fmt.Sprintf("; what is lost before the last climb can't be made good on it with %s", wording.WattsPerKilogram(c.Needed.High))
	}
	s := fmt.Sprintf("; to be level at the top by the last climb alone takes %s there instead of %s", wording.WattsPerKilogram(c.Needed.Value), wording.Rounded(c.WPerKg, 2))
	if !c.Needed.Feasible && a.Lighter.Feasible {
		s += ", which critical power and W′ don't allow"
	}
	return s
}
