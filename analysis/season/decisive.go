package season

import (
	"fmt"

	"parcours.example/analysis/course"
	"parcours.example/analysis/elementary"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/wording"
)

const (
	// halvingM is the way from a climb's top to the finish, in m, over which what it weighs
	// halves. Our choice: within about ten kilometres a group that a climb has split may well
	// come together again.
	halvingM = 10_000
	// leastWeightM is what a climb must weigh to be the decisive place, in m. Our choice: it is a
	// little above the score that makes a rise a climb at all.
	leastWeightM = 10
	// sprintM is the last stretch of a course that is decided at its finish, in m [common
	// practice: sprints begin within it].
	sprintM = 300
)

// metric are the units of what is told here.
var metric wording.Units

// Place is where a round is decided, as far as its course says it.
type Place struct {
	// ClimbID is "" for the finish.
	ClimbID, Name string
	// Lap is 1-based, 0 outside laps; Pass counts the climb's passes from 1 to Passes.
	Lap, Pass, Passes               int
	StartM, EndM, ToFinishM         float64
	GainM, LengthM, MeanGradientPct float64
	// WeightM is the gain in metres, halved for every 10 km from the top to the finish; 0 for
	// the finish.
	WeightM float64
	// Why says it in words and numbers.
	Why string
}

// decisive returns the pass of a climb that weighs most, the last one of equals; the finish
// where none weighs enough.
func decisive(c *course.Course, t *terrain.Terrain) Place {
	var best Place
	for _, climb := range t.Climbs {
		if climb.ParentID != "" {
			continue
		}
		for i, pass := range climb.Passes {
			p := Place{
				ClimbID: climb.ID, Name: climb.Name, Lap: pass.Lap, Pass: i + 1, Passes: len(climb.Passes),
				StartM: pass.StartM, EndM: pass.EndM, ToFinishM: max(0, c.LengthM()-pass.EndM),
				GainM: gain(climb, pass), LengthM: pass.EndM - pass.StartM,
			}
			p.MeanGradientPct = 100 * p.GainM / p.LengthM
			p.WeightM = p.GainM * elementary.Pow(0.5, p.ToFinishM/halvingM)
			if p.WeightM >= best.WeightM {
				best = p
			}
		}
	}
	if best.WeightM < leastWeightM {
		return finish(c, best)
	}
	best.Why = best.words()
	return best
}

// gain is what a pass of a climb gains: of one that the finish cuts short its share.
func gain(climb terrain.Climb, pass terrain.Pass) float64 {
	if !pass.Partial {
		return climb.GainM
	}
	return climb.GainM * (pass.EndM - pass.StartM) / climb.LengthM()
}

// finish is the finish as the decisive place, heaviest being the climb that weighs most, if any.
func finish(c *course.Course, heaviest Place) Place {
	p := Place{StartM: max(0, c.LengthM()-sprintM), EndM: c.LengthM(), Why: "The finish: there is no climb."}
	switch {
	case !c.HasElevation():
		p.Why = "The finish, as far as is known: the file has no elevation."
	case heaviest.WeightM > 0:
		p.Why = fmt.Sprintf("The finish: the climb that weighs most gains %s and has its top %s before it.", metric.Height(heaviest.GainM), metric.Length(heaviest.ToFinishM))
	}
	return p
}

// words says where the place is and why it decides.
func (p Place) words() string {
	name, which, top := p.Name, "", "at the finish"
	if name == "" {
		name = "The climb at " + wording.Position(p.StartM)
	}
	if p.Passes > 1 {
		which = fmt.Sprintf(", pass %d of %d", p.Pass, p.Passes)
	}
	if p.ToFinishM >= 5 {
		top = metric.Length(p.ToFinishM) + " before the finish"
	}
	return fmt.Sprintf("%s%s: %s up in %s at %s, its top %s.", name, which,
		metric.Height(p.GainM), metric.Length(p.LengthM), wording.Gradient(p.MeanGradientPct), top)
}
