package brief

import (
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/choice"
)

// SetupAnswer is how set-ups compare.
type SetupAnswer struct {
	// Setups are names, untrusted.
	Setups []string
	// Ambitions stand in the order of the verdicts' rankings, the finish among them at the
	// index Finish. Each is given by its first pass; Passes says how many it has.
	Ambitions []Place
	Passes    []int
	Finish    int
	// Asked says that the ambitions were asked for one by one.
	Asked   bool
	Changes []ChangeAnswer
	// CoveragePct is the probability of a gap's bounds in per cent.
	CoveragePct float64
	Riders      []RiderAnswer
}

// RiderAnswer is one rider's.
type RiderAnswer struct {
	// Name is untrusted.
	Name    string
	Verdict *choice.Verdict
	// Infeasible says for each set-up that its ride asks for more than W′ holds.
	Infeasible []bool
}

// clearly is the set-up that leads a ranking beyond doubt, −1 for none.
func clearly(r choice.Ranking) int {
	if len(r.Places) < 2 || r.Places[1].Behind.Tied {
		return -1
	}
	return r.Places[0].Setup
}

// apart are the ambitions that have a section: the finish, those that were asked for, and
// those at which some rider is better off on another set-up than at the finish.
func (w teller) apart() []int {
	a := w.Setups
	out := []int{a.Finish}
	for i := range a.Ambitions {
		other := slices.ContainsFunc(a.Riders, func(r RiderAnswer) bool {
			best := clearly(r.Verdict.Rankings[i])
			return best >= 0 && best != clearly(r.Verdict.Rankings[a.Finish])
		})
		if i != a.Finish && (other || a.Asked) {
			out = append(out, i)
		}
	}
	return out
}

// setupLines tells what to ride for a goal, below a label.
func (w teller) setupLines(g goal, label phrase) [][]said {
	var lines [][]said
	for _, i := range g.setups {
		rank := rankAmbition
		if i == w.Setups.Finish {
			rank = rankChoice
		}
		line := []said{{rank, w.choice(i, label)}, {rankOtherwise, w.otherwise(i)}}
		if i == w.Setups.Finish {
			line = append(line, said{rankChoiceElsewhere, w.elsewhere()}, said{rankOver, w.tooMuch()})
		}
		lines = append(lines, line)
	}
	if g.Of == AtFinish && w.Setups != nil {
		for i := range w.Setups.Changes {
			lines = append(lines, w.changeLine(i))
		}
	}
	return lines
}

// choice tells what to ride for an ambition, after a label.
func (w teller) choice(ambition int, label phrase) phrase {
	a := w.Setups
	if p := a.Ambitions[ambition]; p.Pass > 0 && a.Passes[ambition] == 1 && w.passCount(p) > 1 {
		label = say("{}{}", label, w.onPass(p))
	}
	if len(a.Riders) == 1 {
		return say("{}: {}.", label, w.choiceOfOne(ambition))
	}
	var groups []grouped
	for i, r := range a.Riders {
		groups = w.ranked(groups, i, ambition, r.Verdict.Rankings[ambition])
	}
	return say("{}: {}.", label, w.gathered(fmt.Sprintf("comparison.ambition-%d", ambition+1), groups))
}

// gapFact begins the names of facts about a rider's ambition.
func (w teller) gapFact(rider, ambition int) string {
	key := w.placeKey(w.ambition(ambition))
	for i := range ambition {
		if w.placeKey(w.ambition(i)) == key { // asked for twice
			key = fmt.Sprintf("ambition-%d", ambition+1)
			break
		}
	}
	return fmt.Sprintf("comparison.rider-%d.%s", rider+1, key)
}

// ambition is one as its facts are named: without its pass where it has all there are.
func (w teller) ambition(i int) Place {
	p := w.Setups.Ambitions[i]
	if w.Setups.Passes[i] > 1 || w.passCount(p) < 2 {
		p.Pass = 0
	}
	return p
}

// choiceOfOne tells the ranking of a single rider.
func (w teller) choiceOfOne(ambition int) phrase {
	a := w.Setups
	r, fact := a.Riders[0].Verdict.Rankings[ambition], w.gapFact(0, ambition)
	switch {
	case len(r.Places) == 0:
		return words("none of them gets there at this effort")
	case len(r.Places) == 1:
		return say("only {} gets there; on everything else there is a halt", w.setup(r.Places[0].Setup))
	case alike(r):
		return say("no matter, {} take the same time", w.setupList(fact, r.Places))
	}
	first, second := w.setup(r.Places[0].Setup), w.setup(r.Places[1].Setup)
	behind := r.Places[1].Behind
	gap, low, high := w.seconds(fact+".gap_s", behind.S), w.signed(fact+".low_s", behind.LowS), w.signed(fact+".high_s", behind.HighS)
	if behind.Tied {
		return say("no telling {} and {} apart: {} is {}{} ahead, with {} certainty anything from {} to {}",
			first, second, first, gap, w.overPasses(ambition), w.coverage(), low, high)
	}
	return say("{}, {}{} ahead of {} ({} to {} with {} certainty){}", first, gap, w.overPasses(ambition), second, low, high, w.coverage(), w.price(0, ambition))
}

// overPasses says that a gap is the mean over several passes: of the times to a line, or of
// those that a stretch takes.
func (w teller) overPasses(ambition int) phrase {
	a := w.Setups
	switch p := a.Ambitions[ambition]; {
	case a.Passes[ambition] < 2:
		return phrase{}
	case p.StartM == p.EndM:
		return words(" on average")
	}
	return words(" a pass")
}

// coverage is the probability with which the gaps' bounds hold.
func (w teller) coverage() phrase {
	return w.certainty("comparison.coverage_pct", w.Setups.CoveragePct)
}

// alike reports that nothing of what is ranked differs in anything that counts.
func alike(r choice.Ranking) bool {
	last := r.Places[len(r.Places)-1]
	return last.Behind.S == 0 && last.Behind.SDS == 0
}

// price says what the choice for an ambition costs at the finish.
func (w teller) price(rider, ambition int) phrase {
	a := w.Setups
	r := a.Riders[rider].Verdict.Rankings[ambition]
	best := clearly(a.Riders[rider].Verdict.Rankings[a.Finish])
	switch cost := r.Costs[a.Finish]; {
	case ambition == a.Finish || best < 0 || best == r.Places[0].Setup:
		return phrase{}
	case cost.Tied:
		return words(", at no cost overall that could be told")
	default:
		return say(", at {} overall", w.seconds(w.gapFact(rider, ambition)+".cost_s", cost.S))
	}
}

// ranked adds a rider to those who come to the same.
func (w teller) ranked(groups []grouped, rider, ambition int, r choice.Ranking) []grouped {
	who, fact := w.answered(rider), w.gapFact(rider, ambition)
	switch {
	case len(r.Places) == 0:
		return gather(groups, words("none of them"), say("{} (a halt)", who))
	case len(r.Places) == 1:
		return gather(groups, say("only {}", w.setup(r.Places[0].Setup)), who)
	case alike(r):
		return gather(groups, words("any of them"), who)
	case r.Places[1].Behind.Tied:
		return gather(groups, say("no telling {} apart", w.tied(fact, r)), say("{} ({} by {}{})", who, w.setup(r.Places[0].Setup), w.seconds(fact+".gap_s", r.Places[1].Behind.S), w.overPasses(ambition)))
	}
	return gather(groups, w.setup(r.Places[0].Setup), say("{} (by {}{}{})", who, w.seconds(fact+".gap_s", r.Places[1].Behind.S), w.overPasses(ambition), w.price(rider, ambition)))
}

// tied lists the set-ups that can't be told from the first, in the order of the request.
func (w teller) tied(fact string, r choice.Ranking) phrase {
	var in []int
	for _, p := range r.Places {
		if p.Behind.Tied || p.Setup == r.Places[0].Setup {
			in = append(in, p.Setup)
		}
	}
	slices.Sort(in)
	names := make([]phrase, len(in))
	for i, k := range in {
		names[i] = w.setup(k)
	}
	return w.few(fact+".tied.more", names)
}

// setup is a set-up's name; of two with the same one the number helps.
func (w teller) setup(i int) phrase {
	names := w.Setups.Setups
	own := w.or(names[i], "set-up", "setup", i)
	for k := range names {
		if k != i && w.or(names[k], "set-up", "setup", k).text == own.text {
			return say("{} (no. {})", own, w.ordinal(fmt.Sprintf("setup-%d.number", i+1), i+1))
		}
	}
	return own
}

func (w teller) setupList(fact string, places []choice.Place) phrase {
	names := make([]phrase, len(places))
	for i, p := range places {
		names[i] = w.setup(p.Setup)
	}
	return w.few(fact+".alike.more", names)
}

// answered is a rider's name.
func (w teller) answered(i int) phrase {
	return w.or(w.Setups.Riders[i].Name, "rider", "rider", i)
}

// elsewhere tells the ambitions that have no section: the choice for the finish holds there,
// or nothing can be told apart.
func (w teller) elsewhere() phrase {
	a := w.Setups
	told := w.apart()
	var rest []phrase
	for i, p := range a.Ambitions {
		if !slices.Contains(told, i) && w.plain(p).Of != AtFinish {
			rest = append(rest, w.placeName(w.ambition(i)))
		}
	}
	switch {
	case len(rest) == 0:
		return phrase{}
	case len(rest) > mostListed:
		return say("At none of the {} other lines and climbs is anything else better.", w.count("comparison.others", len(rest)))
	}
	return say("Nothing else is better for {}.", list(rest...))
}

// tooMuch warns of rides that ask for more than the rider has.
func (w teller) tooMuch() phrase {
	var groups []grouped
	for i, r := range w.Setups.Riders {
		var over []phrase
		for k, is := range r.Infeasible {
			if is {
				over = append(over, w.setup(k))
			}
		}
		if len(over) > 0 {
			groups = gather(groups, w.few(fmt.Sprintf("comparison.rider-%d.over.more", i+1), over), w.answered(i))
		}
	}
	if len(groups) == 0 {
		return phrase{}
	}
	return say("On {} this effort asks for more than W′ holds: ask for less before trusting the times.", w.gathered("comparison.over", groups))
}

// otherwise tells where the choice for an ambition would be another: of one rider by every
// quantity, of several by the first that tips it for anyone.
func (w teller) otherwise(ambition int) phrase {
	a := w.Setups
	if len(a.Riders) == 1 {
		return w.tips(ambition)
	}
	for k, q := range quantities(a.Riders[0].Verdict.Rankings[ambition]) {
		if q == choice.Gradient {
			continue
		}
		if tips := w.tipped(ambition, k); !tips.empty() {
			return say("It would be {}.", tips)
		}
	}
	return phrase{}
}

// tipped tells for which riders the k-th quantity tips the choice, and where.
func (w teller) tipped(ambition, k int) phrase {
	var riders []int
	others := map[int]bool{}
	for i, r := range w.Setups.Riders {
		if ranking := r.Verdict.Rankings[ambition]; len(ranking.Crossings) > k && !math.IsNaN(ranking.Crossings[k].At) {
			riders = append(riders, i)
			others[ranking.Places[1].Setup] = true
		}
	}
	var groups []grouped
	common := phrase{}
	for _, i := range riders {
		r := w.Setups.Riders[i].Verdict.Rankings[ambition]
		where := w.beyond(w.gapFact(i, ambition), r, r.Crossings[k])
		if other := w.setup(r.Places[1].Setup); len(others) == 1 {
			common = say("{} ", other)
		} else {
			where = say("{} {}", other, where)
		}
		groups = gather(groups, where, w.answered(i))
	}
	if len(groups) == 1 && len(riders) == len(w.Setups.Riders) {
		return say("{}{}", common, groups[0].head)
	}
	return say("{}{}", common, w.gathered(fmt.Sprintf("comparison.ambition-%d.otherwise", ambition+1), groups))
}

func quantities(r choice.Ranking) []choice.Quantity {
	out := make([]choice.Quantity, len(r.Crossings))
	for i, x := range r.Crossings {
		out[i] = x.Quantity
	}
	return out
}

// tips tells where a single rider's choice would be another, or that it holds.
func (w teller) tips(ambition int) phrase {
	r, fact := w.Setups.Riders[0].Verdict.Rankings[ambition], w.gapFact(0, ambition)
	if len(r.Places) < 2 || alike(r) {
		return phrase{}
	}
	var tips, firm []phrase
	for _, x := range r.Crossings {
		switch {
		case !math.IsNaN(x.At):
			tips = append(tips, w.beyond(fact, r, x))
		case x.Quantity != choice.Gradient:
			firm = append(firm, w.within(fact, x))
		}
	}
	switch {
	case len(tips) > 0:
		return say("It would be {} {}.", w.setup(r.Places[1].Setup), join(", or ", tips...))
	case len(firm) > 0:
		return say("That order holds for any {}.", list(firm...))
	}
	return phrase{}
}

// beyond says on which side of a crossing point the second place is better.
func (w teller) beyond(fact string, r choice.Ranking, x choice.Crossing) phrase {
	side := words("below")
	if x.BetterAbove == r.Places[1].Setup {
		side = words("above")
	}
	fact = fmt.Sprintf("%s.crossing.%s", fact, x.Quantity)
	switch x.Quantity {
	case choice.RiderMass:
		return say("{} {} at the same power per mass", side, w.mass(fact, x.At))
	case choice.Power:
		return say("{} {}", side, w.power(fact, x.At))
	case choice.Shelter:
		return say("{} {} of the drag alone, in shelter all the way", side, w.share(fact, x.At))
	}
	return say("on a steady road {} {}", side, w.gradient(fact, x.At))
}

// within says in what range a quantity changes nothing; it follows "any".
func (w teller) within(fact string, x choice.Crossing) phrase {
	from, to := fmt.Sprintf("%s.crossing.%s_from", fact, x.Quantity), fmt.Sprintf("%s.crossing.%s_to", fact, x.Quantity)
	switch x.Quantity {
	case choice.RiderMass:
		return say("rider from {} to {} at the same power per mass", w.mass(from, x.From), w.mass(to, x.To))
	case choice.Power:
		return say("power from {} to {}", w.power(from, x.From), w.power(to, x.To))
	}
	return say("shelter down to {} of the drag alone", w.share(from, x.From))
}
