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
	label := w.climbLabel(i)
	figures := []phrase{
		say("{} at {}", w.length(c.ID+".length_m", c.LengthM()), w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct)),
	}
	if c.LengthM() > w.in.Terrain.MaxWindowM && c.MaxGradientPct > c.MeanGradientPct {
		figures = append(figures, say("up to {} over {}", w.gradient(c.ID+".max_gradient_pct", c.MaxGradientPct),
			w.window("max_window_m", w.in.Terrain.MaxWindowM)))
	}
	figures = append(figures, say("{} up", w.height(c.ID+".gain_m", c.GainM)))
	return say("{}: {}.", label, join(", ", figures...))
}

// climbLabel heads a climb's line and says of which climb it is a part.
func (w writer) climbLabel(i int) phrase {
	label := strong(capital(w.climbName(i)))
	for j, parent := range w.in.Terrain.Climbs {
		if parent.ID == w.in.Terrain.Climbs[i].ParentID {
			return say("{}, the steep part of {}", label, w.climbName(j))
		}
	}
	return label
}

// feet tells where a climb starts on every pass.
func (w writer) feet(c terrain.Climb) phrase {
	p := climbPasses(c.Passes)
	if len(p) == 0 {
		return phrase{}
	}
	end := phrase{}
	if c.EndsAtFinish {
		end = words(", the last time to the line")
		if len(p) == 1 {
			end = words(", to the line")
		}
	}
	if len(p) == 1 {
		return say("Foot {}{}.", w.passes(c.ID, p), end)
	}
	return say("Foot: {}{}.", w.passes(c.ID, p), end)
}

// sections tells a climb as a rider feels it.
func (w writer) sections(c terrain.Climb) phrase {
	if len(c.Sections) < 2 {
		return words("It climbs evenly.")
	}
	told := make([]phrase, len(c.Sections))
	for i, s := range c.Sections {
		told[i] = w.section(c, i)
		if s.LengthM() > w.in.Terrain.MaxWindowM && s.MaxGradientPct >= s.MeanGradientPct+pitchPct {
			told[i] = say("{} with {} at {}", told[i], w.window("max_window_m", w.in.Terrain.MaxWindowM),
				w.slope(sectionFact(c, i)+".max_gradient_pct", s.MaxGradientPct))
		}
	}
	last := len(told) - 1
	return say("It {} and {}.", join(", ", told[:last]...), told[last])
}

func sectionFact(c terrain.Climb, i int) string { return fmt.Sprintf("%s.section-%d", c.ID, i+1) }

// section tells one section against the one before.
func (w writer) section(c terrain.Climb, i int) phrase {
	s, fact := c.Sections[i], sectionFact(c, i)
	length, slope := w.length(fact+".length_m", s.LengthM()), w.slope(fact+".mean_gradient_pct", s.MeanGradientPct)
	change := math.NaN()
	if i > 0 {
		change = s.MeanGradientPct - c.Sections[i-1].MeanGradientPct
	}
	switch {
	case i == 0:
		return say("opens with {} at {}", length, slope)
	case s.MeanGradientPct <= -levelPct:
		return say("dips for {} at {}", length, slope)
	case s.MeanGradientPct < levelPct:
		return say("levels out for {}", length)
	case change >= likePct:
		return say("steepens to {} for {}", slope, length)
	case change <= -likePct:
		return say("eases to {} for {}", slope, length)
	}
	return say("goes on for {} at {}", length, slope)
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
	return say("Its steepest {} average {}, from {}.", w.window(fact+".window_m", best.WindowM),
		w.gradient(fact+".gradient_pct", best.GradientPct), w.length(fact+".start_m", best.StartM))
}
