package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// Ascent per distance, in m/km, from which a course without a climb rolls, and
// from which it is never level. Our choice: a flat stage of a day's race lies
// below the first, hilly ones above the second.
const (
	rollingFrom = 4.0
	hillyFrom   = 10.0
)

// Shares of the climbing before the last climb at which the wording changes.
const (
	mostBefore = 0.6
	muchBefore = 0.3
)

// lead is the opening paragraph: what the course is and what decides it.
func (w writer) lead() block {
	decides := rankDecides
	if w.tired() {
		decides = rankSurprise
	}
	return opens(
		said{rankDistance, w.distance()},
		said{rankPlan, w.plan()},
		said{rankFinish, w.otherCircuits()},
		said{decides, w.decides()},
		said{rankKeySections, w.hardestPart()},
		said{rankFinish, w.shareOfMountains()},
		said{rankFinish, w.lastBend()},
		said{rankFinish, w.finish()},
		said{rankTimesLead, w.timesLead()},
	)
}

// tired reports whether the course ends on the climb that decides, after most of
// its climbing.
func (w writer) tired() bool {
	key := w.key()
	return key >= 0 && endsAtLine(w.in.Terrain.Climbs[key]) && w.in.Terrain.Climbing.ShareBeforeLastClimb >= mostBefore
}

// distance is the first sentence: how far, how it runs where that is short, and how
// much of it goes up.
func (w writer) distance() phrase {
	c := w.in.Course
	ascent := c.AscentM(0, c.LengthM())
	way := say("{}{}", w.length("distance_m", c.LengthM()), w.shortPlan())
	switch {
	case w.counts(ascent):
		return say("{}, climbing {}.", way, w.height("ascent_m", ascent))
	case c.HasElevation():
		return say("{} without any climbing.", way)
	}
	return say("{}.", way)
}

// shortPlan says how the course runs where a few words do.
func (w writer) shortPlan() phrase {
	c := w.in.Course
	switch {
	case w.onlyLaps():
		return say(" in {}", w.lapCount())
	case c.Shape == course.Lapped || c.Shape == course.Lollipop:
		return phrase{}
	case w.kind() == kindStraightLine:
		return words(" in a straight line")
	case w.kind() == kindHillClimb:
		return words(" uphill")
	case c.Shape == course.OutAndBack:
		return words(" out and back")
	case c.Shape == course.Circuit:
		return words(" in one loop")
	}
	return words(" point to point")
}

// onlyLaps reports whether the course is laps and nothing worth telling besides.
func (w writer) onlyLaps() bool {
	return w.in.Course.Shape == course.Lapped && !telling(w.partOf(course.LeadIn)) && !telling(w.partOf(course.RunOut))
}

// lapCount says how many laps there are, and how long they are.
func (w writer) lapCount() phrase {
	l := w.in.Course.Laps
	return say("{} {} of {}", w.count("laps.count", l.Count), plural("lap", l.Count), w.length("laps.length_m", l.LengthM))
}

// plan says in a sentence how the course runs, where the first one can't.
func (w writer) plan() phrase {
	switch {
	case w.in.Course.Shape == course.Lapped && !w.onlyLaps():
		return w.lapPlan()
	case w.in.Course.Shape == course.Lollipop:
		return words("It goes out to a loop, once round it, and back the way it came.")
	}
	return phrase{}
}

// lapPlan names lead-in, laps and run-out in the order they are ridden.
func (w writer) lapPlan() phrase {
	in, out := w.partOf(course.LeadIn), w.partOf(course.RunOut)
	leadIn, runOut := w.length("lead_in.length_m", in.EndM-in.StartM), w.length("run_out.length_m", out.EndM-out.StartM)
	switch {
	case telling(in) && telling(out):
		return say("A lead-in of {}, {}, then {} to the line.", leadIn, w.lapCount(), runOut)
	case telling(in):
		return say("A lead-in of {}, then {}.", leadIn, w.lapCount())
	}
	return capital(say("{}, then {} to the line.", w.lapCount(), runOut))
}

// otherCircuits names the circuits that are ridden for laps on the lead-in or the
// run-out.
func (w writer) otherCircuits() phrase {
	var told []phrase
	for i, o := range w.in.Course.OtherCircuits {
		where, fact := "lead-in", fmt.Sprintf("other_circuits-%d", i+1)
		if o.StartM >= w.in.Course.Laps.StartM {
			where = "run-out"
		}
		told = append(told, say("the {} holds {} {} of {}", words(where), w.count(fact+".count", o.Count), plural("lap", o.Count),
			w.length(fact+".length_m", o.LengthM)))
	}
	if told == nil {
		return phrase{}
	}
	return capital(say("{}.", list(told...)))
}

// decides says what the race turns on.
func (w writer) decides() phrase {
	key := w.key()
	switch {
	case w.kind() == kindStraightLine:
		return say("The file has {} points and no elevations: nothing is known of the road between them.",
			w.count("quality.points_read", w.in.Course.Quality.PointsRead))
	case !w.in.Course.HasElevation():
		return words("The file has no elevations, so its climbs can't be told.")
	case w.kind() == kindHillClimb:
		return w.oneClimb(key)
	case key < 0:
		return w.withoutClimb()
	case endsAtLine(w.in.Terrain.Climbs[key]):
		return w.climbToTheLine(key)
	}
	return w.hardestClimb(key)
}

// withoutClimb says what wears riders down where no climb does.
func (w writer) withoutClimb() phrase {
	perKm, kind := w.ascentPerKm(), w.kind()
	switch {
	case perKm < rollingFrom && kind == kindTimeTrial && w.in.Indoor:
		return words("It is flat: pacing decides.")
	case perKm < rollingFrom && kind == kindTimeTrial:
		return words("It is flat: pacing decides, and the wind turns round with the road.")
	case kind == kindTimeTrial:
		return words("It rolls without a climb of note: what falls on the way out rises on the way back.")
	case perKm < hillyFrom && kind == kindCriterium && w.in.Indoor:
		return words("No climb: position and the sprint are likely to decide.")
	case perKm < hillyFrom && kind == kindCriterium:
		return words("No climb: position, bends and the sprint are likely to decide.")
	case kind == kindCriterium:
		return words("No climb stands out, but the same rises lap after lap wear riders down.")
	case perKm < rollingFrom:
		return words("It is flat, with no climb of note: position and the sprint are likely to decide.")
	case perKm < hillyFrom:
		return words("It rolls without a climb of note: short rises wear riders down rather than one hill.")
	}
	return words("No climb stands out, but the road is never level for long: it wears riders down bit by bit.")
}

// oneClimb tells a hill climb, and where it is hardest.
func (w writer) oneClimb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	mean := w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct)
	if w.isWholeCourse(c.Stretch) {
		return say("One climb at {} from bottom to top, and the line is its summit.", mean)
	}
	return say("After a run-in of {} it is one climb to the line: {}.", w.length(c.ID+".pass-1.at_m", c.StartM), w.shortClimb(i))
}

// climbToTheLine weighs the last climb against what comes before it. A finish at
// the top doesn't make the way there flat: three quarters of the climbing can come
// first.
func (w writer) climbToTheLine(i int) phrase {
	c, share := w.in.Terrain.Climbs[i], w.in.Terrain.Climbing.ShareBeforeLastClimb
	climb := w.riddenClimb(i)
	before := w.share("share_before_last_climb", share)
	switch {
	case math.IsNaN(share) || share < 0.005:
		return say("It finishes up {}, and all the climbing is there.", climb)
	case len(c.Passes) > 1 && share >= mostBefore:
		return say("It finishes up {}; {} of the climbing comes before the last time, which starts on tired legs.", climb, before)
	case len(c.Passes) > 1 && share >= muchBefore:
		return say("It finishes up {}; {} of the climbing comes before the last time.", climb, before)
	case share < muchBefore:
		return say("It finishes up {}, and most of the climbing is there: only {} comes before.", climb, before)
	case share >= mostBefore:
		return say("It finishes up {}, but {} of the climbing comes before.", climb, before)
	}
	return say("It finishes up {}; {} of the climbing comes before.", climb, before)
}

// hardestClimb tells the climb that hurts most and what is left after it.
func (w writer) hardestClimb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	toGo := w.in.Course.LengthM() - c.Passes[len(c.Passes)-1].EndM
	left := say("{}{} to go", only(toGo), w.length(c.ID+".last_top_to_finish_m", toGo))
	n := w.mainClimbs()
	switch climb := w.riddenClimb(i); {
	case n > 1 && len(c.Passes) == 1 && !cutShort(c):
		return say("The hardest of {} climbs, {}, ends with {}.", w.count("climbs", n), climb, left)
	case n > 1:
		return say("The hardest of {} climbs is {}; {}.", w.count("climbs", n), climb, w.top(c, left))
	case w.nameless(i):
		return say("There is {}; {}.", climb, w.top(c, left))
	default:
		return say("There is one climb, {}; {}.", climb, w.top(c, left))
	}
}

// top says where the last top of a climb is, with what is left then.
func (w writer) top(c terrain.Climb, left phrase) phrase {
	switch {
	case cutShort(c):
		return words("the last time the line comes before the top")
	case len(c.Passes) > 1:
		return say("its last top comes with {}", left)
	}
	return say("its top comes with {}", left)
}

// only stresses a distance to the line that a rider away can hold.
func only(toGo float64) phrase {
	if toGo <= 3000 {
		return words("only ")
	}
	return phrase{}
}
