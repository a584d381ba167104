package choice

import (
	"fmt"
	"math"
	"strings"

	"parcours.example/analysis/wording"
)

// changed tells the i-th change.
func (w *teller) changed(i int) {
	c, changed := &w.Changes[i], &w.told.Verdict.Changes[i]
	swap := fmt.Sprintf("from %s to %s", w.name(c.From), w.name(c.To))
	if changed.Best < 0 {
		w.say("Nobody can say what a change %s is worth: there is a halt.", swap)
		return
	}
	t, spot := &changed.Trials[changed.Best], c.Spots[changed.Best].Name
	at := "at " + spot
	if len(c.Spots) > 1 {
		at = fmt.Sprintf("at its best place, %s,", spot)
	}
	switch {
	case t.Gain.Tied:
		w.say("A change %s %s can't be told from none: %s, and by the inputs anything from %s.", swap, at, t.outcome(), spanned(t.Gain))
	case t.Gain.S > 0:
		w.say("A change %s %s pays by %s: %s.", swap, at, wording.Seconds(t.Gain.S), t.books())
	default:
		w.say("A change %s %s doesn't pay, it loses %s: %s.", swap, at, wording.Seconds(t.Gain.S), t.books())
	}
	w.breakEven(c, t)
	w.gap(t)
	w.throughout(c, t)
}

// outcome says what a change gains or loses.
func (t *Trial) outcome() string {
	switch {
	case math.Abs(t.Gain.S) < leastGapS:
		return "it gains nothing"
	case t.Gain.S > 0:
		return "it gains " + wording.Seconds(t.Gain.S)
	}
	return "it loses " + wording.Seconds(t.Gain.S)
}

// books says what is lost against what is won.
func (t *Trial) books() string {
	won := "wins " + wording.Seconds(t.WonS)
	if t.WonS < 0 {
		won = "loses another " + wording.Seconds(t.WonS)
	}
	if t.LostS < leastGapS {
		return "the other bike " + won + " from there on"
	}
	lost := []string{wording.Seconds(t.GoingS) + " braking and getting up to speed"}
	if t.StandingS > 0 {
		lost = append([]string{wording.Seconds(t.StandingS) + " standing"}, lost...)
	}
	if t.AloneS > 0 {
		lost = append(lost, wording.Seconds(t.AloneS)+" for the lost shelter")
	}
	return fmt.Sprintf("%s are lost (%s), and the other bike %s from there on", wording.Seconds(t.LostS), strings.Join(lost, ", "), won)
}

// breakEven says with how much standing a change pays exactly.
func (w *teller) breakEven(c *Change, t *Trial) {
	switch {
	case !c.Stops:
	case t.BreakEvenS <= 0:
		w.say("It wouldn't pay with no standing at all.")
	case t.Gain.S > 0:
		w.say("It pays with up to %s of standing.", wording.Seconds(t.BreakEvenS))
	default:
		w.say("It would pay with less than %s of standing.", wording.Seconds(t.BreakEvenS))
	}
}

// leastToldS is the gap in s from which it is worth a sentence.
const leastToldS = 0.5

// gap says what the change opens to those who ride on.
func (w *teller) gap(t *Trial) {
	if t.OpenedS < leastToldS {
		return
	}
	level := "which isn't closed by the finish"
	if !math.IsNaN(t.LevelAtM) {
		level = fmt.Sprintf("closed after %s", wording.Metres(t.LevelAtM-t.AtM))
		if t.Gain.S < -leastGapS {
			level += " and opened again before the finish"
		}
	}
	w.say("It opens a gap of %s, %s, to a companion who rides on, %s.", wording.Seconds(t.OpenedS), wording.Metres(t.OpenedM), level)
}

// throughout says where a set-up without any change is faster still.
func (w *teller) throughout(c *Change, t *Trial) {
	places := w.told.Verdict.Rankings[w.Finish].Places
	best := places[0]
	if t.Gain.S <= leastGapS || best.Setup == c.From {
		return
	}
	if t.OverBestS < -leastGapS {
		w.say("But %s from start to finish is faster still, by %s.", w.name(best.Setup), wording.Seconds(t.OverBestS))
	} else {
		w.say("It is also %s faster than %s from start to finish.", wording.Seconds(t.OverBestS), w.name(best.Setup))
	}
}
