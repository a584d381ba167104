package choice

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/wording"
)

// mostNamed bounds the riders that a sentence names one by one.
const mostNamed = 5

// Summary says in a paragraph what the riders of one course should ride: one rider's
// recommendation as it is, several riders' grouped by what they come to. Everything but
// riders and rides is the same in all cases.
func Summary(c Case, told []Told) string {
	if len(told) == 1 {
		return Recommendation(c, told[0])
	}
	s := summary{&c, told}
	sentences := []string{s.ambition(c.Finish)}
	other := 0
	for i := range c.Ambitions {
		if i == c.Finish || !s.apart(i) {
			continue
		}
		if other++; other <= mostTold {
			sentences = append(sentences, s.ambition(i))
		}
	}
	switch {
	case other > mostTold:
		ambitions := "At one more ambition"
		if more := other - mostTold; more > 1 {
			ambitions = "At " + wording.Count(more) + " more ambitions"
		}
		sentences = append(sentences, ambitions+" some riders are better off on another set-up than for the finish.")
	case len(c.Ambitions) > 1+other:
		sentences = append(sentences, "Everywhere else nobody gains by another choice than that for the finish.")
	}
	if tip := s.tip(); tip != "" {
		sentences = append(sentences, tip)
	}
	for i := range c.Changes {
		sentences = append(sentences, s.change(i))
	}
	return strings.Join(sentences, " ")
}

// summary writes a paragraph about several riders.
type summary struct {
	*Case
	told []Told
}

// apart tells whether an ambition asks some rider for another set-up than the finish.
func (s *summary) apart(ambition int) bool {
	for _, t := range s.told {
		best := t.Verdict.Rankings[ambition].clear()
		if best >= 0 && best != t.Verdict.Rankings[s.Finish].clear() {
			return true
		}
	}
	return false
}

// group is what some riders have in common, with each one's name and number.
type group struct {
	head    string
	members []string
}

// grouped gathers riders under heads in the order in which these come up.
func grouped(groups []group, head, member string) []group {
	for i := range groups {
		if groups[i].head == head {
			groups[i].members = append(groups[i].members, member)
			return groups
		}
	}
	return append(groups, group{head, []string{member}})
}

// joined writes groups as one list.
func joined(groups []group) string {
	var parts []string
	for _, g := range groups {
		names := g.members
		if more := len(names) - mostNamed; more > 0 {
			names = append(names[:mostNamed:mostNamed], wording.Count(more)+" more")
		}
		parts = append(parts, g.head+" for "+wording.List(names...))
	}
	return strings.Join(parts, "; ")
}

// ambition says who should ride what for one ambition.
func (s *summary) ambition(i int) string {
	var groups []group
	for _, t := range s.told {
		r := &t.Verdict.Rankings[i]
		switch {
		case len(r.Places) == 0:
			groups = grouped(groups, "none of them", t.Rider+" (who comes to a halt)")
		case len(r.Places) == 1:
			groups = grouped(groups, "only "+s.name(r.Places[0].Setup), t.Rider)
		case r.clear() < 0:
			groups = grouped(groups, "either of "+s.alike(r), fmt.Sprintf("%s (%s apart)", t.Rider, seconds(r.Places[1].Behind.S)))
		default:
			groups = grouped(groups, s.name(r.clear()), fmt.Sprintf("%s (%s)", t.Rider, s.lead(r, i)))
		}
	}
	if i == s.Finish {
		return "For the finish: " + joined(groups) + "."
	}
	return upperFirst(s.where(i)) + ": " + joined(groups) + "."
}

// alike lists the set-ups that can't be told from the first, in the order of the request, so
// that riders with the same ones stand together.
func (s *summary) alike(r *Ranking) string {
	tied := map[int]bool{}
	for _, p := range r.tied() {
		tied[p.Setup] = true
	}
	var names []string
	for i := range s.Setups {
		if tied[i] {
			names = append(names, s.name(i))
		}
	}
	return wording.List(names...)
}

// lead says by how much the first place of an ambition leads, and what it costs.
func (s *summary) lead(r *Ranking, ambition int) string {
	lead := "by " + wording.Seconds(r.Places[1].Behind.S)
	if cost := r.Costs[s.Finish]; ambition != s.Finish && !cost.Tied {
		lead += fmt.Sprintf(", at %s for the finish", wording.Seconds(cost.S))
	}
	return lead
}

// tip says where the choice for the finish would be otherwise, by the first quantity that
// tips it for anyone.
func (s *summary) tip() string {
	for k, q := range s.Quantities {
		var groups []group
		for _, t := range s.told {
			r := &t.Verdict.Rankings[s.Finish]
			if len(r.Crossings) <= k || math.IsNaN(r.Crossings[k].At) {
				continue
			}
			x := r.Crossings[k]
			other := r.Places[1].Setup
			groups = grouped(groups, s.name(other), fmt.Sprintf("%s %s", t.Rider, strings.TrimPrefix(x.words(x.BetterAbove == other), "for a rider ")))
		}
		if len(groups) > 0 && q != Gradient {
			return "For the finish it would be otherwise: " + joined(groups) + "."
		}
	}
	return ""
}

// change says whom a change pays.
func (s *summary) change(i int) string {
	c := &s.Changes[i]
	var groups []group
	for _, t := range s.told {
		changed := &t.Verdict.Changes[i]
		if changed.Best < 0 {
			groups = grouped(groups, "can't be judged", t.Rider+" (who comes to a halt)")
			continue
		}
		trial := &changed.Trials[changed.Best]
		head := "doesn't pay"
		switch {
		case trial.Gain.Tied:
			head = "can't be told from none"
		case trial.Gain.S > 0:
			head = "pays"
		}
		member := fmt.Sprintf("%s (%s", t.Rider, trial.outcome())
		if len(c.Spots) > 1 {
			member += " at " + c.Spots[changed.Best].Name
		}
		groups = grouped(groups, head, strings.Replace(member, "(it ", "(", 1)+")")
	}
	at := ""
	if len(c.Spots) == 1 {
		at = " at " + c.Spots[0].Name
	}
	return fmt.Sprintf("A change from %s to %s%s %s.", s.name(c.From), s.name(c.To), at, joined(groups))
}
