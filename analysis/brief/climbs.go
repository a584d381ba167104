package brief

import (
	"fmt"
	"math"

	"parcours.example/analysis/terrain"
)

const (
	// levelPct is the size of gradient below which a road is called level.
	levelPct = 1.0
	// likePct is how much two sections may differ to count as alike.
	likePct = 1.0
	// pitchPct is how much a maximum must exceed its section's mean to be told.
	pitchPct = 3.0
	// leastSectionM is the shortest section that is felt.
	leastSectionM = 10
)

// climbs tells every climb with its passes, and the key climb's sections.
func (w writer) climbs() block {
	var lines [][]said
	for i := range w.in.Terrain.Climbs {
		if w.in.Terrain.Climbs[i].ParentID == "" {
			lines = append(lines, w.climbLine(i))
		}
	}
	heading := "Climbs"
	if len(lines) == 1 {
		heading = "The climb"
	}
	return bullets(heading, lines...)
}

// climbLine tells one climb with its steep parts. Of the key climb the opening has told
// the length and the gradient, and its sections tell its steep parts.
func (w writer) climbLine(i int) []said {
	c := w.in.Terrain.Climbs[i]
	if i == w.key() {
		return []said{
			{rankKeyClimb, w.climb(i)},
			{rankKeyPasses, w.feet(i)},
			{rankKeySections, w.shape(c)},
			{rankKeySteepest, w.steepest(c)},
		}
	}
	if !isWhole(c) {
		return []said{{rankSteepPart, w.climb(i)}, {rankSteepPart, w.feet(i)}}
	}
	return []said{{rankClimb, w.climb(i)}, {rankClimbPasses, w.feet(i)}, {rankSteepPart, w.steepParts(c)}}
}

// climb gives a climb's figures, but those that the opening has told.
func (w writer) climb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	mean, steep := w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct), w.gradient(c.ID+".max_gradient_pct", c.MaxGradientPct)
	var figures []phrase
	if i != w.key() && i != w.finalClimb() {
		figures = append(figures, say("{} at {}", w.length(c.ID+".length_m", c.LengthM()), mean))
	}
	figures = append(figures, say("{} up", w.height(c.ID+".gain_m", c.GainM)))
	if c.LengthM() > w.in.Terrain.MaxWindowM && steep.text != mean.text {
		figures = append(figures, say("at most {} over {}", steep, w.window("max_window_m", w.in.Terrain.MaxWindowM)))
	}
	return say("{}: {}.", w.climbLabel(i), join(", ", figures...))
}

// climbLabel heads a climb's line and says of which climb it is a part.
func (w writer) climbLabel(i int) phrase {
	label := strong(capital(w.climbName(i)))
	if parent := w.parent(i); parent >= 0 {
		return say("{}, as much of {} as is ridden there", label, w.climbName(parent))
	}
	return label
}

// feet tells where a climb starts on every pass and, of one that is ridden once, where
// its top is.
func (w writer) feet(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	passes := climbPasses(c.Passes)
	switch {
	case len(passes) == 0:
		return phrase{}
	case len(passes) > 1:
		return say("Foot {}{}.", w.passes(c.ID, passes), w.lastEnd(i))
	}
	foot := say("Foot {}", w.at(c.ID+".pass-1.at_m", c.StartM))
	if label := w.label("", passes, 0); !label.empty() && c.StartM >= atEndM {
		foot = say("Foot {} {}", label, w.at(c.ID+".pass-1.at_m", c.StartM))
	}
	if i == w.key() || endsAtLine(c) {
		return say("{}{}.", foot, w.lastEnd(i))
	}
	return say("{}, top at {} with {} to go.", foot, w.length(c.ID+".pass-1.end_m", c.EndM),
		w.length(c.ID+".top_to_finish_m", w.in.Course.LengthM()-c.EndM))
}

// lastEnd adds where the last pass of a climb ends, if that is the line; of the key climb
// the opening has told it.
func (w writer) lastEnd(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	switch {
	case i == w.key() || i == w.finalClimb() || !c.EndsAtFinish:
		return phrase{}
	case cutShort(c):
		return words("; the last time the line comes before the top")
	case len(c.Passes) > 1:
		return words("; the last time it ends at the line")
	}
	return words("; it ends at the line")
}

// steepParts tells the steep parts of a climb from its foot.
func (w writer) steepParts(c terrain.Climb) phrase {
	var told []phrase
	for _, p := range w.in.Terrain.Climbs {
		if p.ParentID == c.ID && c.ID != "" {
			told = append(told, say("{} at {} {}", w.length(p.ID+".length_m", p.LengthM()),
				w.gradient(p.ID+".mean_gradient_pct", p.MeanGradientPct), w.afterFoot(p.ID+".after_foot_m", p.StartM-c.StartM)))
		}
	}
	if len(told) == 0 {
		return phrase{}
	}
	return say("Steepest: {}.", list(told...))
}

// afterFoot says how far up a climb something starts.
func (w writer) afterFoot(name string, m float64) phrase {
	if m < atEndM {
		return words("from the foot on")
	}
	return say("({} after the foot)", w.length(name, m))
}

// shape tells a climb as a rider feels it. Sections too short to feel are left
// out.
func (w writer) shape(c terrain.Climb) phrase {
	var told []phrase
	before := math.NaN()
	for i, s := range c.Sections {
		if s.LengthM() >= leastSectionM {
			told = append(told, say("{}{}", w.section(c, i, before), w.pitch(c, i)))
			before = s.MeanGradientPct
		}
	}
	if len(told) < 2 {
		return words("It climbs evenly.")
	}
	last := len(told) - 1
	return say("It {} and {}.", join(", ", told[:last]...), told[last])
}

func sectionFact(c terrain.Climb, i int) string { return fmt.Sprintf("%s.section-%d", c.ID, i+1) }

// section tells one section against the gradient before it, NaN for the first.
func (w writer) section(c terrain.Climb, i int, before float64) phrase {
	s, fact := c.Sections[i], sectionFact(c, i)
	length, slope := w.length(fact+".length_m", s.LengthM()), w.slope(fact+".mean_gradient_pct", s.MeanGradientPct)
	switch mean, first := s.MeanGradientPct, math.IsNaN(before); {
	case mean <= -levelPct:
		return say("dips for {} at {}", length, slope)
	case mean < levelPct && first:
		return say("opens with {} almost level", length)
	case first:
		return say("opens with {} at {}", length, slope)
	case mean < levelPct:
		return say("levels out for {}", length)
	case mean >= before+likePct:
		return say("steepens to {} for {}", slope, length)
	case mean <= before-likePct:
		return say("eases to {} for {}", slope, length)
	}
	return say("goes on for {} at {}", length, slope)
}

// pitch adds a section's steepest stretch where it stands out.
func (w writer) pitch(c terrain.Climb, i int) phrase {
	s := c.Sections[i]
	if s.MeanGradientPct < levelPct || s.LengthM() <= w.in.Terrain.MaxWindowM || s.MaxGradientPct < s.MeanGradientPct+pitchPct {
		return phrase{}
	}
	return say(" with {} at {}", w.window("max_window_m", w.in.Terrain.MaxWindowM),
		w.slope(sectionFact(c, i)+".max_gradient_pct", s.MaxGradientPct))
}

// steepest tells the hardest longer stretch of a climb.
func (w writer) steepest(c terrain.Climb) phrase {
	if p := w.steepestLong(c); !p.empty() {
		return say("{}.", p)
	}
	return phrase{}
}

// steepestLong tells the longest of the steepest stretches that stands out of the climb.
func (w writer) steepestLong(c terrain.Climb) phrase {
	var best terrain.Window
	for _, s := range c.Steepest {
		if s.WindowM > w.in.Terrain.MaxWindowM && s.WindowM <= c.LengthM()/3 {
			best = s
		}
	}
	if best.WindowM == 0 {
		return phrase{}
	}
	fact := fmt.Sprintf("%s.steepest-%.0f", c.ID, best.WindowM)
	return say("Its steepest {} average {}, {}", w.length(fact+".window_m", best.WindowM),
		w.gradient(fact+".gradient_pct", best.GradientPct), w.from(fact+".start_m", best.StartM))
}
