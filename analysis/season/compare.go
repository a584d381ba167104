package season

import (
	"cmp"
	"math"
	"slices"

	"parcours.example/analysis/wording"
)

// Round is a round as it is compared.
type Round struct {
	Figures
	// Rides holds the riders' rides on it, on all set-ups, in any order; empty without riders.
	Rides []Ride
}

// Ride is a rider's predicted ride over a round on a set-up.
type Ride struct {
	// RiderIndex and SetupIndex count from 0, the same over all rounds.
	RiderIndex, SetupIndex int
	// TimeS is NaN where there is none, and Code, kebab-case, then says why. LowS and HighS bound
	// it; NaN for none.
	TimeS, LowS, HighS float64
	Code               string
	// PowerW is the power that was asked for, its mean where it changes, MassKg the mass moved,
	// CdAM2 the drag area in m². NaN where they aren't known.
	PowerW, MassKg, CdAM2 float64
	// TimeByMass and TimeByDragArea are the shares by which the time grows per share of either:
	// ∂ln t/∂ln m and ∂ln t/∂ln CdA.
	TimeByMass, TimeByDragArea float64
}

// Comparison holds rounds against each other. Its Rounds are in the order of those that were
// compared, its Riders in that of their names.
type Comparison struct {
	Rounds []ComparedRound
	Riders []Rider
}

// ComparedRound is a round among the others.
type ComparedRound struct {
	Ranks Ranks
	// TimeS is the median of the riders' times; NaN without any.
	TimeS float64
	// LeftOut says why the round doesn't count in totals and suitabilities; "" where it does, and
	// without riders.
	LeftOut string
}

// Ranks are places among the rounds, 1 for the most, equal ones sharing theirs; 0 where the
// figure isn't known.
type Ranks struct{ Length, Ascent, AscentPerKm, H2, Rolling int }

// Rider is what a season comes to for a rider.
type Rider struct {
	Name string
	// TotalS is the time over the rounds that count, of which there are Counted; NaN where there
	// are none or the rider finishes none. BehindS is how far that is behind the least.
	TotalS, BehindS float64
	Counted         int
	// Times holds one for each round.
	Times []Time
	// Best and Least are the rounds that suit the rider best and least, at most three each, those
	// first that do so most.
	Best, Least []Suited
}

// Time is a rider's time in a round: that on the fastest set-up.
type Time struct {
	Ride
	// Place counts from 1, equal times sharing theirs; 0 without a time.
	Place int
	// SuitabilityPct is NaN where the round doesn't count, or there is nothing to compare with.
	SuitabilityPct float64
}

// Compare holds rounds against each other; names are those of the riders. The order of the
// rounds and that of the riders change nothing but the order of what is returned.
func Compare(names []string, rounds []Round) Comparison {
	c := Comparison{Rounds: make([]ComparedRound, len(rounds)), Riders: make([]Rider, len(names))}
	c.rank(rounds)
	for i, name := range names {
		c.Riders[i] = Rider{Name: name, TotalS: math.NaN(), BehindS: math.NaN(), Times: make([]Time, len(rounds))}
	}
	for j, r := range rounds {
		c.time(j, r.Rides)
	}
	counts := c.leaveOut()
	c.total(counts)
	c.suit(counts)
	return c
}

// rank gives the rounds their places.
func (c *Comparison) rank(rounds []Round) {
	for _, by := range []struct {
		figure func(Figures) float64
		rank   func(*Ranks) *int
	}{
		{func(f Figures) float64 { return f.LengthM }, func(r *Ranks) *int { return &r.Length }},
		{func(f Figures) float64 { return f.AscentM }, func(r *Ranks) *int { return &r.Ascent }},
		{Figures.AscentMPerKm, func(r *Ranks) *int { return &r.AscentPerKm }},
		{func(f Figures) float64 { return f.H2Index }, func(r *Ranks) *int { return &r.H2 }},
		{func(f Figures) float64 { return f.RollingMPerKm }, func(r *Ranks) *int { return &r.Rolling }},
	} {
		figures := make([]float64, len(rounds))
		for j := range rounds {
			figures[j] = -by.figure(rounds[j].Figures) // the most first
		}
		for j, place := range places(figures) {
			*by.rank(&c.Rounds[j].Ranks) = place
		}
	}
}

// places are those of values, the least being 1; 0 for NaN.
func places(values []float64) []int {
	sorted := known(values)
	slices.Sort(sorted)
	out := make([]int, len(values))
	for i, v := range values {
		if !math.IsNaN(v) {
			at, _ := slices.BinarySearch(sorted, v)
			out[i] = at + 1
		}
	}
	return out
}

// known returns the values that are.
func known(values []float64) []float64 {
	return slices.DeleteFunc(slices.Clone(values), math.IsNaN)
}

// time gives each rider the fastest ride of round j.
func (c *Comparison) time(j int, rides []Ride) {
	for i := range c.Riders {
		c.Riders[i].Times[j] = Time{Ride: Ride{RiderIndex: i, TimeS: math.NaN(), LowS: math.NaN(), HighS: math.NaN()}, SuitabilityPct: math.NaN()}
	}
	for _, r := range rides {
		if t := &c.Riders[r.RiderIndex].Times[j]; better(r, t.Ride) {
			t.Ride = r
		}
	}
	times := make([]float64, len(c.Riders))
	for i := range c.Riders {
		times[i] = c.Riders[i].Times[j].TimeS
	}
	for i, place := range places(times) {
		c.Riders[i].Times[j].Place = place
	}
	c.Rounds[j].TimeS = median(known(times))
}

// better reports whether a rider counts with a ride rather than with another: with the faster,
// of equal ones with the set-up that is listed first, and without a time with its reason.
func better(a, b Ride) bool {
	switch {
	case math.IsNaN(a.TimeS) != math.IsNaN(b.TimeS):
		return math.IsNaN(b.TimeS)
	case math.IsNaN(a.TimeS):
		return b.Code == "" || a.SetupIndex < b.SetupIndex
	case a.TimeS == b.TimeS:
		return a.SetupIndex < b.SetupIndex
	}
	return a.TimeS < b.TimeS
}

// leaveOut returns the rounds that count: those that all riders finish who finish any.
func (c *Comparison) leaveOut() (counts []int) {
	for j := range c.Rounds {
		var without []string
		for i := range c.Riders {
			if c.Riders[i].finishes() && math.IsNaN(c.Riders[i].Times[j].TimeS) {
				without = append(without, c.Riders[i].Name)
			}
		}
		switch {
		case len(c.Riders) == 0:
		case !slices.ContainsFunc(c.Riders, Rider.finishes):
			c.Rounds[j].LeftOut = "No rider has a time in any round."
		case len(without) > 0:
			c.Rounds[j].LeftOut = lacking(without)
		default:
			counts = append(counts, j)
		}
	}
	return counts
}

// lacking says that riders have no time.
func lacking(names []string) string {
	const most = 3
	slices.Sort(names)
	verb := "has"
	if len(names) > 1 {
		verb = "have"
	}
	if more := len(names) - most; more > 0 {
		names = append(names[:most:most], wording.Small(more)+" more")
	}
	return wording.List(names...) + " " + verb + " no time here."
}

// finishes reports whether a rider has a time in any round.
func (r Rider) finishes() bool {
	return slices.ContainsFunc(r.Times, func(t Time) bool { return !math.IsNaN(t.TimeS) })
}

// total adds up the times of the rounds that count.
func (c *Comparison) total(counts []int) {
	if len(counts) == 0 {
		return
	}
	least := math.Inf(1)
	for i := range c.Riders {
		if r := &c.Riders[i]; r.finishes() {
			r.TotalS, r.Counted = sum(r.over(counts, func(t Time) float64 { return t.TimeS })), len(counts)
			least = min(least, r.TotalS)
		}
	}
	for i := range c.Riders {
		c.Riders[i].BehindS = c.Riders[i].TotalS - least
	}
}

// over lists a figure of the rider's times in some rounds.
func (r Rider) over(rounds []int, figure func(Time) float64) []float64 {
	out := make([]float64, len(rounds))
	for k, j := range rounds {
		out[k] = figure(r.Times[j])
	}
	return out
}

// median is the middle of values, the mean of the two in the middle of an even number; NaN of
// none.
func median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	slices.SortFunc(values, cmp.Compare[float64])
	return (values[(n-1)/2] + values[n/2]) / 2
}

// sum adds values up in the order of their size, so that the order in which they come doesn't
// show.
func sum(values []float64) float64 {
	slices.SortFunc(values, cmp.Compare[float64])
	total := 0.0
	for _, v := range values {
		total += v
	}
	return total
}

// mean is that of one value or more.
func mean(values []float64) float64 { return sum(values) / float64(len(values)) }
