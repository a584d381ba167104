package terrain

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/course"
)

// approachesM returns the lengths of the approaches in metres.
func approachesM() []float64 { return []float64{1000, 500, 200} }

// marks returns the marks of a course in order of first pass, those that are never
// passed last.
func marks(c *course.Course, bends []Bend, window float64) []Mark {
	all := make([]Mark, 0, len(c.Marks))
	for _, m := range c.Marks {
		mark := Mark{Name: m.Name, Kind: m.Kind, OffCourseM: m.OffCourseM}
		for _, at := range m.At {
			mark.Passes = append(mark.Passes, markPass(c, at, bends, window))
		}
		all = append(all, mark)
	}
	slices.SortStableFunc(all, func(a, b Mark) int { return cmp.Compare(firstAt(a), firstAt(b)) })
	for i := range all {
		all[i].ID = fmt.Sprintf("mark-%d", i+1)
	}
	return all
}

func firstAt(m Mark) float64 {
	if len(m.Passes) == 0 {
		return math.Inf(1)
	}
	return m.Passes[0].AtM
}

func markPass(c *course.Course, at float64, bends []Bend, window float64) MarkPass {
	pass := MarkPass{Lap: c.LapAt(at), AtM: at, ToFinishM: c.LengthM() - at, GradientPct: math.NaN(), AscentBeforeM: math.NaN(), AscentAfterM: math.NaN()}
	if c.HasElevation() {
		pass.AscentBeforeM, pass.AscentAfterM = c.AscentM(0, at), c.AscentM(at, c.LengthM())
	}
	if c.HasElevation() && at > 0 {
		from := max(0, at-markGradientM)
		pass.GradientPct = 100 * profile{c.S, c.Z}.gradient(from, at)
	}
	for _, d := range approachesM() {
		if d <= at+indifferenceM {
			pass.Approach = append(pass.Approach, approach(c, span{max(0, at-d), at}, bends, window))
		}
	}
	return pass
}

// approach measures the road in front of a mark.
func approach(c *course.Course, on span, bends []Bend, window float64) Approach {
	a := Approach{DistanceM: on.length(), MeanGradientPct: math.NaN(), MaxGradientPct: math.NaN()}
	if c.HasElevation() {
		s := stretch(profile{c.S, c.Z}, on, window)
		a.MeanGradientPct, a.MaxGradientPct = s.MeanGradientPct, s.MaxGradientPct
	}
	in := bendsOn(bends, on)
	a.Bends = len(in)
	if b := sharpest(in, on); len(b) > 0 {
		a.SharpestRadiusM = b[0].RadiusM
	}
	return a
}
