package terrain

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/course"
)

// climbing says where the climbing of a course with elevation is.
func climbing(c *course.Course, p profile, climbs []Climb, window float64) Climbing {
	return Climbing{
		ByPart:               byPart(c),
		ShareBeforeLastClimb: shareBeforeLastClimb(c, climbs),
		Rolling:              rolling(c, p, climbs, window),
		FalseFlats:           falseFlats(c, p, climbs, window),
	}
}

// withoutElevation is the climbing of which nothing is known.
func withoutElevation() Climbing {
	nan := math.NaN()
	return Climbing{
		ShareBeforeLastClimb: nan,
		Rolling:              Rolling{RisesPerKm: nan, MeanRiseM: nan, LargestRiseM: nan, AscentMPerKm: nan},
	}
}

func byPart(c *course.Course) []PartClimbing {
	total := c.AscentM(0, c.LengthM())
	parts := make([]PartClimbing, len(c.Parts))
	for i, part := range c.Parts {
		parts[i] = PartClimbing{Part: part, AscentM: part.AscentM}
		if total > 0 {
			parts[i].Share = part.AscentM / total
		}
	}
	return parts
}

func shareBeforeLastClimb(c *course.Course, climbs []Climb) float64 {
	last, ok := lastClimb(climbs)
	total := c.AscentM(0, c.LengthM())
	if !ok || total <= 0 {
		return math.NaN()
	}
	return c.AscentM(0, last.StartM) / total
}

// rolling measures the ground outside the climbs' passes.
func rolling(c *course.Course, p profile, climbs []Climb, window float64) Rolling {
	r := Rolling{LongestSteady: longestSteady(p, window)}
	var length, sum, count, ascent float64
	for _, gap := range outside(p, climbs) {
		length += gap.length()
		ascent += c.AscentM(gap.start, gap.end)
		for _, rise := range risesOf(p.cut(gap.start, gap.end), rollingRiseM) {
			count++
			sum += rise
			r.LargestRiseM = max(r.LargestRiseM, rise)
		}
	}
	if count > 0 {
		r.RisesPerKm, r.MeanRiseM = 1000*count/length, sum/count
	}
	if length > 0 {
		r.AscentMPerKm = 1000 * ascent / length
	}
	return r
}

// outside returns the stretches of a profile that belong to no pass of a climb.
func outside(p profile, climbs []Climb) []span {
	var on []span
	for _, c := range climbs {
		for _, pass := range c.Passes {
			on = append(on, span{pass.StartM, pass.EndM})
		}
	}
	slices.SortFunc(on, func(a, b span) int { return cmp.Compare(a.start, b.start) })
	var gaps []span
	from := p.startM()
	for _, s := range append(on, span{p.endM(), p.endM()}) {
		if s.start > from {
			gaps = append(gaps, span{from, s.start})
		}
		from = max(from, s.end)
	}
	return gaps
}

// risesOf returns the rises of at least a height between the turning points of a
// profile; a fall of that height ends a rise.
func risesOf(p profile, least float64) []float64 {
	var all []float64
	low, high := p.z[0], p.z[0]
	rising := false
	for _, z := range p.z {
		switch {
		case rising && z > high:
			high = z
		case rising && high-z >= least:
			all = append(all, high-low)
			rising, low = false, z
		case !rising && z < low:
			low = z
		case !rising && z-low >= least:
			rising, high = true, z
		}
	}
	if rising {
		all = append(all, high-low)
	}
	return all
}

// longestSteady returns the first of the longest stretches on which the gradient,
// averaged over about 100 m, stays within one point of its mean.
func longestSteady(p profile, window float64) Stretch {
	n := min(max(1, int(math.Round(p.lengthM()/steadyCellM))), steadyCells)
	cell := p.lengthM() / float64(n)
	z := make([]float64, n+1)
	for i := range z {
		z[i] = p.at(p.startM() + float64(cell*float64(i)))
	}
	const eps = 1e-9
	from, to := 0, 0
	for i := 0; n-i > to-from; i++ {
		lo, hi := math.Inf(1), math.Inf(-1)
		for j := i + 1; j <= n; j++ {
			g := (z[j] - z[j-1]) / cell
			lo, hi = min(lo, g), max(hi, g)
			if hi-lo > 2*steadyTolerance+eps {
				break
			}
			mean := (z[j] - z[i]) / (float64(j-i) * cell)
			if j-i > to-from && hi-mean <= steadyTolerance+eps && mean-lo <= steadyTolerance+eps {
				from, to = i, j
			}
		}
	}
	at := func(i int) float64 { return min(p.startM()+float64(cell*float64(i)), p.endM()) }
	return stretch(p, span{at(from), at(to)}, window)
}
