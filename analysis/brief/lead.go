package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/course"
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
		said{rankPlan, w.otherCircuits()},
		said{decides, w.decides()},
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

// distance is the first sentence: how far, and how much of it up.
func (w writer) distance() phrase {
	c := w.in.Course
	length := w.length("distance_m", c.LengthM())
	ascent := c.AscentM(0, c.LengthM())
	switch {
	case w.counts(ascent):
		return say("{} with {} of climbing.", length, w.height("ascent_m", ascent))
	case c.HasElevation():
		return say("{} without any climbing.", length)
	}
	return say("{} in all.", length)
}

// plan says in a sentence how the course runs.
func (w writer) plan() phrase {
	c := w.in.Course
	switch c.Shape {
	case course.Lapped:
		return w.lapPlan()
	case course.OutAndBack:
		return words("It goes out and comes back on the same road.")
	case course.Lollipop:
		return words("It goes out to a loop, once round it, and back the way it came.")
	case course.Circuit:
		return words("It is one loop that ends where it starts.")
	}
	return words("It runs point to point.")
}

// lapPlan names lead-in, laps and run-out in the order they are ridden.
func (w writer) lapPlan() phrase {
	c := w.in.Course
	laps := say("{} {} of {}", w.count("laps.count", c.Laps.Count), plural("lap", c.Laps.Count),
		w.length("laps.length_m", c.Laps.LengthM))
	in, out := w.partOf(course.LeadIn), w.partOf(course.RunOut)
	switch hasIn, hasOut := telling(in), telling(out); {
	case hasIn && hasOut:
		return say("A lead-in of {}, {}, then {} to the line.", w.length("lead_in.length_m", in.EndM-in.StartM), laps,
			w.length("run_out.length_m", out.EndM-out.StartM))
	case hasIn:
		return say("A lead-in of {}, then {}.", w.length("lead_in.length_m", in.EndM-in.StartM), laps)
	case hasOut:
		return capital(say("{}, then {} to the line.", laps, w.length("run_out.length_m", out.EndM-out.StartM)))
	}
	return capital(say("{}.", laps))
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
	case !w.in.Course.HasElevation():
		return words("The file has no elevations, so its climbs can't be told.")
	case key < 0:
		return w.withoutClimb()
	case endsAtLine(w.in.Terrain.Climbs[key]):
		return w.climbToTheLine(key)
	}
	return w.hardestClimb(key)
}

func (w writer) withoutClimb() phrase {
	c := w.in.Course
	switch perKm := 1000 * c.AscentM(0, c.LengthM()) / c.LengthM(); {
	case perKm < rollingFrom && c.Shape == course.OutAndBack:
		return words("It is flat, with no climb of note: an even effort decides, and the wind turns round with the road.")
	case perKm < rollingFrom:
		return words("It is flat, with no climb of note: position and the sprint are likely to decide.")
	case perKm < hillyFrom:
		return words("It rolls without a climb of note: short rises wear riders down rather than one hill.")
	}
	return words("No climb stands out, but the road is never level for long: it wears riders down bit by bit.")
}

// climbToTheLine weighs the last climb against what comes before it. A finish at
// the top doesn't make the way there flat: three quarters of the climbing can come
// first.
func (w writer) climbToTheLine(i int) phrase {
	c, share := w.in.Terrain.Climbs[i], w.in.Terrain.Climbing.ShareBeforeLastClimb
	climb := w.riddenClimb(i)
	before := w.share("share_before_last_climb", share)
	switch {
	case c.LengthM() > 0.9*w.in.Course.LengthM():
		return say("It is one climb at {} from bottom to top, and the line is its summit.",
			w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct))
	case math.IsNaN(share) || share < 0.005:
		return say("It finishes up {}, and all the climbing is there.", climb)
	case len(c.Passes) > 1 && share >= muchBefore:
		return say("It finishes up {}; {} of the climbing comes before the last time.", climb, before)
	case share < muchBefore:
		return say("It finishes up {}, and most of the climbing is there: only {} comes before.", climb, before)
	}
	return say("It finishes up {}; {} of the climbing comes before.", climb, before)
}

// hardestClimb tells the climb that hurts most and what is left after it.
func (w writer) hardestClimb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	last := c.Passes[len(c.Passes)-1]
	toGo := w.in.Course.LengthM() - last.EndM
	climb := w.riddenClimb(i)
	top := say("its top comes with {}{} to go", only(toGo), w.length(c.ID+".last_top_to_finish_m", toGo))
	switch {
	case cutShort(c):
		top = words("the last time the line comes before the top")
	case len(c.Passes) > 1:
		top = say("its last top comes with {}{} to go", only(toGo), w.length(c.ID+".last_top_to_finish_m", toGo))
	}
	if n := w.mainClimbs(); n > 1 {
		return say("The hardest of {} climbs is {}; {}.", w.count("climbs", n), climb, top)
	}
	if w.nameless(i) {
		return say("There is {}; {}.", climb, top)
	}
	return say("There is one climb, {}; {}.", climb, top)
}

// only stresses a distance to the line that a rider away can hold.
func only(toGo float64) phrase {
	if toGo <= 3000 {
		return words("only ")
	}
	return phrase{}
}

// finish says how the course ends where decides doesn't.
func (w writer) finish() phrase {
	const last = 500
	c := w.in.Course
	end := c.LengthM()
	final := w.finalClimb()
	switch {
	case !c.HasElevation() || end < 2*last:
		return phrase{}
	case w.tired():
		return words("The way there is not flat, and the last climb starts on tired legs.")
	case final >= 0 && final == w.key():
		return phrase{}
	case final >= 0:
		return say("It finishes up {}.", w.shortClimb(final))
	}
	pct := 100 * (c.ElevationAt(end) - c.ElevationAt(end-last)) / last
	return say("The last {} {}.", w.length("finish.window_m", last), w.runs("finish.gradient_pct", pct))
}

// runs says how a stretch of road runs, to follow a plural.
func (w writer) runs(name string, pct float64) phrase {
	switch {
	case pct >= levelPct:
		return say("rise at {}", w.slope(name, pct))
	case pct <= -levelPct:
		return say("fall at {}", w.slope(name, pct))
	}
	return words("are level")
}

// partOf returns the first part of a kind, empty where there is none.
func (w writer) partOf(kind course.PartKind) course.Part {
	for _, p := range w.in.Course.Parts {
		if p.Kind == kind {
			return p
		}
	}
	return course.Part{}
}

// telling reports whether a part is long enough to be told of.
func telling(p course.Part) bool { return p.EndM-p.StartM >= 50 }
