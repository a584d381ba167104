package aid

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"parcours.example/analysis/wording"
)

// Caution goes with aids.
const Caution = "Whether and when an aid may be used is for the event's rules to say; no gain is worth swerving or braking in front of others."

// Case is what was found for one rider on one set-up. Its lists are by aid.
type Case struct {
	// Who is the rider, with the set-up where there are several.
	Who string
	// Found is nil for an aid that brings the rider to a halt.
	Found []*Found
	// Sprints are the uses that last just up to a line, the last of them to the scene's line;
	// none where the time is taken over a stretch.
	Sprints [][]Sprint
	// Others are which of the best places is best at other powers.
	Others [][]Other
	// Joint is nil where an aid brings the rider to a halt.
	Joint *Joint
}

// Other is the best of the best places at another power.
type Other struct {
	// PowerPct is the change of the power, in per cent.
	PowerPct float64
	// Best is the index among Found.Best, GainS what it gains then.
	Best  int
	GainS float64
}

// Spot is a place in words, which may all be empty.
type Spot struct {
	// Text says where it lies to something: "140 m before climb-1".
	Text string
	// By is what the text names, Pass on which round: "climb-1", "lap 3".
	By, Pass string
}

// String is the text with the round: "140 m before climb-1, lap 3".
func (s Spot) String() string {
	if s.Pass == "" {
		return s.Text
	}
	return s.Text + ", " + s.Pass
}

// Facts is what a recommendation is made from.
type Facts struct {
	Aids  []Aid
	Cases []Case
	// Line is where gains are taken, in words; Over says that it is a stretch.
	Line string
	Over bool
	GapM float64
	// Where says what lies at a place on the road, Position where on the course that is.
	Where    func(atM float64) Spot
	Position func(atM float64) string
	// Without says, by aid, which passes come before it is first earned, StartS when that is
	// by the clock of the first case.
	Without [][]string
	StartS  []float64
}

// Recommend says in one paragraph where to use the aids, from the first case, and in what
// the others differ.
func Recommend(f *Facts) string {
	var said []string
	for k := range f.Aids {
		t := telling{Facts: f, k: k, name: f.Aids[k].Name}
		said = append(said, t.sentences()...)
	}
	return strings.Join(append(said, f.joint()...), " ")
}

// telling tells of one aid.
type telling struct {
	*Facts
	k    int
	name string
}

func (t *telling) found() *Found { return t.Cases[0].Found[t.k] }

// place is a place in words: "at 3.20 km, 140 m before climb-1".
func (f *Facts) place(atM float64) string {
	at := "at " + f.Position(atM)
	if where := f.Where(atM).String(); where != "" {
		at += ", " + where
	}
	return at
}

// atLine says where gains are taken: "at the finish", "over climb-1".
func (f *Facts) atLine() string {
	if f.Over {
		return "over " + f.Line
	}
	return "at " + f.Line
}

// span writes a gain: below a second to a hundredth.
func span(s float64) string {
	if math.Abs(s) < 0.995 {
		return wording.Hundredths(s)
	}
	return wording.Seconds(s)
}

func (t *telling) sentences() []string {
	a, f := &t.Aids[t.k], t.found()
	switch {
	case f == nil:
		return []string{fmt.Sprintf("With %s %s comes to a halt: leave it alone.", t.name, t.Cases[0].Who)}
	case len(f.Samples) == 0:
		return []string{fmt.Sprintf("Nobody has %s before %s: it is first earned %s.", t.name, t.Line, t.place(a.FirstM()))}
	case !a.Moves() && !a.Denies():
		return []string{fmt.Sprintf("%s changes nothing: it can be used anywhere or left.", t.name)}
	case len(f.Best) == 0:
		return append(t.nothing(), t.without()...)
	case !a.Moves():
		return append(t.wake(), t.without()...)
	}
	said := append([]string{t.best()}, t.next()...)
	said = append(append(said, t.worst()), t.powers()...)
	said = append(said, t.sprint()...)
	if a.Denies() {
		said = append(said, t.behind(&f.Best[0].Use))
	}
	return append(append(said, t.without()...), t.elsewhere()...)
}

// nothing tells of an aid that gains nothing anywhere.
func (t *telling) nothing() []string {
	worst := slices.MinFunc(t.found().Samples, func(a, b Use) int { return cmp.Compare(a.graded(), b.graded()) })
	said := fmt.Sprintf("%s gains nothing %s, wherever it is used", t.name, t.atLine())
	if worst.GainS <= -0.005 {
		said += fmt.Sprintf(", and costs up to %s, %s: leave it alone", span(worst.GainS), t.place(worst.AtM))
	}
	return []string{said + "."}
}

// wideM is the length from which a stretch of places as good as the best is told.
const wideM = 500.0

func (t *telling) best() string {
	b := t.found().Best[0]
	said := fmt.Sprintf("%s gains most %s: %s %s", t.name, t.place(b.AtM), span(b.GainS), t.atLine())
	if b.ToM-b.FromM >= wideM {
		said += fmt.Sprintf(", and within 5 %% of that anywhere from %s to %s", t.Position(b.FromM), t.Position(b.ToM))
	}
	return said + "."
}

// next compares the best place with those that come after it.
func (t *telling) next() []string {
	best := t.found().Best
	top := best[0].Value()
	spot := t.Where(best[0].AtM)
	var rounds []Best
	var as []Best
	var said []string
	next := -1
	for i, b := range best[1:] {
		here, asGood := t.Where(b.AtM), b.Value() >= top*(1-alike)
		switch {
		case asGood && here.By == spot.By && here.Pass != spot.Pass:
			rounds = append(rounds, b)
		case asGood:
			as = append(as, b)
		case next < 0 && (here.By == "" || here.By != spot.By):
			next = i + 1
		}
	}
	slices.SortFunc(rounds, func(a, b Best) int { return cmp.Compare(a.AtM, b.AtM) })
	if len(rounds) > 0 {
		said = append(said, fmt.Sprintf("It is as good on %s.", few(each(rounds, func(b Best) string { return t.Where(b.AtM).Pass }))))
	}
	if len(as) > 0 {
		said = append(said, fmt.Sprintf("Not to be told apart from it: the use %s.", few(t.alike(as))))
	}
	if next > 0 {
		b := &best[next].Use
		said = append(said, fmt.Sprintf("Next comes the use %s with %s, %s less.", t.place(b.AtM), t.worth(b), span(top-b.Value())))
	}
	if said == nil {
		said = []string{"No other place stands out."}
	}
	return said
}

// alike tells of places that are as good as the best, those on other rounds of the same
// as one.
func (t *telling) alike(uses []Best) []string {
	var told []string
	var by []Spot
	for _, b := range uses {
		here := t.Where(b.AtM)
		if i := slices.IndexFunc(by, func(s Spot) bool { return s.By != "" && s.By == here.By }); i < 0 {
			by, told = append(by, here), append(told, fmt.Sprintf("%s (%s)", t.place(b.AtM), t.worth(&b.Use)))
		}
	}
	return told
}

// worth writes what a use is worth.
func (t *telling) worth(u *Use) string {
	if t.Aids[t.k].Moves() {
		return span(u.GainS)
	}
	return fmt.Sprintf("%s and %s", wording.Watts(u.Follower.AddedW), wording.ShortLength(u.Follower.OpensM))
}

// each returns what a function makes of each of a list.
func each[T any](list []T, of func(T) string) []string {
	out := make([]string, len(list))
	for i, v := range list {
		out[i] = of(v)
	}
	return out
}

// spentWays is on how many times the way of an aid after it its gain is mostly had.
const spentWays = 3

// worst tells the worst place, where it matters.
func (t *telling) worst() string {
	f := t.found()
	worst := f.Samples[0]
	for _, u := range f.Samples {
		// Close to the line there is no way left to gain on: that is told by sprint.
		way := f.Samples[len(f.Samples)-1].EndsM - u.EndsM
		if way > spentWays*(u.EndsM-u.AtM) && u.graded() < worst.graded() {
			worst = u
		}
	}
	switch top := f.Best[0].GainS; {
	case worst.GainS < 0:
		return fmt.Sprintf("Used %s it costs %s.", t.place(worst.AtM), span(worst.GainS))
	case worst.GainS < top/2:
		return fmt.Sprintf("Used %s it gains only %s.", t.place(worst.AtM), span(worst.GainS))
	}
	return fmt.Sprintf("It gains %s or more wherever it has the time to work.", span(worst.GainS))
}

// powers tells whether another power changes the best place.
func (t *telling) powers() []string {
	best := t.found().Best
	if len(best) < 2 || len(t.Cases[0].Others[t.k]) == 0 {
		return nil
	}
	var said []string
	for _, o := range t.Cases[0].Others[t.k] {
		if o.Best != 0 && t.Where(best[o.Best].AtM).By != t.Where(best[0].AtM).By {
			said = append(said, fmt.Sprintf("With %s power the better of these is %s (%s).", morePct(o.PowerPct), t.place(best[o.Best].AtM), span(o.GainS)))
		}
	}
	if said == nil {
		others := t.Cases[0].Others[t.k]
		said = []string{fmt.Sprintf("That order holds from %s power to %s.", morePct(others[0].PowerPct), morePct(others[len(others)-1].PowerPct))}
	}
	return said
}

// morePct writes a change in per cent: "10 % less".
func morePct(pct float64) string {
	if pct < 0 {
		return wording.Percent(-pct/100) + " less"
	}
	return wording.Percent(pct/100) + " more"
}

// bicycleM is the length of a bicycle (common practice).
const bicycleM = 1.7

// sprint tells what the aid is worth at the line, in metres.
func (t *telling) sprint() []string {
	sprints := t.Cases[0].Sprints[t.k]
	if len(sprints) == 0 {
		return nil
	}
	s := sprints[len(sprints)-1]
	said := fmt.Sprintf("Kept for %s and used %s before it, so that it just lasts, it is worth %s and %s at the line",
		t.Line, length(s.LineM-s.UseM), wording.ShortLength(s.AheadM()), wording.SpeedChange(s.FasterMps))
	switch {
	case math.Abs(s.AheadM()) < 0.05:
		said = fmt.Sprintf("Kept for %s it is worth nothing there", t.Line)
	case s.GainS <= 0:
		said = fmt.Sprintf("Used just before %s it costs %s at the line: don't", t.Line, wording.ShortLength(s.AheadM()))
	case s.AheadM() >= bicycleM:
		said += fmt.Sprintf(", more than a bicycle's length: where riders come to the line together that counts in places, though it is only %s; time gained earlier is given back wherever others shelter behind", span(s.GainS))
	default:
		said += ", less than a bicycle's length: little to decide a sprint with"
	}
	return []string{said + "."}
}

// length writes a length, below 10 m to a tenth.
func length(m float64) string {
	if m < 9.95 {
		return wording.ShortLength(m)
	}
	return wording.Metres(m)
}

// wake tells of an aid that only denies shelter.
func (t *telling) wake() []string {
	best := t.found().Best
	said := []string{
		fmt.Sprintf("%s takes most from who follows %s.", t.name, t.place(best[0].AtM)),
		t.behind(&best[0].Use),
	}
	said = append(said, t.next()...)
	worst := t.found().Samples[0]
	for _, u := range t.found().Samples {
		if u.EndsM < t.found().Samples[len(t.found().Samples)-1].EndsM && u.graded() < worst.graded() {
			worst = u
		}
	}
	if worst.Follower.LostS < best[0].Follower.LostS/2 {
		said = append(said, fmt.Sprintf("Used %s it takes only %s.", t.place(worst.AtM), t.worth(&worst)))
	}
	return said
}

// behind tells what a use does to who follows.
func (t *telling) behind(u *Use) string {
	f := u.Follower
	if f.AddedW < 0.5 && f.OpensM < 0.05 {
		return fmt.Sprintf("Who follows at %s there notices nothing.", wording.ShortLength(t.GapM))
	}
	return fmt.Sprintf("Who follows at %s needs %s more there to keep the wheel, %s in %s; who has no more to give loses %s while it works, %s.",
		wording.ShortLength(t.GapM), wording.Watts(f.AddedW), wording.Kilojoules(f.AddedJ), wording.Seconds(t.Aids[t.k].DurationS),
		wording.ShortLength(f.OpensM), span(f.LostS))
}

// mostListed is how many things are listed before the rest is only counted.
const mostListed = 4

// few lists things, of many only the first.
func few(things []string) string {
	if len(things) > mostListed {
		things = append(things[:mostListed-1:mostListed-1], fmt.Sprintf("%d more", len(things)-mostListed+1))
	}
	return wording.List(things...)
}

// without tells what comes before anybody has the aid.
func (t *telling) without() []string {
	first := t.Aids[t.k].FirstM()
	if first == 0 {
		return nil
	}
	said := fmt.Sprintf("Nobody has it before %s, %s into the ride", t.Position(first), wording.Clock(t.StartS[t.k]))
	if passes := t.Without[t.k]; len(passes) > 0 {
		said += ": without it go " + few(passes)
	}
	return []string{said + "."}
}

// elsewhere tells in what other riders and set-ups differ.
func (t *telling) elsewhere() []string {
	best := t.found().Best[0]
	low, high, n := best.GainS, best.GainS, 1
	var other []string
	for i := range t.Cases[1:] {
		c := &t.Cases[i+1]
		if c.Found[t.k] == nil || len(c.Found[t.k].Best) == 0 {
			other = append(other, "not at all for "+c.Who)
			continue
		}
		b := c.Found[t.k].Best[0]
		if b.FromM <= best.ToM+wideM && best.FromM <= b.ToM+wideM {
			n++
			low, high = min(low, b.GainS), max(high, b.GainS)
			continue
		}
		other = append(other, fmt.Sprintf("%s for %s (%s)", t.place(b.AtM), c.Who, span(b.GainS)))
	}
	switch {
	case len(t.Cases) == 1:
		return nil
	case len(other) == 0:
		gained := span(low)
		if span(high) != gained {
			gained += " to " + span(high)
		}
		return []string{fmt.Sprintf("The place is the same for all %d riders and set-ups, with %s gained.", n, gained)}
	}
	return []string{fmt.Sprintf("That is for %s; the best use is %s.", t.Cases[0].Who, few(other))}
}

// joint tells the best joint use.
func (f *Facts) joint() []string {
	j := f.Cases[0].Joint
	if j == nil || len(j.Uses) < 2 {
		return nil
	}
	uses := make([]string, len(j.Uses))
	for i, u := range j.Uses {
		uses[i] = fmt.Sprintf("%s at %s", f.Aids[u.Aid].Name, f.Position(u.AtM))
	}
	said := fmt.Sprintf("All that can be had together, one at a time: %s, %s in all", few(uses), span(j.GainS))
	switch alone := j.AloneS(); {
	case alone > (1+alike)*j.GainS:
		said += fmt.Sprintf(", less than the %s that they gain one by one, because they work close to each other", span(alone))
	case alone < (1-alike)*j.GainS:
		said += fmt.Sprintf(", more than the %s that they gain one by one", span(alone))
	}
	return []string{said + "."}
}
