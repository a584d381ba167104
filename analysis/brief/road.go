package brief

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/terrain"
)

// leastRangeM is the least difference of elevations that is told. Our choice: air and
// legs don't feel less.
const leastRangeM = 50

// heights tells the range of elevation and what lies between start and finish.
func (w writer) heights() phrase {
	c := w.in.Course
	if !c.HasElevation() {
		return phrase{}
	}
	low, high := slices.Min(c.Z), slices.Max(c.Z)
	if high-low < leastRangeM {
		return phrase{}
	}
	between := say("Elevation between {} and {}", w.elevation("min_elevation_m", low), w.elevation("max_elevation_m", high))
	switch net := c.Z[len(c.Z)-1] - c.Z[0]; {
	case w.kind() == kindHillClimb:
	case net >= 5:
		return say("{}; the finish is {} higher than the start.", between, w.height("net_rise_m", net))
	case net <= -5:
		return say("{}; the finish is {} lower than the start.", between, w.height("net_fall_m", -net))
	}
	return say("{}.", between)
}

// road tells what kind of ground the course runs over.
func (w writer) road() block {
	lines := [][]said{{{rankShare, w.shareBefore()}}}
	if w.in.Course.HasElevation() && w.kind() != kindHillClimb {
		lines = append(lines,
			[]said{{rankGround, w.steepGround()}},
			[]said{{rankGround, w.falseFlats()}},
			[]said{{rankGround, w.rolling()}},
			[]said{{rankGround, w.steady()}})
	}
	if w.kind() != kindMountainStage {
		lines = append(lines, w.descents()...)
	}
	return bullets("The road", append(lines, []said{{rankDescent, w.tightBends()}}, []said{{rankHeights, w.heights()}})...)
}

// shareBefore tells how much of the climbing comes before the last climb, where the
// opening doesn't.
func (w writer) shareBefore() phrase {
	share := w.in.Terrain.Climbing.ShareBeforeLastClimb
	if key := w.key(); key >= 0 && w.mainClimbs() == 1 && len(w.in.Terrain.Climbs[key].Passes) == 1 {
		return phrase{}
	}
	if key := w.key(); math.IsNaN(share) || share < 0.005 || w.kind() == kindHillClimb || w.kind() == kindMountainStage || key >= 0 && endsAtLine(w.in.Terrain.Climbs[key]) {
		return phrase{}
	}
	return say("{} of the climbing is done at the foot of the last climb.", w.share("share_before_last_climb", share))
}

// steepGround tells how much of the road is steep.
func (w writer) steepGround() phrase {
	steep, very := w.atLeast(6), w.atLeast(10)
	if steep < 100 {
		return phrase{}
	}
	p := say("{} climb at {} or more", w.length("steep.length_m", steep), w.slope("steep.from_pct", 6))
	if very >= 10 {
		return say("{}, {} of it at {} or more.", p, w.length("very_steep.length_m", very), w.slope("very_steep.from_pct", 10))
	}
	return say("{}.", p)
}

// atLeast returns the length ridden at a gradient or steeper.
func (w writer) atLeast(pct float64) float64 {
	sum := 0.0
	for _, b := range w.in.Terrain.GradientBands {
		if b.FromPct >= pct {
			sum += b.LengthM
		}
	}
	return sum
}

// falseFlats tells the false flats by the one that gains most.
func (w writer) falseFlats() phrase {
	all := w.in.Terrain.Climbing.FalseFlats
	if len(all) == 0 {
		return phrase{}
	}
	most := slices.MaxFunc(all, func(a, b terrain.FalseFlat) int { return cmp.Compare(a.GainM, b.GainM) })
	flat := say("{} at {}, {}", w.length("false_flat.length_m", most.LengthM()),
		w.gradient("false_flat.mean_gradient_pct", most.MeanGradientPct), w.from("false_flat.start_m", most.StartM))
	if len(all) == 1 {
		return say("One false flat: {}.", flat)
	}
	return capital(say("{} false flats, the biggest {}.", w.count("false_flats", len(all)), flat))
}

// fewRises is the number of rises per km below which ground doesn't roll.
const fewRises = 0.05

// rolling tells the rises outside the climbs.
func (w writer) rolling() phrase {
	r := w.in.Terrain.Climbing.Rolling
	where := "Outside the climbs"
	if len(w.in.Terrain.Climbs) == 0 {
		where = "On the way"
	}
	flat := len(w.in.Terrain.Climbs) == 0 && w.ascentPerKm() < rollingFrom
	if math.IsNaN(r.RisesPerKm) || w.climbingM() > 0.9*w.in.Course.LengthM() || flat || w.kind() == kindCriterium {
		return phrase{}
	}
	if r.RisesPerKm < fewRises || !w.counts(r.MeanRiseM) {
		return say("{} hardly anything rises.", words(where))
	}
	mean, most := w.height("rolling.mean_rise_m", r.MeanRiseM), w.height("rolling.largest_rise_m", r.LargestRiseM)
	size := say("{} high on average and {} at most", mean, most)
	if mean.text == most.text {
		size = say("{} high", mean)
	}
	return say("{} there is a rise every {}, {}.", words(where), w.length("rolling.distance_per_rise_m", 1000/r.RisesPerKm), size)
}

// climbingM is the length of road that lies in climbs.
func (w writer) climbingM() float64 {
	sum := 0.0
	for _, c := range w.in.Terrain.Climbs {
		for _, p := range c.Passes {
			if isWhole(c) {
				sum += p.EndM - p.StartM
			}
		}
	}
	return sum
}

// steady tells the longest stretch for an even effort.
func (w writer) steady() phrase {
	s := w.in.Terrain.Climbing.Rolling.LongestSteady
	if s.LengthM() < 1000 || s.LengthM() > 0.95*w.in.Course.LengthM() {
		return phrase{}
	}
	how := words("on the level")
	switch {
	case s.MeanGradientPct >= levelPct:
		how = say("rising at {}", w.slope("steady.mean_gradient_pct", s.MeanGradientPct))
	case s.MeanGradientPct <= -levelPct:
		how = say("falling at {}", w.slope("steady.mean_gradient_pct", s.MeanGradientPct))
	}
	return say("The longest steady stretch is {} {}, {}.", w.length("steady.length_m", s.LengthM()), how, w.from("steady.start_m", s.StartM))
}
