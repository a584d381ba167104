package course

// implausibleGradient is steeper than the steepest public streets, about 0.35 (common
// practice): beyond it a profile tells of the recording, not of the road.
const implausibleGradient = 0.4

// warnImplausible warns of pieces that are steeper than roads are, at the first of
// them. They stay as they are: what is true there isn't in the file.
func (c *Course) warnImplausible() {
	first, length := -1, 0.0
	for i := range len(c.S) - 1 {
		if g := c.Gradient(i); g > implausibleGradient || g < -implausibleGradient {
			if first < 0 {
				first = i
			}
			length += c.S[i+1] - c.S[i]
		}
	}
	if first >= 0 {
		c.Quality.warn("gradient-implausible", c.S[first], "the profile is steeper than roads are (40 %%) over %.0f m in all, first %.0f %%: the elevations there are hardly right",
			length, 100*c.Gradient(first))
	}
}
