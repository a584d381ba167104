package terrain

import "parcours.example/analysis/course"

// falseFlats returns the false flats of a course, outside the passes of its climbs.
func falseFlats(c *course.Course, p profile, climbs []Climb, window float64) []FalseFlat {
	var detected []span
	for _, gap := range outside(p, climbs) {
		if gap.length() >= minFalseFlatM {
			detected = append(detected, gentleRises(p.cut(gap.start, gap.end), falseFlatThreshold)...)
		}
	}
	var all []FalseFlat
	for _, g := range groupPasses(c, detected) {
		first := g.passes[0]
		all = append(all, FalseFlat{
			Stretch: stretch(p, first, window),
			GainM:   p.at(first.end) - p.at(first.start),
			Passes:  g.told(c),
		})
	}
	return all
}

// gentleRises returns the stretches of a profile that are false flats by the
// definition, in order.
func gentleRises(p profile, threshold float64) []span {
	var found []span
	for _, r := range maximalStretches(p, threshold) {
		s := span{p.s[r[0]], p.s[r[1]]}
		mean := (p.z[r[1]] - p.z[r[0]]) / s.length()
		switch {
		case s.length() < minFalseFlatM-indifferenceM || mean >= minMeanGradient:
		case mean >= minFalseFlat-1e-9:
			found = append(found, s)
		case threshold < minFalseFlat:
			found = append(found, gentleRises(p.cut(s.start, s.end), minFalseFlat)...)
		}
	}
	return found
}
