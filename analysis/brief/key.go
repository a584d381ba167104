package brief

// steepestCounted is the gradient in per cent above which steeper is not harder:
// over a whole climb that is mostly a fault of the file.
const steepestCounted = 20

// hardness weighs a climb by gain times gradient, as the h² index does, in m·%.
func (w writer) hardness(i int) float64 {
	c := w.in.Terrain.Climbs[i]
	return c.GainM * min(c.MeanGradientPct, steepestCounted)
}

// key is the climb that the race turns on: the one that ends at the line if it
// is at least half as hard as the hardest, else the hardest; −1 without climbs.
func (w writer) key() int {
	hardest := -1
	for i, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" && (hardest < 0 || w.hardness(i) > w.hardness(hardest)) {
			hardest = i
		}
	}
	if last := w.finalClimb(); last >= 0 && w.hardness(last) >= w.hardness(hardest)/2 {
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
	length, mean := w.length(c.ID+".length_m", c.LengthM()), w.gradient(c.ID+".mean_gradient_pct", c.MeanGradientPct)
	if w.nameless(i) {
		return say("a climb of {} at {}", length, mean)
	}
	return say("{} ({} at {})", w.climbName(i), length, mean)
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
	case !own.empty() && !w.namedAsParent(i):
		return own
	case w.nameless(i):
		return words("the climb")
	}
	return say("climb {}", w.ordinal(c.ID+".number", i+1))
}

// namedAsParent reports whether a steep part has only its climb's name.
func (w writer) namedAsParent(i int) bool {
	for _, parent := range w.in.Terrain.Climbs {
		if c := w.in.Terrain.Climbs[i]; parent.ID == c.ParentID && parent.Name == c.Name {
			return true
		}
	}
	return false
}

// nameless reports whether a climb has no name and, as the only one, needs no
// number.
func (w writer) nameless(i int) bool {
	c := w.in.Terrain.Climbs[i]
	return name(c.Name).empty() && c.ParentID == "" && w.mainClimbs() == 1
}
