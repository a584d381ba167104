package choice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/wording"
)

// Told is what is told of a rider's case.
type Told struct {
	Rider   string
	Verdict *Verdict
	// Infeasible says for each set-up that its ride asks for more than W′ holds.
	Infeasible []bool
}

// mostTold bounds the ambitions that a paragraph names one by one.
const mostTold = 3

// teller writes a paragraph about a rider.
type teller struct {
	*Case
	told      Told
	sentences []string
}

// Recommendation says in a paragraph what a rider should ride for what, with the numbers
// that decide it and where it would be otherwise.
func Recommendation(c Case, t Told) string {
	w := teller{Case: &c, told: t}
	if len(t.Verdict.Rankings[c.Finish].Places) == 0 {
		return fmt.Sprintf("%s comes to a halt on every set-up: ask for more power.", t.Rider)
	}
	w.finish()
	if !w.allAlike() {
		w.elsewhere()
		w.tips()
	}
	w.reserve()
	for i := range c.Changes {
		w.changed(i)
	}
	return strings.Join(w.sentences, " ")
}

func (w *teller) say(format string, args ...any) {
	w.sentences = append(w.sentences, fmt.Sprintf(format, args...))
}

// name is a set-up's in a sentence; of two with the same name, the number helps.
func (c *Case) name(setup int) string {
	name := c.Setups[setup].Name
	for i := range c.Setups {
		if i != setup && c.Setups[i].Name == name {
			return fmt.Sprintf("%s (no. %d)", name, setup+1)
		}
	}
	return name
}

// names lists set-ups.
func (c *Case) names(places []Place) string {
	var names []string
	for _, p := range places {
		names = append(names, c.name(p.Setup))
	}
	return wording.List(names...)
}

// tied returns the places of a ranking that can't be told from the first, itself included.
func (r *Ranking) tied() []Place {
	return slices.DeleteFunc(slices.Clone(r.Places), func(p Place) bool { return !p.Behind.Tied })
}

// clear returns the first place where it is told apart from the second; −1 where it isn't, or
// stands alone.
func (r *Ranking) clear() int {
	if len(r.Places) < 2 || r.Places[1].Behind.Tied {
		return -1
	}
	return r.Places[0].Setup
}

// finish tells the ranking at the finish.
func (w *teller) finish() {
	r := &w.told.Verdict.Rankings[w.Finish]
	first := w.name(r.Places[0].Setup)
	switch tied := r.tied(); {
	case len(r.Places) == 1:
		w.say("Only %s takes %s to the finish; on everything else there is a halt.", first, w.told.Rider)
		return
	case w.allAlike():
		w.say("For %s it makes no difference what to ride: on %s all ambitions take the same time.", w.told.Rider, w.names(r.Places))
	case len(tied) > 1:
		behind := tied[1].Behind
		w.say("For %s nothing tells %s apart at the finish: %s is %s behind, and by the inputs it may be anything from %s.",
			w.told.Rider, w.names(tied), w.name(tied[1].Setup), wording.Seconds(behind.S), spanned(behind))
	default:
		behind := r.Places[1].Behind
		w.say("For %s, %s is the choice for the finish: %s ahead of %s (%s to %s by the inputs).",
			w.told.Rider, first, wording.Seconds(behind.S), w.name(r.Places[1].Setup), wording.Seconds(behind.LowS), wording.Seconds(behind.HighS))
	}
	if last := r.Places[len(r.Places)-1]; len(r.Places) > 2 && !last.Behind.Tied {
		w.say("The slowest, %s, is %s behind.", w.name(last.Setup), wording.Seconds(last.Behind.S))
	}
}

// allAlike tells whether all set-ups are one in everything that counts.
func (w *teller) allAlike() bool {
	for _, r := range w.told.Verdict.Rankings {
		if last := r.Places[len(r.Places)-1]; len(r.Places) < 2 || last.Behind.S != 0 || last.Behind.SDS != 0 {
			return false
		}
	}
	return true
}

// spanned writes a band that may hold zero.
func spanned(g Gap) string {
	return signed(g.LowS) + " to " + signed(g.HighS)
}

// seconds writes the size of a difference of times, also one that rounds to none.
func seconds(s float64) string {
	if s = math.Abs(s); s > 0 && s < 0.05 {
		return "under 0.1 s"
	}
	return wording.Seconds(s)
}

// signed writes a difference of times with its sign.
func signed(s float64) string {
	if s < 0 {
		return "−" + wording.Seconds(s)
	}
	return wording.Seconds(s)
}

// where names an ambition so that it follows a verb: "to the weir", "over Mill Lane".
func (c *Case) where(ambition int) string {
	a := &c.Ambitions[ambition]
	if a.IsLine() {
		return "to " + a.Name
	}
	return "over " + a.Name
}

// elsewhere tells the ambitions other than the finish: those that ask for another set-up
// with their price, those that the choice for the finish wins too, and those that are ties.
func (w *teller) elsewhere() {
	w.others()
	var won, ties []int
	best := w.told.Verdict.Rankings[w.Finish].clear()
	for i := range w.told.Verdict.Rankings {
		r := &w.told.Verdict.Rankings[i]
		switch {
		case i == w.Finish || len(r.Places) < 2:
		case r.clear() < 0:
			ties = append(ties, i)
		case r.clear() == best:
			won = append(won, i)
		}
	}
	w.won(best, won)
	w.ties(ties)
}

// others tells the ambitions that ask for another set-up, the largest gain first.
func (w *teller) others() {
	rankings := w.told.Verdict.Rankings
	finish := rankings[w.Finish].clear()
	var apart []int
	for i := range rankings {
		if best := rankings[i].clear(); i != w.Finish && best >= 0 && best != finish {
			apart = append(apart, i)
		}
	}
	gain := func(i int) float64 { return rankings[i].Places[1].Behind.S }
	slices.SortStableFunc(apart, func(a, b int) int {
		switch {
		case gain(a) > gain(b):
			return -1
		case gain(a) < gain(b):
			return 1
		}
		return 0
	})
	for _, i := range apart[:min(mostTold, len(apart))] {
		r := &rankings[i]
		cost := r.Costs[w.Finish]
		price := fmt.Sprintf("which costs %s at the finish", wording.Seconds(cost.S))
		if cost.Tied {
			price = "and gives nothing away at the finish that could be told"
		}
		w.say("%s it is %s, by %s, %s.", upperFirst(w.where(i)), w.name(r.Places[0].Setup), seconds(gain(i)), price)
	}
	if more := len(apart) - mostTold; more > 0 {
		ambitions := "One more ambition asks"
		if more > 1 {
			ambitions = wording.Count(more) + " more ambitions ask"
		}
		w.say("%s for another set-up than the finish, by %s at most.", ambitions, wording.Seconds(gain(apart[mostTold])))
	}
}

// won tells the ambitions that the choice for the finish wins as well.
func (w *teller) won(best int, ambitions []int) {
	gain := func(i int) string { return wording.Seconds(w.told.Verdict.Rankings[i].Places[1].Behind.S) }
	switch {
	case len(ambitions) == 0:
	case len(ambitions) <= mostTold:
		var parts []string
		for _, i := range ambitions {
			parts = append(parts, fmt.Sprintf("%s (by %s)", w.where(i), gain(i)))
		}
		w.say("%s %s is first as well.", upperFirst(wording.List(parts...)), w.name(best))
	default:
		least, most := ambitions[0], ambitions[0]
		for _, i := range ambitions {
			if s := w.told.Verdict.Rankings[i].Places[1].Behind.S; s < w.told.Verdict.Rankings[least].Places[1].Behind.S {
				least = i
			} else if s > w.told.Verdict.Rankings[most].Places[1].Behind.S {
				most = i
			}
		}
		w.say("At %s of the other ambitions %s is first as well, by %s (%s) to %s (%s).",
			wording.Count(len(ambitions)), w.name(best), gain(least), w.where(least), gain(most), w.where(most))
	}
}

// ties tells the ambitions at which nothing tells the best apart.
func (w *teller) ties(ambitions []int) {
	switch {
	case len(ambitions) == 0:
	case len(ambitions) <= mostTold:
		var parts []string
		for _, i := range ambitions {
			parts = append(parts, fmt.Sprintf("%s (%s)", w.where(i), seconds(w.told.Verdict.Rankings[i].Places[1].Behind.S)))
		}
		w.say("The best two can't be told apart %s.", wording.List(parts...))
	default:
		w.say("At %s of the other ambitions the best two can't be told apart.", wording.Count(len(ambitions)))
	}
}

// tips tells where the finish would be otherwise.
func (w *teller) tips() {
	r := &w.told.Verdict.Rankings[w.Finish]
	if len(r.Places) < 2 {
		return
	}
	first, second := r.Places[0].Setup, r.Places[1].Setup
	var tips, firm []string
	for _, x := range r.Crossings {
		switch {
		case !math.IsNaN(x.At):
			tips = append(tips, x.words(x.BetterAbove == second))
		case x.Quantity != Gradient:
			firm = append(firm, x.without())
		case x.BetterAbove == second:
			tips = append(tips, fmt.Sprintf("on a steady road of any gradient from %s to %s", pct(x.From), pct(x.To)))
		default:
			firm = append(firm, x.without())
		}
	}
	if len(tips) > 0 {
		w.say("It would be %s in the place of %s %s.", w.name(second), w.name(first), strings.Join(tips, ", or "))
	}
	if len(firm) > 0 {
		w.say("The order holds for any %s.", wording.List(firm...))
	}
}

// words says where the other set-up is the faster one.
func (x *Crossing) words(above bool) string {
	side := "above"
	if !above {
		side = "below"
	}
	switch x.Quantity {
	case RiderMass:
		return fmt.Sprintf("for a rider %s %s at the same power per kilogram", side, wording.Kilograms(x.At))
	case Power:
		return fmt.Sprintf("%s %s", side, wording.Watts(x.At))
	case Shelter:
		return fmt.Sprintf("%s %s of the drag alone, in shelter all the way", side, wording.Percent(x.At))
	}
	return fmt.Sprintf("on a steady road %s %s", side, pct(x.At))
}

// without says in what range a quantity changes nothing; it follows "any".
func (x *Crossing) without() string {
	switch x.Quantity {
	case RiderMass:
		return fmt.Sprintf("mass from %s to %s at the same power per kilogram", wording.Kilograms(x.From), wording.Kilograms(x.To))
	case Power:
		return fmt.Sprintf("power from %s to %s", wording.Watts(x.From), wording.Watts(x.To))
	case Shelter:
		return fmt.Sprintf("shelter down to %s of the drag alone", wording.Percent(x.From))
	}
	return fmt.Sprintf("steady gradient from %s to %s", pct(x.From), pct(x.To))
}

// pct writes a gradient.
func pct(gradientPct float64) string { return wording.Gradient(gradientPct) }

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// reserve warns of rides that ask for more than the rider has.
func (w *teller) reserve() {
	var over []string
	for i, is := range w.told.Infeasible {
		if is {
			over = append(over, w.name(i))
		}
	}
	if len(over) > 0 {
		w.say("On %s this effort asks for more than W′ holds: ask for less before trusting the times.", wording.List(over...))
	}
}
