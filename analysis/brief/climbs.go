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
)

// climbs tells every climb with every pass, and the key climb's sections.
func (w writer) climbs() block {
	key := w.key()
	var lines [][]said
	for i, c := range w.in.Terrain.Climbs {
		line := []said{
			{rankClimb, w.climb(i)},
			{rankClimbPasses, w.feet(c)},
		}
		if !isWhole(c) {
			line[0].rank, line[1].rank = rankSteepPart, rankSteepPart
		}
		if i == key {
			line[0].rank, line[1].rank = rankKeyClimb, rankKeyPasses
			line = append(line, said{rankKeySections, w.sections(c)}, said{rankKeySteepest, w.steepest(c)})
		}
		lines = append(lines, line)
	}
	return bullets("Climbs", lines...)
}

// climb gives a climb's figures.
func (w writer) climb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	mean, steep := w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct), w.gradient(c.ID+".max_gradient_pct", c.MaxGradientPct)
	figures := []phrase{say("{} at {}", w.length(c.ID+".length_m", c.LengthM()), mean)}
	if c.LengthM() > w.in.Terrain.MaxWindowM && steep.text != mean.text {
		figures = append(figures, say("up to {} over {}", steep, w.window("max_window_m", w.in.Terrain.MaxWindowM)))
	}
	figures = append(figures, say("{} up", w.height(c.ID+".gain_m", c.GainM)))
	return say("{}: {}.", w.climbLabel(i), join(", ", figures...))
}

// climbLabel heads a climb's line and says of which climb it is a part.
func (w writer) climbLabel(i int) phrase {
	label := strong(capital(w.climbName(i)))
	switch c, parent := w.in.Terrain.Climbs[i], w.parent(i); {
	case parent < 0:
		return label
	case c.ParentID != "":
		return say("{}, a steep part of {}", label, w.climbName(parent))
	default:
		return say("{}, as much of {} as is ridden there", label, w.climbName(parent))
	}
}

// feet tells where a climb starts on every pass.
func (w writer) feet(c terrain.Climb) phrase {
	p := climbPasses(c.Passes)
	if len(p) == 0 {
		return phrase{}
	}
	foot, end := "Foot {}{}.", phrase{}
	if len(p) > 1 {
		foot = "Foot: {}{}."
	}
	switch {
	case cutShort(c):
		end = words("; the last time the line comes before the top")
	case c.EndsAtFinish && len(p) > 1:
		end = words("; the last time it ends at the line")
	case c.EndsAtFinish:
		end = words("; it ends at the line")
	}
	return say(foot, w.passes(c.ID, p), end)
}

// sections tells a climb as a rider feels it. Sections too short to feel are left
// out.
func (w writer) sections(c terrain.Climb) phrase {
	const shortest = 10
	var told []phrase
	before := math.NaN()
	for i, s := range c.Sections {
		if s.LengthM() >= shortest {
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
	return say("Its steepest {} average {}, {}.", w.length(fact+".window_m", best.WindowM),
		w.gradient(fact+".gradient_pct", best.GradientPct), w.from(fact+".start_m", best.StartM))
}
