package brief

import (
	"strings"

	"parcours.example/analysis/terrain"
)

// wayUp dissects a hill climb from section to section.
func (w writer) wayUp() block {
	c := w.in.Terrain.Climbs[w.key()]
	var lines [][]said
	for k, s := range c.Sections {
		if s.LengthM() >= leastSectionM {
			lines = append(lines, []said{{rankSections, w.stretchUp(c, k)}})
		}
	}
	if len(lines) < 2 {
		lines = [][]said{{{rankSections, words("It climbs evenly.")}}}
	}
	return bullets("The climb, section by section", lines...)
}

// hardestPart tells where a hill climb is steepest.
func (w writer) hardestPart() phrase {
	if w.kind() != kindHillClimb {
		return phrase{}
	}
	c := w.in.Terrain.Climbs[w.key()]
	if c.LengthM() <= w.in.Terrain.MaxWindowM {
		return phrase{}
	}
	most, window := w.gradient(c.ID+".max_gradient_pct", c.MaxGradientPct), w.window("max_window_m", w.in.Terrain.MaxWindowM)
	switch long := w.steepestLong(c); {
	case strings.Contains(long.text, most.text):
		return say("{}.", long)
	case !long.empty():
		return say("{}; at most {} over {}.", long, most, window)
	}
	return say("At most {} over {}.", most, window)
}

// stretchUp tells one section with where it starts, its steepest pitch and its bends.
func (w writer) stretchUp(c terrain.Climb, k int) phrase {
	s, fact := c.Sections[k], sectionFact(c, k)
	p := say("{}: {} {}{}", capital(w.from(fact+".start_m", s.StartM)), w.length(fact+".length_m", s.LengthM()), w.incline(fact, s), w.pitch(c, k))
	if bends := w.bendsWithin(fact, s); !bends.empty() {
		p = say("{}; {}", p, bends)
	}
	return say("{}.", p)
}

// incline says how a stretch of a climb runs.
func (w writer) incline(fact string, s terrain.Stretch) phrase {
	switch {
	case s.MeanGradientPct <= -levelPct:
		return say("down at {}", w.slope(fact+".mean_gradient_pct", s.MeanGradientPct))
	case s.MeanGradientPct < levelPct:
		return words("almost level")
	}
	return say("at {}", w.slope(fact+".mean_gradient_pct", s.MeanGradientPct))
}

// bendsWithin tells the tight bends of a stretch.
func (w writer) bendsWithin(fact string, s terrain.Stretch) phrase {
	var tight []terrain.Bend
	for _, b := range w.in.Terrain.Bends {
		if b.RadiusM < tightM && b.AtM >= s.StartM && b.AtM < s.EndM {
			tight = append(tight, b)
		}
	}
	if len(tight) == 0 || w.in.Indoor {
		return phrase{}
	}
	i := tightest(tight)
	at := say("{}", w.at(fact+".bend-1.at_m", tight[i].AtM))
	if len(tight) == 1 {
		return say("a tight bend {}", at)
	}
	return say("{} tight bends, the tightest {}", w.count(fact+".bends", len(tight)), at)
}
