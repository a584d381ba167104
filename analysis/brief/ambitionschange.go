package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/choice"
)

// ChangeAnswer is a change of bike as it was asked for; what it comes to stands in the
// verdicts, at the same index.
type ChangeAnswer struct {
	// From and To are set-ups.
	From, To int
	// Spots are the places that were tried, in order.
	Spots []Place
	// Stops says that the rider stands meanwhile.
	Stops bool
}

// changeLine tells what a change of bike comes to.
func (w teller) changeLine(i int) []said {
	a := w.Setups
	c := a.Changes[i]
	label := say("{} from {} to {}", strong(words("Bike change")), w.setup(c.From), w.setup(c.To))
	spot := w.commonSpot(i)
	if spot >= 0 {
		label = say("{} {}", label, w.bestSpot(i, spot))
	}
	if len(a.Riders) > 1 {
		return []said{{rankChange, say("{}: {}.", label, w.changed(i, spot < 0))}}
	}
	changed := a.Riders[0].Verdict.Changes[i]
	if changed.Best < 0 {
		return []said{{rankChange, say("{}: nobody can say, there is a halt.", label)}}
	}
	t, fact := changed.Trials[changed.Best], changeFact(0, i)
	return []said{
		{rankChange, say("{}: {}.", label, w.outcome(fact, t))},
		{rankChange, w.breakEven(fact, c, t)},
		{rankOpened, w.opened(fact, t)},
		{rankOpened, w.throughout(fact, c, t)},
	}
}

func changeFact(rider, change int) string {
	return fmt.Sprintf("comparison.rider-%d.change-%d", rider+1, change+1)
}

// atSpot says where a change is made.
func (w teller) atSpot(c ChangeAnswer, spot int) phrase {
	p := c.Spots[spot]
	if p.Of == AtClimb {
		return say("at the foot of {}", w.placeOn(p))
	}
	return say("at {}", w.placeOn(p))
}

// bestSpot is atSpot with how many places were tried, of several the best.
func (w teller) bestSpot(change, best int) phrase {
	c := w.Setups.Changes[change]
	if len(c.Spots) == 1 {
		return w.atSpot(c, best)
	}
	return say("{}, the best of {} places", w.atSpot(c, best), w.count(fmt.Sprintf("comparison.change-%d.tried", change+1), len(c.Spots)))
}

// commonSpot is the place that is best for all riders who can change, −1 where that differs.
func (w teller) commonSpot(change int) int {
	spot := -1
	for _, r := range w.Setups.Riders {
		switch best := r.Verdict.Changes[change].Best; {
		case best < 0:
		case spot >= 0 && spot != best:
			return -1
		default:
			spot = best
		}
	}
	return spot
}

// outcome says whether a change pays, and what it is made of.
func (w teller) outcome(fact string, t choice.Trial) phrase {
	gain := w.seconds(fact+".gain_s", t.Gain.S)
	switch {
	case t.Gain.Tied:
		return say("not to be told from none, anything from {} to {}", w.signed(fact+".low_s", t.Gain.LowS), w.signed(fact+".high_s", t.Gain.HighS))
	case t.Gain.S > 0:
		return say("it pays by {}, {} lost and {} won", gain, w.seconds(fact+".lost_s", t.LostS), w.seconds(fact+".won_s", t.WonS))
	case t.WonS > 0:
		return say("it costs {}, {} lost and only {} won", gain, w.seconds(fact+".lost_s", t.LostS), w.seconds(fact+".won_s", t.WonS))
	}
	return say("it costs {}, and the other bike isn't faster from there on", gain)
}

// breakEven says how much standing a change may take.
func (w teller) breakEven(fact string, c ChangeAnswer, t choice.Trial) phrase {
	even := w.seconds(fact+".break_even_standing_s", t.BreakEvenS)
	switch {
	case !c.Stops:
		return phrase{}
	case t.BreakEvenS <= 0:
		return words("It wouldn't pay with no standing at all.")
	case t.Gain.S > 0:
		return say("It pays with up to {} of standing.", even)
	}
	return say("It would pay with less than {} of standing.", even)
}

// leastOpenedS is the gap from which it is worth a sentence.
const leastOpenedS = 0.5

// opened says what gap a change opens to those who ride on.
func (w teller) opened(fact string, t choice.Trial) phrase {
	if t.OpenedS < leastOpenedS {
		return phrase{}
	}
	level := words("not closed by the finish")
	if !math.IsNaN(t.LevelAtM) {
		level = say("closed after {}", w.length(fact+".level_after_m", t.LevelAtM-t.AtM))
	}
	return say("Those who ride on get {} ahead ({}), {}.", w.seconds(fact+".opened_s", t.OpenedS), w.length(fact+".opened_m", t.OpenedM), level)
}

// throughout says where another set-up from start to finish is faster still.
func (w teller) throughout(fact string, c ChangeAnswer, t choice.Trial) phrase {
	places := w.Setups.Riders[0].Verdict.Rankings[w.Setups.Finish].Places
	if t.Gain.S <= 0 || t.Gain.Tied || t.OverBestS >= 0 || len(places) == 0 || places[0].Setup == c.From {
		return phrase{}
	}
	return say("But {} from start to finish is {} faster still.", w.setup(places[0].Setup), w.seconds(fact+".against_best_s", t.OverBestS))
}

// changed says whom of several riders a change pays, and where if that differs.
func (w teller) changed(i int, severally bool) phrase {
	a := w.Setups
	var groups []grouped
	for k, r := range a.Riders {
		who, c := w.answered(k), r.Verdict.Changes[i]
		if c.Best < 0 {
			groups = gather(groups, words("can't be judged"), say("{} (a halt)", who))
			continue
		}
		t, fact := c.Trials[c.Best], changeFact(k, i)
		gain := w.seconds(fact+".gain_s", t.Gain.S)
		if severally {
			gain = say("{} {}", gain, w.atSpot(a.Changes[i], c.Best))
		}
		switch {
		case t.Gain.Tied && t.Gain.S >= 0:
			groups = gather(groups, words("can't be told from none"), say("{} (gains {})", who, gain))
		case t.Gain.Tied:
			groups = gather(groups, words("can't be told from none"), say("{} (loses {})", who, gain))
		case t.Gain.S > 0:
			groups = gather(groups, words("pays"), say("{} (gains {}{})", who, gain, w.upTo(fact, a.Changes[i], t)))
		default:
			groups = gather(groups, words("doesn't pay"), say("{} (loses {}{})", who, gain, w.upTo(fact, a.Changes[i], t)))
		}
	}
	return w.gathered(fmt.Sprintf("comparison.change-%d", i+1), groups)
}

// upTo says how much standing pays.
func (w teller) upTo(fact string, c ChangeAnswer, t choice.Trial) phrase {
	if !c.Stops || t.BreakEvenS <= 0 {
		return phrase{}
	}
	even := w.seconds(fact+".break_even_standing_s", t.BreakEvenS)
	if t.Gain.S > 0 {
		return say(", with up to {} of standing", even)
	}
	return say(", unless standing takes less than {}", even)
}
