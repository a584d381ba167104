package calibrate

import "fmt"

// Note is something that whoever uses the result must know.
type Note struct {
	// Code is one of the Note constants.
	Code, Detail string
}

// The codes of notes.
const (
	// NoteRollingAssumed: Crr is not from the rides.
	NoteRollingAssumed = "rolling-assumed"
	// NoteDragNotDetermined and NoteRollingNotDetermined: the rides aren't made to tell it.
	NoteDragNotDetermined    = "drag-not-determined"
	NoteRollingNotDetermined = "rolling-not-determined"
	// NoteImplausibleDrag and NoteImplausibleRolling: outside what is found on roads.
	NoteImplausibleDrag    = "implausible-drag-area"
	NoteImplausibleRolling = "implausible-rolling"
	// NoteSheltered: a part of the ride looks sheltered and doesn't count.
	NoteSheltered = "sheltered"
	// NoteElevation: the elevation isn't that of the ridden road.
	NoteElevation = "elevation-disagrees"
	// NoteMostLeftOut: most of the road couldn't be used.
	NoteMostLeftOut = "most-left-out"
)

// What drag areas and rolling resistances are found on roads: from the best time-trial
// position (0.18 m² behind an hour record, worked back from Bassett et al. 1999) to sitting
// upright (0.60 m²), and from race tyres on a track to gravel; the ranges from memory.
const (
	leastCdAM2, highestCdAM2 = 0.15, 0.70
	leastCrr, highestCrr     = 0.0015, 0.015
)

// judge notes what must be known about the result, and which ride would tell more.
func (e *Estimate) judge(m *model, d *design) {
	e.DragDetermined, e.RollingDetermined = e.Expected.DragDetermined, e.Expected.RollingDetermined
	if !e.DragDetermined || !e.RollingDetermined {
		e.Advice = d.trials(m)
	}
	e.noteDesign(m)
	if e.CdAM2 < leastCdAM2 || e.CdAM2 > highestCdAM2 {
		e.note(NoteImplausibleDrag, "The drag area comes out as %.3f m², outside the %.2f–%.2f m² that riders alone have; a wrong mass, power, wind or much shelter makes it so. Don't race by it.", e.CdAM2, leastCdAM2, highestCdAM2)
	}
	if e.Crr < leastCrr || e.Crr > highestCrr {
		e.note(NoteImplausibleRolling, "The rolling resistance comes out as %.4f, outside the %.4f–%.3f of tyres on roads; a wrong mass, power or elevation makes it so. Don't race by it.", e.Crr, leastCrr, highestCrr)
	}
	e.noteRoad()
}

// noteDesign tells what the rides can't tell.
func (e *Estimate) noteDesign(m *model) {
	x := e.Expected
	if e.CrrAssumed {
		e.note(NoteRollingAssumed, "These rides tell the rolling resistance less well than it is known beforehand, so %.4f ± %.4f is assumed, and the drag area holds for that.", e.Crr, m.known.Crr)
	} else if !e.RollingDetermined {
		e.note(NoteRollingNotDetermined, "Rides like these tell the rolling resistance to ± %.0f %% only (one standard error); within 10 %% takes %.0f %%.", 100*x.CrrSE/m.typical.crr, 100*rollingShare)
	}
	if !e.DragDetermined {
		e.note(NoteDragNotDetermined, "Rides like these tell the drag area to ± %.1f %% only (one standard error); within 3 %% takes %.1f %%.", 100*x.CdASE/m.typical.cda, 100*dragShare)
	}
}

// The shares of the road from which on it is told that they were sheltered or left out.
const (
	toldSheltered = 0.05
	mostSharedOut = 0.5
	// toldElevationM is the error of the elevation from which on it is told.
	toldElevationM = 2.0
)

// noteRoad tells what of the road didn't count, or can't be right.
func (e *Estimate) noteRoad() {
	if e.ElevationErrorM > toldElevationM {
		e.note(NoteElevation, "The ride and the course's elevation disagree by about %.0f m from place to place, so gradients explain little; another file of the course may tell more.", e.ElevationErrorM)
	}
	sheltered, used, out := 0.0, 0.0, 0.0
	for _, s := range e.Stretches {
		used += s.EndM - s.StartM
		if s.Class == Sheltered {
			sheltered += s.EndM - s.StartM
		}
	}
	for _, x := range e.Excluded {
		out += x.LengthM
	}
	if sheltered > toldSheltered*used {
		e.note(NoteSheltered, "%.1f km of %.1f km look sheltered and don't count; if the rest was sheltered too, the drag area is too small.", sheltered/1000, used/1000)
	}
	if out > mostSharedOut*(used+out) {
		e.note(NoteMostLeftOut, "%.1f km of %.1f km can't be used; see what was left out.", out/1000, (used+out)/1000)
	}
}

func (e *Estimate) note(code, format string, args ...any) {
	e.Notes = append(e.Notes, Note{code, fmt.Sprintf(format, args...)})
}
