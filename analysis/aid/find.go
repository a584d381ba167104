package aid

import (
	"cmp"
	"context"
	"math"
	"slices"
)

const (
	// mostPlaces and leastSpacingM bound how closely the course is sampled.
	mostPlaces    = 500
	leastSpacingM = 10.0
	// mostPeaks is how many of the best samples are refined, mostTold how many places are
	// told, the best among them.
	mostPeaks, mostTold = 16, 10
)

// Found is where an aid gains how much.
type Found struct {
	// Samples are uses along the course, evenly spaced from the first place at which the aid
	// may be had to the line; none where it can't be had before the line.
	Samples []Use
	// Best are the best places, the best first: each better than all around it, as far as
	// the gain doesn't fall by more than 5 %. None where the aid gains nothing.
	Best []Best
}

// Best is a use at one of the best places.
type Best struct {
	Use
	// FromM and ToM bound the stretch around it on which the samples fall short of it by 5 %
	// at most.
	FromM, ToM float64
}

// Find tries an aid at places all along the course and refines the best. Errors are the
// context's and *ride.Error with CodeCannotClimb, where the aid makes the rider halt.
func Find(ctx context.Context, s *Scene, a *Aid) (*Found, error) {
	fromM := a.FirstM()
	if !(fromM < s.LineM-sameM) {
		return &Found{}, nil
	}
	n := min(max(int(math.Ceil((s.LineM-fromM)/leastSpacingM)), 2), mostPlaces)
	t, f := newTrial(s, a), &Found{Samples: make([]Use, n)}
	spacing := (s.LineM - fromM) / float64(n)
	var err error
	for i := range f.Samples {
		if f.Samples[i], err = t.use(ctx, fromM+float64(spacing*float64(i))); err != nil {
			return nil, err
		}
	}
	for _, i := range peaks(f.Samples) {
		b := Best{FromM: f.Samples[i].AtM, ToM: f.Samples[i].AtM}
		b.Use, err = t.refine(ctx, f.Samples[i], max(fromM, b.FromM-spacing), min(s.LineM, b.ToM+spacing))
		if err != nil {
			return nil, err
		}
		f.Best = append(f.Best, b)
	}
	f.Best = f.ranked()
	return f, nil
}

// all returns every use that is told.
func (f *Found) all() []Use {
	all := slices.Clone(f.Samples)
	for i := range f.Best {
		all = append(all, f.Best[i].Use)
	}
	return all
}

// alike is the share of a gain by which another may fall short and still be as good: what
// drag areas and powers are known to, at best.
const alike = 0.05

// plateau returns the first and the last sample around one of them that are as good,
// without a worse one between.
func plateau(uses []Use, i int) (first, last int) {
	least := uses[i].Value() * (1 - alike)
	for first = i; first > 0 && uses[first-1].Value() >= least; first-- {
	}
	for last = i; last < len(uses)-1 && uses[last+1].Value() >= least; last++ {
	}
	return first, last
}

// peaks returns the indices of the best samples that are worth anything, the best first,
// each on a plateau on which no better one lies.
func peaks(uses []Use) []int {
	order := make([]int, len(uses))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(uses[b].graded(), uses[a].graded()) })
	taken := make([]bool, len(uses))
	var at []int
	for _, i := range order {
		if len(at) == mostPeaks || uses[i].Value() <= 0 {
			break
		}
		first, last := plateau(uses, i)
		if !slices.Contains(taken[first:last+1], true) {
			at = append(at, i)
		}
		for k := first; k <= last; k++ {
			taken[k] = true
		}
	}
	return at
}

// ranked returns the best places that are told, the best first, with their stretches.
func (f *Found) ranked() []Best {
	slices.SortStableFunc(f.Best, func(a, b Best) int {
		return cmp.Or(cmp.Compare(b.graded(), a.graded()), cmp.Compare(a.AtM, b.AtM))
	})
	best := f.Best[:min(len(f.Best), mostTold)]
	for i := range best {
		b := &best[i]
		least := b.Value() * (1 - alike)
		near := slices.IndexFunc(f.Samples, func(u Use) bool { return u.AtM >= b.AtM })
		if near < 0 {
			near = len(f.Samples)
		}
		b.FromM, b.ToM = b.AtM, b.AtM
		for k := near - 1; k >= 0 && f.Samples[k].Value() >= least; k-- {
			b.FromM = f.Samples[k].AtM
		}
		for k := near; k < len(f.Samples) && f.Samples[k].Value() >= least; k++ {
			b.ToM = f.Samples[k].AtM
		}
	}
	return best
}

// refinedM is how closely a best place is found, in metres.
const refinedM = 1.0

// refine looks for a better use than the best so far between two places, by the golden
// section.
func (t *trial) refine(ctx context.Context, best Use, lowM, highM float64) (Use, error) {
	const golden = 0.6180339887498949
	try := func(atM float64) (Use, error) {
		u, err := t.use(ctx, atM)
		if err == nil && u.graded() > best.graded() {
			best = u
		}
		return u, err
	}
	left, err := try(highM - float64(golden*(highM-lowM)))
	if err != nil {
		return best, err
	}
	right, err := try(lowM + float64(golden*(highM-lowM)))
	for err == nil && highM-lowM > refinedM {
		if left.Value() >= right.Value() {
			highM, right = right.AtM, left
			left, err = try(highM - float64(golden*(highM-lowM)))
		} else {
			lowM, left = left.AtM, right
			right, err = try(lowM + float64(golden*(highM-lowM)))
		}
	}
	return best, err
}

// BestOf returns which of some uses of an aid gains most on another scene, as with more or
// less power, and how much it gains there; −1 for no uses. Errors are those of Find.
func BestOf(ctx context.Context, s *Scene, a *Aid, uses []Best) (int, float64, error) {
	t, best, bestS := newTrial(s, a), -1, math.Inf(-1)
	for i := range uses {
		u, err := t.use(ctx, uses[i].AtM)
		if err != nil {
			return -1, 0, err
		}
		if u.graded() > bestS {
			best, bestS = i, u.graded()
		}
	}
	return best, bestS, nil
}
