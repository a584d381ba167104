package brief

import (
	"slices"

	"parcours.example/analysis/terrain"
)

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
		if isWhole(c) && (hardest < 0 || w.hardness(i) > w.hardness(hardest)) {
			hardest = i
		}
	}
	if last := w.finalClimb(); last >= 0 && w.hardness(last) >= w.hardness(hardest)/2 {
		return last
	}
	return hardest
}

// isWhole tells a climb from a part of another one that is told as well.
func isWhole(c terrain.Climb) bool { return c.ParentID == "" && c.PartOfID == "" }

// endsAtLine reports whether a climb's top is the line: not where the line cuts its
// last pass short.
func endsAtLine(c terrain.Climb) bool { return c.EndsAtFinish && !cutShort(c) }

// cutShort reports whether the line comes before the top of a climb's last pass.
func cutShort(c terrain.Climb) bool { return len(c.Passes) > 0 && c.Passes[len(c.Passes)-1].Partial }

// finalClimb is the climb that ends at the line, −1 without one.
func (w writer) finalClimb() int {
	for i, c := range w.in.Terrain.Climbs {
		if c.ParentID == "" && endsAtLine(c) {
			return i
		}
	}
	return -1
}

// mainClimbs counts the climbs that aren't a part of another.
func (w writer) mainClimbs() int {
	n := 0
	for _, c := range w.in.Terrain.Climbs {
		if isWhole(c) {
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

// namedAsParent reports whether a part of a climb has only its climb's name.
func (w writer) namedAsParent(i int) bool {
	c, parent := w.in.Terrain.Climbs[i], w.parent(i)
	return parent >= 0 && w.in.Terrain.Climbs[parent].Name == c.Name
}

// parent is the climb of which one is the steep or the only ridden part, −1 for none.
func (w writer) parent(i int) int {
	c := w.in.Terrain.Climbs[i]
	return slices.IndexFunc(w.in.Terrain.Climbs, func(p terrain.Climb) bool {
		return p.ID != "" && (p.ID == c.ParentID || p.ID == c.PartOfID)
	})
}

// nameless reports whether a climb has no name and, as the only one, needs no
// number.
func (w writer) nameless(i int) bool {
	c := w.in.Terrain.Climbs[i]
	return name(c.Name).empty() && isWhole(c) && w.mainClimbs() == 1
}
