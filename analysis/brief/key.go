package brief

// key is the climb that the race turns on: the one that ends at the line if it
// is at least half as hard as the hardest, else the hardest; −1 without climbs.
func (w writer) key() int {
	hardest := -1
	for i, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" && (hardest < 0 || c.Difficulty.H2Index > w.in.Terrain.Climbs[hardest].Difficulty.H2Index) {
			hardest = i
		}
	}
	if last := w.finalClimb(); last >= 0 && w.in.Terrain.Climbs[last].Difficulty.H2Index >= w.in.Terrain.Climbs[hardest].Difficulty.H2Index/2 {
		return last
	}
	return hardest
}

// finalClimb is the climb that ends at the line, −1 without one.
func (w writer) finalClimb() int {
	for i, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" && c.EndsAtFinish {
			return i
		}
	}
	return -1
}

// mainClimbs counts the climbs that aren't a part of another.
func (w writer) mainClimbs() int {
	n := 0
	for _, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" {
			n++
		}
	}
	return n
}

// shortClimb names a climb with its length and mean gradient.
func (w writer) shortClimb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	return say("{} ({} at {})", w.climbName(i), w.length(c.ID+".length_m", c.LengthM()),
		w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct))
}

// riddenClimb adds how often a climb is ridden, where more than once.
func (w writer) riddenClimb(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	if len(c.Passes) < 2 {
		return w.shortClimb(i)
	}
	return say("{}, ridden {}", w.shortClimb(i), w.times(c.ID+".passes", len(c.Passes)))
}

// climbName is a climb's own name, or its number as the analysis gives it.
func (w writer) climbName(i int) phrase {
	c := w.in.Terrain.Climbs[i]
	switch own := name(c.Name); {
	case !own.empty():
		return own
	case len(w.in.Terrain.Climbs) == 1:
		return words("the climb")
	}
	return say("climb {}", w.ordinal(c.ID+".number", i+1))
}
