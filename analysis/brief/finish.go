package brief

import (
	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

const (
	// finishM is the last stretch whose gradient is told.
	finishM = 500
	// nearBendM is how near to the line a bend leaves little room to pass. Older rules
	// want none in the last 200 m [a national rule of 1985]; a sprint takes about 200 m.
	nearBendM = 250
)

// finish says how the road runs at the end where decides doesn't.
func (w writer) finish() phrase {
	final := w.finalClimb()
	if final >= 0 && final != w.key() {
		return say("It finishes up {}.", w.shortClimb(final))
	}
	if runs := w.finishRuns(); !runs.empty() {
		return say("The last {} {}.", w.length("finish.window_m", finishM), runs)
	}
	return phrase{}
}

// finishRuns says how the last stretch runs, unless it is a climb or not known.
func (w writer) finishRuns() phrase {
	c := w.in.Course
	end := c.LengthM()
	if !c.HasElevation() || end < 2*finishM || w.finalClimb() >= 0 {
		return phrase{}
	}
	return w.runs("finish.gradient_pct", 100*(c.ElevationAt(end)-c.ElevationAt(end-finishM))/finishM)
}

// lastBend says where the last bend comes, as far as it decides: on the last lap of a
// kindCriterium, elsewhere near the line.
func (w writer) lastBend() phrase {
	b, found := w.finalBend()
	if !found || w.in.Indoor || w.kind() == kindHillClimb {
		return phrase{}
	}
	toGo := w.in.Course.LengthM() - b.AtM
	before, radius := w.length("finish.bend.to_finish_m", toGo), phrase{}
	if w.in.Course.Laps.Count == 0 {
		radius = say(" (radius about {})", w.radius("finish.bend.radius_m", b.RadiusM))
	}
	switch {
	case toGo < atEndM:
		return say("The line is in a bend{}: be in place before it.", radius)
	case toGo <= nearBendM:
		return say("The last bend{} comes {} before the line: be in place before it.", radius, before)
	case w.kind() == kindCriterium:
		return say("It is {} from the last bend to the line: room to come from behind.", before)
	}
	return say("The last bend{} comes {} before the line.", radius, before)
}

// finalBend returns the bend nearest to the line, on the last lap of a kindCriterium or
// within the last stretch of other courses.
func (w writer) finalBend() (b terrain.Bend, found bool) {
	from := w.in.Course.LengthM() - finishM
	if w.kind() == kindCriterium {
		from = min(from, w.lastLap().StartM)
	}
	for _, x := range w.in.Terrain.Bends {
		if x.AtM >= from && (!found || x.AtM > b.AtM) {
			b, found = x, true
		}
	}
	return b, found
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

// lastLap returns the last lap, empty without laps.
func (w writer) lastLap() course.Part {
	var last course.Part
	for _, p := range w.in.Course.Parts {
		if p.Kind == course.Lap {
			last = p
		}
	}
	return last
}

// telling reports whether a part is long enough to be told of.
func telling(p course.Part) bool { return p.EndM-p.StartM >= 50 }

// isWholeCourse reports whether a stretch leaves next to nothing of the course.
func (w writer) isWholeCourse(s terrain.Stretch) bool {
	return s.LengthM() >= 0.97*w.in.Course.LengthM()
}
