// Package capability tells what a rider can do from maximal efforts: critical power, W′
// and, where they show it, maximal power.
//
// An effort is a power that could just be held for a duration. Two models relate them:
//
//	P = CP + W′/t                       two parameters (Monod & Scherrer 1965)
//	P = CP + W′/(t + W′/(P_max − CP))   three parameters (Morton 1996)
//
// Each is fitted in several ways that differ in which variable carries the error. On the
// same efforts W′ differs by half between them, so all are given, with the variable named:
//
//   - ThreeParameterTime, TwoParameterTime: least squares on the durations, as fits
//     trials at a fixed power until exhaustion.
//   - WorkTimeLine: least squares on the work P·t, a line in t (Moritani et al. 1981).
//   - InverseTimeLine: least squares on the powers, a line in 1/t; the same as two
//     parameters fitted on power.
//   - ThreeParameterPower: least squares on the powers, as fits efforts of a fixed duration.
//
// Both models are meant for efforts of some 2 to 15 min (common practice). Against
// critical power of the laboratory, efforts of 3, 7 and 12 min in the field come out with a
// standard error of estimate of 4.5 to 5.8 % (Karsten et al. 2015, Eur. J. Appl. Physiol.
// 115:197–204); no standard error here contains that.
package capability

import (
	"cmp"
	"math"
	"slices"
)

// Effort is a maximal effort.
type Effort struct {
	// DurationS is how long it lasted, 1…86,400 s.
	DurationS float64
	// PowerW is its mean power, 1…4,000 W.
	PowerW float64
	// Weight multiplies its squared residual in every fit, whatever the variable,
	// 10⁻⁶…10⁶; NaN for 1. Twice the same effort counts as one of twice the weight, and
	// adds a degree of freedom.
	Weight float64
}

// Capability is what efforts tell of a rider.
type Capability struct {
	// Fits are those that exist, in the order of Kinds; at least one.
	Fits []Fit
	// Absent says why the others don't.
	Absent []Absence
	// Best is the index in Fits of the one that Rule chooses, Reason why, as a sentence.
	Best   int
	Reason string
	// Warnings say what keeps the efforts from determining the best fit.
	Warnings []Warning
}

// Absence says why there is no fit of a kind.
type Absence struct {
	Kind Kind
	// Code is one of the Code constants, Detail a sentence with the numbers that matter.
	Code, Detail string
}

// Determine fits every kind to the efforts, in whatever order they stand, and chooses
// one. Errors are *Error.
func Determine(efforts []Effort) (*Capability, error) {
	if err := validate(efforts); err != nil {
		return nil, err
	}
	t := newTrials(efforts)
	c := &Capability{}
	for _, kind := range Kinds() {
		f, absent := t.fit(kind)
		if absent != nil {
			c.Absent = append(c.Absent, *absent)
			continue
		}
		c.Fits = append(c.Fits, *f)
	}
	if len(c.Fits) == 0 {
		return nil, t.undetermined(c.Absent)
	}
	c.Best, c.Reason = choose(t, c.Fits)
	c.Warnings = warnings(t, c)
	return c, nil
}

// trials are efforts in the order of their durations, so that results don't depend on
// the order in which they were given.
type trials struct {
	durationS, powerW, weight []float64
	// given is each one's index in the efforts as they were given.
	given []int
}

func newTrials(efforts []Effort) *trials {
	t := &trials{given: make([]int, len(efforts))}
	for i := range efforts {
		t.given[i] = i
	}
	slices.SortStableFunc(t.given, func(i, j int) int {
		a, b := efforts[i], efforts[j]
		return cmp.Or(cmp.Compare(a.DurationS, b.DurationS), cmp.Compare(a.PowerW, b.PowerW), cmp.Compare(a.weight(), b.weight()))
	})
	for _, i := range t.given {
		t.durationS = append(t.durationS, efforts[i].DurationS)
		t.powerW = append(t.powerW, efforts[i].PowerW)
		t.weight = append(t.weight, efforts[i].weight())
	}
	return t
}

func (e Effort) weight() float64 {
	if math.IsNaN(e.Weight) {
		return 1
	}
	return e.Weight
}

func (t *trials) shortestS() float64 { return t.durationS[0] }
func (t *trials) longestS() float64  { return t.durationS[len(t.durationS)-1] }

// distinct returns how many different values there are.
func distinct(values []float64) int {
	sorted := slices.Sorted(slices.Values(values))
	return len(slices.Compact(sorted))
}

// distinctEfforts returns how many different pairs of duration and power there are.
func (t *trials) distinctEfforts() int {
	pairs := map[[2]float64]bool{}
	for i, s := range t.durationS {
		pairs[[2]float64{s, t.powerW[i]}] = true
	}
	return len(pairs)
}
