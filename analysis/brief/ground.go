package brief

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
)

// parts tells lead-in, laps and run-out with their climbing, and how high the
// course goes.
func (w writer) parts() block {
	var lines [][]said
	for i, p := range w.in.Course.Parts {
		switch {
		case p.Kind == course.LeadIn && telling(p):
			lines = append(lines, w.part("Lead-in", "lead_in", p))
		case p.Kind == course.Lap && p.Lap == 1:
			lines = append(lines, w.laps(w.in.Course.Parts[i:]))
		case p.Kind == course.RunOut && telling(p):
			lines = append(lines, w.part("Run-out", "run_out", p))
		}
	}
	for i, o := range w.in.Course.OtherCircuits {
		lines = append(lines, w.otherCircuit(fmt.Sprintf("other_circuits-%d", i+1), o))
	}
	return bullets("How it runs", append(lines, []said{{rankHeights, w.heights()}})...)
}

// otherCircuit tells a circuit besides the laps.
func (w writer) otherCircuit(fact string, o course.OtherCircuit) []said {
	return []said{{rankPart, say("{}: {} {} of {}{}, from {} to {}.", strong(words("Other circuit")), w.count(fact+".count", o.Count),
		plural("lap", o.Count), w.length(fact+".length_m", o.LengthM), w.up(fact+".ascent_m", o.AscentM),
		w.length(fact+".start_m", o.StartM), w.length(fact+".end_m", o.EndM))}}
}

func (w writer) part(label, fact string, p course.Part) []said {
	return []said{{rankPart, say("{}: {}{}.", strong(words(label)), w.length(fact+".length_m", p.EndM-p.StartM), w.up(fact+".ascent_m", p.AscentM))}}
}

// up adds the ascent where there is any.
func (w writer) up(fact string, m float64) phrase {
	if !w.counts(m) {
		return phrase{}
	}
	return say(", {} up", w.height(fact, m))
}

// laps tells the laps, of which the first stands first in parts.
func (w writer) laps(parts []course.Part) []said {
	l := w.in.Course.Laps
	label := strong(words("Each lap"))
	if l.Count == 1 {
		label = strong(words("Lap"))
	}
	line := []said{{rankPart, say("{}: {}{}.", label, w.length("laps.length_m", l.LengthM), w.up("laps.ascent_m", l.AscentM))}}
	var starts []pass
	for _, p := range parts {
		if p.Kind == course.Lap {
			starts = append(starts, pass{p.Lap, p.StartM, w.in.Course.LengthM() - p.StartM})
		}
	}
	if len(starts) > 1 && len(starts) <= mostInFull {
		line = append(line, said{rankLapStarts, say("Starts: {}.", w.passes("lap_starts", starts))})
	}
	return line
}

// heights tells the range of elevation and what lies between start and finish.
func (w writer) heights() phrase {
	c := w.in.Course
	if !c.HasElevation() {
		return phrase{}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, z := range c.Z {
		low, high = min(low, z), max(high, z)
	}
	between := say("Elevation between {} and {}", w.elevation("min_elevation_m", low), w.elevation("max_elevation_m", high))
	if !w.counts(high - low) {
		return say("Elevation {} throughout.", w.elevation("min_elevation_m", low))
	}
	switch net := c.Z[len(c.Z)-1] - c.Z[0]; {
	case net >= 5:
		return say("{}; the finish is {} higher than the start.", between, w.height("net_rise_m", net))
	case net <= -5:
		return say("{}; the finish is {} lower than the start.", between, w.height("net_fall_m", -net))
	}
	return say("{}.", between)
}

// climbing tells where the climbing is and how the rest runs.
func (w writer) climbing() block {
	if !w.in.Course.HasElevation() {
		return block{}
	}
	return bullets("Where the climbing is",
		[]said{{rankShare, w.shareBefore()}},
		[]said{{rankShare, w.byPart()}},
		[]said{{rankGround, w.steepGround()}},
		[]said{{rankGround, w.falseFlats()}},
		[]said{{rankGround, w.rolling()}},
		[]said{{rankGround, w.steady()}})
}

func (w writer) shareBefore() phrase {
	share := w.in.Terrain.Climbing.ShareBeforeLastClimb
	if math.IsNaN(share) || share < 0.005 {
		return phrase{}
	}
	return say("{} of the climbing is done at the foot of the last climb.", w.share("share_before_last_climb", share))
}

// byPart tells how the climbing is spread over lead-in, laps and run-out.
func (w writer) byPart() phrase {
	shares := map[course.PartKind]float64{}
	for _, p := range w.in.Terrain.Climbing.ByPart {
		shares[p.Part.Kind] += p.Share
	}
	var told []phrase
	for _, k := range [...]struct {
		kind        course.PartKind
		words, fact string
	}{
		{course.LeadIn, "the lead-in", "climbing.lead_in.share"},
		{course.Lap, "the laps", "climbing.laps.share"},
		{course.RunOut, "the run-out", "climbing.run_out.share"},
	} {
		if shares[k.kind] >= 0.005 {
			told = append(told, say("{} in {}", w.share(k.fact, shares[k.kind]), words(k.words)))
		}
	}
	if len(told) < 2 {
		return phrase{}
	}
	return say("Of the climbing, {}.", list(told...))
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
	if math.IsNaN(r.RisesPerKm) || w.climbingM() > 0.9*w.in.Course.LengthM() {
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
