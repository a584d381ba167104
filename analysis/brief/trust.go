package brief

import (
	"math"

	"parcours.example/analysis/course"
)

// trust tells what in the file makes the figures doubtful, one line for each kind
// of fault.
func (w writer) trust() block {
	var lines [][]said
	told := map[string]bool{}
	for _, warning := range w.in.Course.Quality.Warnings {
		if !told[warning.Code] {
			told[warning.Code] = true
			lines = append(lines, []said{{rankTrust, w.fault(warning)}})
		}
	}
	return bullets("How far to trust the file", append(lines,
		[]said{{rankTrust, w.dropped()}},
		[]said{{rankTrust, w.looseLaps()}},
		[]said{{rankTrust, w.plainAscent()}})...)
}

// looseBelow is the agreement of detected laps below which it is told.
const looseBelow = 0.9

// looseLaps tells that the laps found don't lie well on each other.
func (w writer) looseLaps() phrase {
	l := w.in.Course.Laps
	if l.Source != course.LapsDetected || l.Agreement >= looseBelow {
		return phrase{}
	}
	return say("The laps were found in the line and agree with each other to {}.", w.share("laps.agreement", l.Agreement))
}

// plainAscent tells the sum of rises as read where it is well above the ascent,
// since that is the figure that riders see elsewhere.
func (w writer) plainAscent() phrase {
	q, c := w.in.Course.Quality, w.in.Course
	if ascent := c.AscentM(0, c.LengthM()); !c.HasElevation() || q.AscentUnsmoothedM < 1.25*ascent || q.AscentUnsmoothedM < ascent+25 {
		return phrase{}
	}
	return say("Adding up every rise in the file gives {} of climbing; the figure here leaves its noise out.",
		w.height("quality.ascent_unsmoothed_m", q.AscentUnsmoothedM))
}

// manyDropped is the share of points left out from which it is told.
const manyDropped = 0.02

// dropped tells that many points were left out.
func (w writer) dropped() phrase {
	q := w.in.Course.Quality
	if float64(q.PointsDropped) < manyDropped*float64(q.PointsRead) || q.PointsDropped == 0 {
		return phrase{}
	}
	return say("{} of {} points were left out: doubtful, doubled, or recorded while standing.", w.ordinal("quality.points_dropped", q.PointsDropped),
		w.ordinal("quality.points_read", q.PointsRead))
}

func (w writer) fault(f course.Warning) phrase {
	q := w.in.Course.Quality
	switch f.Code {
	case "elevation-missing":
		if !w.in.Course.HasElevation() {
			return w.flatTimes()
		}
		return say("Elevations are missing{}; what lies between is bridged.", w.where(f))
	case "elevation-noisy":
		return say("Elevations scatter by about {}: gradients over short stretches are rough.", w.scatter(q.ElevationNoiseM))
	case "elevation-quantised":
		if w.warned("elevation-noisy") > 0 {
			return phrase{}
		}
		return words("Elevations come in coarse steps: gradients over short stretches are rough.")
	case "elevation-placeholder":
		return say("Some elevations stand for unknown ones{}.", w.where(f))
	case "elevation-terraced":
		return words("Elevations come from a coarse terrain model: short pitches are not in them.")
	case "elevation-frozen":
		return say("The altimeter stood still{}: the road may rise or fall there.", w.where(f))
	case "elevation-tunnel":
		return say("Elevations leap over a hill or a valley{}, as at a tunnel or a bridge.", w.where(f))
	case "elevation-step":
		return say("The level of the elevations jumps{}: no road does.", w.where(f))
	case "elevation-constant":
		return words("All elevations are the same: climbing and times are those of a level road.")
	case "elevation-negative":
		return words("All elevations lie below the sea: if their sign is reversed, climbs are descents here.")
	case "elevation-unit":
		return words("The profile is too steep for roads throughout: its elevations may be in feet.")
	case "elevation-drift":
		return words("Elevations drift: ground that is ridden again has another elevation.")
	case "spikes-repaired":
		return say("Jumps in the line or its elevations were mended{}.", w.where(f))
	case "points-out-of-order":
		return say("Points seem to be in the wrong order{}.", w.where(f))
	case "position-spikes", "elevation-spikes":
		return say("The line or its elevations jump{}; without smoothing that stays.", w.where(f))
	case "position-wander":
		return words("The recorded line wanders about the road: the course is somewhat too long.")
	case "one-place":
		return words("All points lie in one place: this is hardly a course.")
	case "lap-closed":
		return words("The ends of the lap don't meet in the file and were joined.")
	case "lap-elevation-spread":
		return words("The ends of the lap differ in elevation; the difference is spread over the lap.")
	case "gap":
		return say("Points are missing{}; the line is straight there.", w.where(f))
	case "mark-off-course":
		return w.strayMarks()
	case "gradient-implausible":
		return say("In places the profile is steeper than roads are, first{}: don't trust climbs and times there.", w.where(f))
	case "sparse-points":
		return say("Points stand about {} apart: bends and short steep pitches may be missing.", w.length("quality.median_step_m", q.MedianStepM))
	}
	if pattern, told := faultWords[f.Code]; told {
		return say(pattern, w.where(f))
	}
	return phrase{}
}

// faultWords are the sentences of faults that need no number but their place's.
var faultWords = map[string]string{
	"checksum-wrong":          "The file's checksum is wrong: parts of it may be damaged{}.",
	"distance-restarted":      "The distance in the file falls back{} and was counted on from there: check the length of the course.",
	"elevation-all-zero":      "All elevations are zero{}: none were recorded, or they were lost.",
	"elevation-from-gradient": "Elevations were added up from the gradients in the file{}: only their differences hold.",
	"elevation-out-of-range":  "Elevations that no road has were left out{}.",
	"elevation-unreadable":    "Some elevations can't be read{} and were left out.",
	"header-missing":          "The table has no header{}: its columns were told by their values.",
	"lap-departs":             "A lap leaves the line of the first{}: it was counted, but check that all laps are meant to be the same.",
	"lap-overlap":             "The lap in the file runs past its start{}; that was cut off.",
	"lap-line-off-circuit":    "The place named as the lap line isn't passed once a lap{}; laps start where they were found to.",
	"lap-line-unknown":        "No place has the name given for the lap line{}; laps start where they were found to.",
	"lap-line-unused":         "The place named as the lap line has no laps to be the line of{}.",
	"lap-with-stem":           "Each lap goes out and back over one road{}: perhaps only the loop behind it is meant to be ridden again.",
	"laps-by-gradient":        "There are no positions: the laps were told by their gradients{}, and their lines are rough.",
	"laps-changed":            "The file holds another number of laps than is ridden here{}.",
	"mark-needs-positions":    "The file has no positions, so places that are given by theirs are left out{}.",
	"parts-elevation-spread":  "Parts of the course differ in elevation where they meet{}; the difference is spread.",
	"parts-joined":            "Parts of the course don't meet{} and were joined.",
	"parts-overlap":           "A part of the course runs past the start of the next{}; that was cut off.",
	"parts-without-positions": "A part of the course has no positions{}, so bends and wind can't be told.",
	"position-missing":        "Points without a position were left out{}.",
	"positions-ignored":       "Most points have no position{}; the line was read by its distances alone.",
	"several-tracks":          "The file holds several lines{}, of which one was taken.",
	"unit-assumed":            "The file doesn't say its units{}; they were assumed.",
}

// flatTimes says what predictions are worth without elevations.
func (w writer) flatTimes() phrase {
	if len(w.in.Rides) == 0 {
		return phrase{}
	}
	return words("Without elevations the predicted times are those of a flat road.")
}

// strayMarks tells how many of the file's places lie too far off to be on the
// course; their warnings have no position.
func (w writer) strayMarks() phrase {
	n := 0
	for _, f := range w.in.Course.Quality.Warnings {
		if f.Code == "mark-off-course" && math.IsNaN(f.AtM) {
			n++
		}
	}
	switch n {
	case 0:
		return phrase{}
	case 1:
		return capital(say("{} named place lies far off the course and is left out.", w.count("quality.marks_left_out", n)))
	}
	return capital(say("{} named places lie far off the course and are left out.", w.count("quality.marks_left_out", n)))
}

// warned counts the warnings of a kind.
func (w writer) warned(code string) int {
	n := 0
	for _, f := range w.in.Course.Quality.Warnings {
		if f.Code == code {
			n++
		}
	}
	return n
}

// scatter writes a small height to a tenth.
func (w writer) scatter(m float64) phrase {
	return number("quality.elevation_noise_m", m, w.units().Fine(m))
}

// where adds a fault's place, and that there are more of its kind.
func (w writer) where(f course.Warning) phrase {
	switch n := w.warned(f.Code); {
	case math.IsNaN(f.AtM):
		return phrase{}
	case n > 1:
		return say(" in {} places, first {}", w.count("quality."+f.Code, n), w.at("quality."+f.Code+".at_m", f.AtM))
	}
	return say(" {}", w.at("quality."+f.Code+".at_m", f.AtM))
}
