package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/track"
)

const (
	// mostStarts is the most laps whose starts are told one by one.
	mostStarts = 10
	// mostBends is the most bends of a lap that are told one by one. Our choice: more
	// can't be kept in mind.
	mostBends = 8
	// backDeg is the turn in degrees from which a bend leads back. Our choice.
	backDeg = 150
)

// laps tells what each lap holds, and where laps start.
func (w writer) laps() block {
	if w.in.Course.Laps.Count == 0 {
		return block{}
	}
	lines := [][]said{
		{{rankPart, w.lapClimbing()}},
		{{rankLapBends, w.lapBends()}},
		{{rankLapStarts, w.lapStarts()}, {rankLapStarts, w.lapLine()}},
	}
	for i, o := range w.in.Course.OtherCircuits {
		lines = append(lines, []said{{rankPart, w.otherCircuit(fmt.Sprintf("other_circuits-%d", i+1), o)}})
	}
	heading := "Each lap"
	if w.in.Course.Laps.Count == 1 {
		heading = "The lap"
	}
	return bullets(heading, lines...)
}

// lapClimbing tells how much of the climbing each part holds.
func (w writer) lapClimbing() phrase {
	in, out, laps := w.partOf(course.LeadIn), w.partOf(course.RunOut), w.in.Course.Laps
	var told []phrase
	tell := func(fact string, ascent float64, where string) {
		if w.counts(ascent) {
			told = append(told, say("{} {}", w.height(fact, ascent), words(where)))
		}
	}
	tell("lead_in.ascent_m", in.AscentM, "on the lead-in")
	tell("laps.ascent_m", laps.AscentM, "on each lap")
	tell("run_out.ascent_m", out.AscentM, "on the run-out")
	switch {
	case len(told) == 0, w.onlyLaps() && !w.counts(laps.AscentM):
		return phrase{}
	case w.onlyLaps():
		return say("{}: {} a lap.", strong(words("Climbing")), w.height("laps.ascent_m", laps.AscentM))
	}
	return say("{}: {}.", strong(words("Climbing")), list(told...))
}

// lapBends tells the bends of a lap by how far into it they are. They are those of the
// last lap, which are ridden at full speed from the first on.
func (w writer) lapBends() phrase {
	lap := w.lastLap()
	var bends []terrain.Bend
	for _, b := range w.in.Terrain.Bends {
		if b.AtM >= lap.StartM && b.AtM < lap.EndM {
			bends = append(bends, b)
		}
	}
	if len(bends) == 0 || w.in.Indoor {
		return phrase{}
	}
	label := strong(words("Bends"))
	if len(bends) > mostBends {
		i := tightest(bends)
		return say("{}: {} a lap, the tightest after {} {}.", label, w.count("lap.bends", len(bends)),
			w.length("lap.tightest_bend.into_lap_m", bends[i].AtM-lap.StartM), w.bend("lap.tightest_bend", bends[i]))
	}
	told := make([]phrase, len(bends))
	for i, b := range bends {
		fact := fmt.Sprintf("lap.bend-%d", i+1)
		told[i] = say("after {} {}", w.length(fact+".into_lap_m", b.AtM-lap.StartM), w.bend(fact, b))
	}
	return say("{}: {}.", label, join("; ", told...))
}

// bend tells which way a bend goes, and how tight it is.
func (w writer) bend(fact string, b terrain.Bend) phrase {
	way := "left"
	if b.TurnDeg > 0 {
		way = "right"
	}
	if math.Abs(b.TurnDeg) >= backDeg {
		way = "back to the " + way
	}
	return say("{} (radius about {})", words(way), w.radius(fact+".radius_m", b.RadiusM))
}

// tightest returns the index of the bend with the smallest radius.
func tightest(bends []terrain.Bend) int {
	best := 0
	for i, b := range bends {
		if b.RadiusM < bends[best].RadiusM {
			best = i
		}
	}
	return best
}

// lapStarts lists where laps start, unless it follows from their length.
func (w writer) lapStarts() phrase {
	l := w.in.Course.Laps
	if !telling(w.partOf(course.LeadIn)) || l.Count < 2 || l.Count > mostStarts {
		return phrase{}
	}
	var starts []phrase
	for _, p := range w.in.Course.Parts {
		if p.Kind == course.Lap {
			starts = append(starts, w.length(fmt.Sprintf("lap_starts.pass-%d.at_m", p.Lap), p.StartM))
		}
	}
	return say("Laps start at {}.", list(starts...))
}

// lapLine names the lap line, where it has a name.
func (w writer) lapLine() phrase {
	for i, m := range w.in.Terrain.Marks {
		if (m.Kind == track.Gate || m.Kind == track.Other) && w.isLapLine(m) {
			return say("The lap line is {}.", strong(w.markName(i)))
		}
	}
	return phrase{}
}

// otherCircuit tells where a circuit besides the laps is.
func (w writer) otherCircuit(fact string, o course.OtherCircuit) phrase {
	return say("{}: from {} to {}{}.", strong(words("Other circuit")), w.length(fact+".start_m", o.StartM),
		w.length(fact+".end_m", o.EndM), w.up(fact+".ascent_m", o.AscentM))
}

// up adds the ascent where there is any.
func (w writer) up(fact string, m float64) phrase {
	if !w.counts(m) {
		return phrase{}
	}
	return say(", {} up", w.height(fact, m))
}
