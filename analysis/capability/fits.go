package capability

import (
	"fmt"
	"math"
	"slices"
)

// fit returns the fit of a kind, or why there is none.
func (t *trials) fit(kind Kind) (*Fit, *Absence) {
	if absent := t.tooFew(kind); absent != nil {
		return nil, absent
	}
	var f *Fit
	var absent *Absence
	switch kind {
	case TwoParameterTime, ThreeParameterTime:
		f, absent = t.fitTime(kind)
	case WorkTimeLine:
		f = t.fitWork()
	case InverseTimeLine:
		f = t.fitInverse()
	case ThreeParameterPower:
		f, absent = t.fitPower()
	}
	if absent == nil {
		absent = f.unfit()
	}
	if absent != nil {
		return nil, absent
	}
	t.judge(f)
	return f, nil
}

// tooFew says that there are fewer different durations or powers than parameters.
func (t *trials) tooFew(kind Kind) *Absence {
	n, what := distinct(t.durationS), "durations"
	if powers := distinct(t.powerW); (kind == TwoParameterTime || kind == ThreeParameterTime) && powers < n {
		n, what = powers, "powers"
	}
	if n >= kind.Parameters() {
		return nil
	}
	return &Absence{Kind: kind, Code: CodeTooFew, Detail: fmt.Sprintf(
		"A model of %d parameters needs efforts of %[1]d different %[2]s, not of %[3]d.", kind.Parameters(), what, n,
	)}
}

// The shifts that are tried, as shares: of the lowest power, how far critical power is
// below it; of the shortest and of the longest duration, the offset.
const (
	leastGap                = 1e-9
	leastOffset, mostOffset = 1e-6, 1e3
)

// bound is a solution where a model ends: there is no fit where its squares are least.
type bound struct {
	solution
	code, detail string
}

// fitTime fits t = W′/(P − CP) − offset on time. The shift is how far critical power lies
// below the lowest power, 0 to all of it.
func (t *trials) fitTime(kind Kind) (*Fit, *Absence) {
	lowest := slices.Min(t.powerW)
	h := hyperbola{y: t.durationS, weight: t.weight, levelled: kind == ThreeParameterTime}
	for _, p := range t.powerW {
		h.base = append(h.base, p-lowest)
	}
	found, ends := h.minima(leastGap*lowest, lowest)
	bounds := []bound{
		{ends[0], CodeNoCriticalPower, "Its squares are least with critical power at the lowest power of all, " + watts(lowest) + ", where W′ vanishes."},
		{ends[1], CodeNoCriticalPower, "Its squares are least with critical power at zero or below: the durations change too little, or the wrong way, with power."},
	}
	if kind == ThreeParameterTime {
		unlimited := h
		unlimited.levelled = false
		flat, _ := unlimited.minima(leastGap*lowest, lowest)
		for _, s := range flat {
			bounds = append(bounds, bound{s, CodeNoMaxPower, noLimit})
		}
	}
	s, absent := least(kind, found, bounds)
	if absent != nil {
		return nil, absent
	}
	f := &Fit{Kind: kind, CriticalPowerW: lowest - s.shift, WPrimeJ: s.height, offsetS: -s.level}
	f.limit()
	return f, nil
}

const noLimit = "Its squares are least without an upper limit of power: with a maximal power it fits no better."

// fitPower fits P = CP + W′/(t + offset) on power. The shift is the offset.
func (t *trials) fitPower() (*Fit, *Absence) {
	h := hyperbola{base: t.durationS, y: t.powerW, weight: t.weight, levelled: true}
	found, ends := h.minima(leastOffset*t.shortestS(), mostOffset*t.longestS())
	s, absent := least(ThreeParameterPower, found, []bound{
		{ends[0], CodeNoMaxPower, noLimit},
		{ends[1], CodeNoCriticalPower, "Its squares are least where power falls along a straight line with duration, or doesn't fall."},
	})
	if absent != nil {
		return nil, absent
	}
	f := &Fit{Kind: ThreeParameterPower, CriticalPowerW: s.level, WPrimeJ: s.height, offsetS: s.shift}
	f.limit()
	return f, nil
}

// least returns the solution with the least squares that the model admits, or says that
// the squares are least at one of its bounds. On time a level above zero is none of a
// model's with a maximal power.
func least(kind Kind, solutions []solution, bounds []bound) (solution, *Absence) {
	best := solution{squares: math.Inf(1)}
	for _, s := range solutions {
		admitted := s.height > 0 && (kind != ThreeParameterTime || s.level < 0)
		if admitted && s.squares < best.squares {
			best = s
		}
	}
	lowest := bounds[0]
	for _, b := range bounds[1:] {
		if b.squares < lowest.squares {
			lowest = b
		}
	}
	if !(best.squares <= lowest.squares) {
		return best, &Absence{Kind: kind, Code: lowest.code, Detail: lowest.detail}
	}
	return best, nil
}

// limit sets the maximal power of three parameters from the offset.
func (f *Fit) limit() {
	if f.MaxPowerW = math.NaN(); f.Kind.Parameters() == 3 {
		f.MaxPowerW = f.CriticalPowerW + f.WPrimeJ/f.offsetS
	}
}

// fitWork fits P·t = W′ + CP·t on work.
func (t *trials) fitWork() *Fit {
	slope, level := line(t.durationS, t.work(), t.weight)
	return &Fit{Kind: WorkTimeLine, CriticalPowerW: slope, WPrimeJ: level, MaxPowerW: math.NaN()}
}

// fitInverse fits P = CP + W′/t on power.
func (t *trials) fitInverse() *Fit {
	h := hyperbola{base: t.durationS, y: t.powerW, weight: t.weight, levelled: true}
	s := h.at(0)
	return &Fit{Kind: InverseTimeLine, CriticalPowerW: s.level, WPrimeJ: s.height, MaxPowerW: math.NaN()}
}

func (t *trials) work() []float64 {
	work := make([]float64, len(t.durationS))
	for i, s := range t.durationS {
		work[i] = s * t.powerW[i]
	}
	return work
}

// line returns the weighted least-squares line of y over x.
func line(x, y, weight []float64) (slope, level float64) {
	x0, y0 := mean(x, weight), mean(y, weight)
	var xx, xy float64
	for i, w := range weight {
		xx += float64(w * (x[i] - x0) * (x[i] - x0))
		xy += float64(w * (x[i] - x0) * (y[i] - y0))
	}
	slope = xy / xx
	return slope, y0 - float64(slope*x0)
}

func mean(values, weight []float64) float64 {
	return dot(values, weight) / sum(weight)
}

func sum(values []float64) float64 {
	total := 0.0
	for _, v := range values {
		total += v
	}
	return total
}

// The range of a rider's values, as the contract takes them.
const (
	leastCriticalPowerW, mostCriticalPowerW = 10.0, 1_000.0
	leastWPrimeJ, mostWPrimeJ               = 500.0, 100_000.0
	leastMaxPowerW, mostMaxPowerW           = 50.0, 4_000.0
)

// unfit says that a fit's values are no rider's.
func (f *Fit) unfit() *Absence {
	code := CodeOutOfRange
	var detail string
	switch cp, w, most := f.CriticalPowerW, f.WPrimeJ, f.MaxPowerW; {
	case !(w > 0):
		code, detail = CodeNoCriticalPower, fmt.Sprintf("Its W′ would be %s, not above zero: power doesn't fall with duration as the model has it.", joules(w))
	case !(cp > 0):
		code, detail = CodeNoCriticalPower, fmt.Sprintf("Its critical power would be %s, not above zero.", watts(cp))
	case cp < leastCriticalPowerW || cp > mostCriticalPowerW:
		detail = fmt.Sprintf("Its critical power would be %s, outside %v to %v W.", watts(cp), leastCriticalPowerW, mostCriticalPowerW)
	case w < leastWPrimeJ || w > mostWPrimeJ:
		detail = fmt.Sprintf("Its W′ would be %s, outside %v to %v J.", joules(w), leastWPrimeJ, mostWPrimeJ)
	case f.Kind.Parameters() == 3 && most > mostMaxPowerW:
		code, detail = CodeNoMaxPower, fmt.Sprintf("Its maximal power would be above %v W: the efforts show no upper limit.", mostMaxPowerW)
	case f.Kind.Parameters() == 3 && most < leastMaxPowerW:
		detail = fmt.Sprintf("Its maximal power would be %s, below %v W.", watts(most), leastMaxPowerW)
	default:
		return nil
	}
	return &Absence{Kind: f.Kind, Code: code, Detail: detail}
}
