package brief

import (
	"cmp"
	"fmt"
	"slices"

	"parcours.example/analysis/aid"
)

// AidAnswer is where aids are worth most.
type AidAnswer struct {
	// Names are untrusted and stand in the order of Aids.
	Names []string
	Aids  []aid.Aid
	// At is where gains are taken.
	At Place
	// StartM is where the ride starts on the course: all positions of what was found count
	// from there.
	StartM float64
	// Lines are those to which aids are kept, in the order of the road.
	Lines []Place
	// Cases are those of riders on set-ups that get over the course.
	Cases []AidCase
}

// AidCase is one rider on one set-up.
type AidCase struct {
	// Ride counts the rides of the answer from 0, RiderIndex and SetupIndex those of the
	// request; Rider and Setup are names, untrusted.
	Ride, RiderIndex, SetupIndex int
	Rider, Setup                 string
	// Found is nil for an aid that brings the rider to a halt.
	Found []*aid.Found
	// Sprints are by aid and line; nil for lines before the aid can be had.
	Sprints [][]*aid.Sprint
	// Joint is nil where there is none.
	Joint *aid.Joint
}

// leastAheadM is what an aid must be worth at a line to be told.
const leastAheadM = 0.05

// worth reports whether an aid that is kept for a line is worth anything there.
func (a *AidAnswer) worth(line int) bool {
	if len(a.Cases) == 0 || a.Lines[line].Of == AtFinish {
		return false
	}
	return slices.ContainsFunc(a.Cases[0].Sprints, func(of []*aid.Sprint) bool {
		return len(of) > line && of[line] != nil && of[line].AheadM() >= leastAheadM
	})
}

// aidLines tells where aids are worth most for a goal.
func (w teller) aidLines(g goal) [][]said {
	a := w.Aids
	if a == nil {
		return nil
	}
	var lines [][]said
	for k := range a.Aids {
		switch {
		case g.aids:
			lines = append(lines, w.aid(k))
		case g.sprint >= 0:
			lines = append(lines, []said{{rankAidAtLine, w.keptFor(k, g.sprint)}})
		}
	}
	if g.aids {
		lines = append(lines, []said{{rankAidAtLine, w.joint()}})
	}
	return lines
}

func aidFact(ride, k int) string { return fmt.Sprintf("aids.ride-%d.aid-%d", ride+1, k+1) }

// aidName is an aid's, in the front of a line.
func (w teller) aidName(k int) phrase { return w.or(w.Aids.Names[k], "aid", "aid", k) }

// aid tells where one aid is worth most.
func (w teller) aid(k int) []said {
	a, label := w.Aids, strong(capital(w.aidName(k)))
	if len(a.Cases) == 0 {
		return []said{{rankAid, say("{}: no rider gets over the course at this effort.", label)}}
	}
	c := a.Cases[0]
	found := c.Found[k]
	switch {
	case found == nil:
		return []said{{rankAid, say("{}: leave it alone, with it {} comes to a halt.", label, w.aided(c))}}
	case len(found.Samples) == 0:
		return []said{{rankAid, say("{}: nobody has it before {}.", label, w.placeOn(a.At))}}
	case !a.Aids[k].Moves() && !a.Aids[k].Denies():
		return []said{{rankAid, say("{}: it changes nothing.", label)}}
	case len(found.Best) == 0:
		return []said{{rankAid, say("{}: it gains nothing anywhere, leave it alone.", label)}, {rankAidLess, w.earned(k)}}
	}
	return []said{
		{rankAid, say("{}: {}.", label, w.bestUse(c, k))},
		{rankAidLess, w.others(k)},
		{rankAidLess, w.nextUse(c, k)},
		{rankAidAtLine, w.keptHere(c, k)},
		{rankAidLess, w.earned(k)},
	}
}

// aided names the rider of a case, with the set-up where there are several.
func (w teller) aided(c AidCase) phrase {
	a := w.Aids
	who := w.or(c.Rider, "rider", "rider", c.RiderIndex)
	if slices.ContainsFunc(a.Cases, func(other AidCase) bool { return other.SetupIndex != c.SetupIndex }) {
		return say("{} on {}", who, w.or(c.Setup, "set-up", "setup", c.SetupIndex))
	}
	return who
}

// bestUse tells the best place of an aid.
func (w teller) bestUse(c AidCase, k int) phrase {
	a, fact, best := w.Aids, aidFact(c.Ride, k), c.Found[k].Best[0]
	where := w.whereabouts(fact, best.AtM+a.StartM)
	if !a.Aids[k].Moves() {
		return say("takes most from who follows {}: {}", where, w.follower(fact, best.Use))
	}
	gain := w.seconds(fact+".gain_s", best.GainS)
	told := say("worth most {}, {}{}", where, gain, w.gainedAt(a.At))
	if a.Aids[k].Denies() {
		told = say("{}; {}", told, w.follower(fact, best.Use))
	}
	return told
}

// gainedAt says where gains are taken, where that isn't the finish.
func (w teller) gainedAt(p Place) phrase {
	switch {
	case w.plain(p).Of == AtFinish:
		return words(" at the finish")
	case p.StartM < p.EndM:
		return say(" over {}", w.placeOn(p))
	}
	return say(" at {}", w.placeOn(p))
}

// follower tells what a use does to who follows.
func (w teller) follower(fact string, u aid.Use) phrase {
	f := u.Follower
	if f.AddedW < 0.5 && f.OpensM < leastAheadM {
		return words("who follows notices nothing there")
	}
	return say("who follows needs {} more to hold the wheel, or loses {}", w.power(fact+".follower_added_w", f.AddedW), w.fine(fact+".follower_opens_m", f.OpensM))
}

// others tells in what other riders and set-ups differ.
func (w teller) others(k int) phrase {
	a := w.Aids
	best := a.Cases[0].Found[k].Best[0]
	low, high, same := 0, 0, 1
	var told []phrase
	for i, c := range a.Cases[1:] {
		found := c.Found[k]
		switch {
		case found == nil || len(found.Best) == 0:
			told = append(told, say("{} gains nothing by it", w.aided(c)))
		case found.Best[0].FromM > best.ToM+aheadM || best.FromM > found.Best[0].ToM+aheadM:
			told = append(told, say("for {} it is {} ({})", w.aided(c), w.whereabouts(aidFact(c.Ride, k), found.Best[0].AtM+a.StartM), w.worthOf(c, k)))
		default:
			same++
			if cmp.Less(found.Best[0].Value(), a.Cases[low].Found[k].Best[0].Value()) {
				low = i + 1
			}
			if cmp.Less(a.Cases[high].Found[k].Best[0].Value(), found.Best[0].Value()) {
				high = i + 1
			}
		}
	}
	switch {
	case len(a.Cases) == 1:
		return phrase{}
	case told == nil && w.worthOf(a.Cases[low], k).text == w.worthOf(a.Cases[high], k).text:
		return words("It is the same for all.")
	case told == nil:
		return say("The place is the same for all, from {} ({}) to {} ({}).", w.worthOf(a.Cases[low], k), w.aided(a.Cases[low]), w.worthOf(a.Cases[high], k), w.aided(a.Cases[high]))
	}
	return say("That is for {}; {}.", w.aided(a.Cases[0]), w.few(fmt.Sprintf("aids.aid-%d.more", k+1), told))
}

// worthOf is what the best use is worth in a case.
func (w teller) worthOf(c AidCase, k int) phrase {
	best, fact := c.Found[k].Best[0], aidFact(c.Ride, k)
	if w.Aids.Aids[k].Moves() {
		return w.seconds(fact+".gain_s", best.GainS)
	}
	return w.fine(fact+".follower_opens_m", best.Follower.OpensM)
}

// asGood is the share of the best use that another must be worth to be told as as good.
const asGood = 0.95

// nextUse tells the places that are as good as the best, or the next one after it.
func (w teller) nextUse(c AidCase, k int) phrase {
	found, a := c.Found[k], w.Aids
	fact := aidFact(c.Ride, k) + ".next"
	alike := -1
	for _, b := range found.Best {
		if b.Value() >= asGood*found.Best[0].Value() {
			alike++
		}
	}
	switch {
	case len(found.Best) < 2 || !a.Aids[k].Moves():
		return phrase{}
	case alike == 1:
		return say("It is about as good {}.", w.whereabouts(fact, found.Best[1].AtM+a.StartM))
	case alike > 1:
		return say("It is about as good at {} other places.", w.count(fact+".alike", alike))
	}
	next := found.Best[1]
	return say("Next best is {}, {} less.", w.whereabouts(fact, next.AtM+a.StartM), w.seconds(fact+".behind_s", found.Best[0].Value()-next.Value()))
}

// keptHere tells what an aid is worth that is kept for the line of the goal.
func (w teller) keptHere(c AidCase, k int) phrase {
	kept, ahead, is := w.kept(c, k, len(c.Sprints[k])-1)
	if !is {
		return phrase{}
	}
	return say("Kept for the line and used {} before it, it is worth {} there.", kept, ahead)
}

// keptFor tells what an aid is worth at another line.
func (w teller) keptFor(k, line int) phrase {
	kept, ahead, is := w.kept(w.Aids.Cases[0], k, line)
	if !is {
		return phrase{}
	}
	return say("{} used {} before the line{}: worth {} there.", strong(capital(w.aidName(k))), kept, w.onPass(w.Aids.Lines[line]), ahead)
}

// kept returns how far before a line an aid is used that lasts just up to it, and how far
// ahead that brings; false where it is worth nothing there.
func (w teller) kept(c AidCase, k, line int) (before, ahead phrase, is bool) {
	if line < 0 || len(c.Sprints[k]) <= line || c.Sprints[k][line] == nil || c.Sprints[k][line].AheadM() < leastAheadM {
		return phrase{}, phrase{}, false
	}
	s, fact := c.Sprints[k][line], fmt.Sprintf("%s.line-%d", aidFact(c.Ride, k), line+1)
	return w.length(fact+".before_m", s.LineM-s.UseM), w.fine(fact+".ahead_m", s.AheadM()), true
}

// earned tells from where on an aid can be had.
func (w teller) earned(k int) phrase {
	a := w.Aids
	first := a.Aids[k].FirstM()
	if first == 0 {
		return phrase{}
	}
	return say("Nobody has it before {}.", w.position(fmt.Sprintf("aids.aid-%d.first_at_m", k+1), first+a.StartM))
}

// joint tells the best use of all aids together.
func (w teller) joint() phrase {
	a := w.Aids
	if len(a.Cases) == 0 || a.Cases[0].Joint == nil || len(a.Cases[0].Joint.Uses) < 2 {
		return phrase{}
	}
	c := a.Cases[0]
	uses := make([]phrase, len(c.Joint.Uses))
	for i, u := range c.Joint.Uses {
		uses[i] = say("{} at {}", w.aidName(u.Aid), w.position(fmt.Sprintf("aids.ride-%d.joint-%d.at_m", c.Ride+1, i+1), u.AtM+a.StartM))
	}
	fact := fmt.Sprintf("aids.ride-%d.joint", c.Ride+1)
	gain := w.seconds(fact+".gain_s", c.Joint.GainS)
	if len(a.Aids) == 1 {
		return say("{}, {}: {} in all.", strong(words("As often as it is earned")), w.times(fact+".uses", len(uses)), gain)
	}
	return say("{}, one at a time: {}, {} in all.", strong(words("All together")), w.few(fact+".more", uses), gain)
}
