package capability

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// someone is a rider who can be: critical power, W′ and maximal power.
type someone struct{ cp, w, most float64 }

func anyone(t *rapid.T) someone {
	cp := rapid.Float64Range(80, 500).Draw(t, "critical power")
	w := rapid.Float64Range(5_000, 40_000).Draw(t, "W′")
	return someone{cp: cp, w: w, most: cp * rapid.Float64Range(2, 6).Draw(t, "maximal power over critical power")}
}

// powerW is what can be held, with or without an upper limit.
func (s someone) powerW(durationS float64, limited bool) float64 {
	if limited {
		return s.cp + s.w/(durationS+s.w/(s.most-s.cp))
	}
	return s.cp + s.w/durationS
}

// anyDurations are n durations, each at least a third longer than the one before.
func anyDurations(t *rapid.T, n int, first, last float64) []float64 {
	d := []float64{rapid.Float64Range(first, last).Draw(t, "shortest")}
	for len(d) < n {
		d = append(d, d[len(d)-1]*rapid.Float64Range(1.3, 2).Draw(t, "times longer"))
	}
	return d
}

func anyEfforts(t *rapid.T, least int) []Effort {
	n := rapid.IntRange(least, 12).Draw(t, "efforts")
	efforts := make([]Effort, n)
	rider := anyone(t)
	for i := range efforts {
		d := rapid.Float64Range(5, 3000).Draw(t, "duration")
		efforts[i] = Effort{
			DurationS: d, Weight: rapid.SampledFrom([]float64{math.NaN(), 1, 0.2, 7}).Draw(t, "weight"),
			PowerW: min(mostPowerW, rider.powerW(d, true)*rapid.Float64Range(0.8, 1.2).Draw(t, "off")),
		}
	}
	return efforts
}

func findFit(c *Capability, kind Kind) *Fit {
	for i := range c.Fits {
		if c.Fits[i].Kind == kind {
			return &c.Fits[i]
		}
	}
	return nil
}

func TestExactEffortsAreRecovered(t *testing.T) {
	for _, limited := range []bool{false, true} {
		rapid.Check(t, func(t *rapid.T) {
			rider := anyone(t)
			first := 30.0
			if limited {
				first = 5
			}
			var efforts []Effort
			for _, d := range anyDurations(t, rapid.IntRange(3, 7).Draw(t, "efforts"), first, 200) {
				efforts = append(efforts, Effort{DurationS: d, PowerW: rider.powerW(d, limited), Weight: rapid.Float64Range(0.1, 10).Draw(t, "weight")})
			}
			c, err := Determine(efforts)
			if err != nil {
				t.Fatal(err)
			}
			recovered := 0
			for _, kind := range Kinds() {
				if (kind.Parameters() == 3) != limited {
					continue
				}
				f := findFit(c, kind)
				if f == nil {
					t.Fatalf("no %s: %v", kind, c.Absent)
				}
				recovered++
				off := func(got, want float64) bool { return !(math.Abs(got-want) <= 1e-6*want) }
				if off(f.CriticalPowerW, rider.cp) || off(f.WPrimeJ, rider.w) || limited && off(f.MaxPowerW, rider.most) {
					t.Fatalf("%s: %v %v %v", kind, f.CriticalPowerW, f.WPrimeJ, f.MaxPowerW)
				}
			}
			if recovered < 2 {
				t.Fatal("no fit was looked at")
			}
			want := TwoParameterTime // the first of equals
			if limited {
				want = ThreeParameterTime
			}
			if best := &c.Fits[c.Best]; len(efforts) > 3 && best.Kind != want {
				t.Fatalf("%s was chosen: %s", best.Kind, c.Reason)
			}
		})
	}
}

func TestOrderDoesNotCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		efforts := anyEfforts(t, 2)
		order := rapid.Permutation(indices(len(efforts))).Draw(t, "order")
		shuffled := make([]Effort, len(efforts))
		for i, j := range order {
			shuffled[i] = efforts[j]
		}
		a, errA := Determine(efforts)
		b, errB := Determine(shuffled)
		if (errA == nil) != (errB == nil) {
			t.Fatalf("%v, then %v", errA, errB)
		}
		if errA != nil {
			return
		}
		if a.Best != b.Best || len(a.Fits) != len(b.Fits) || len(a.Warnings) != len(b.Warnings) {
			t.Fatalf("%+v, then %+v", a, b)
		}
		for i := range a.Fits {
			if a.Fits[i].CriticalPowerW != b.Fits[i].CriticalPowerW || a.Fits[i].WPrimeJ != b.Fits[i].WPrimeJ {
				t.Fatalf("%+v, then %+v", a.Fits[i], b.Fits[i])
			}
		}
		for i, w := range a.Warnings {
			if other := b.Warnings[i]; w.Code != other.Code || w.Effort >= 0 && efforts[w.Effort].DurationS != shuffled[other.Effort].DurationS {
				t.Fatalf("%+v, then %+v", w, other)
			}
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// In other units of time and power the values are the same ones in these units.
func TestUnitsDoNotCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		efforts := anyEfforts(t, 3)
		time := rapid.Float64Range(0.2, 5).Draw(t, "unit of time")
		power := rapid.Float64Range(0.2, 5).Draw(t, "unit of power")
		scaled := slices.Clone(efforts)
		for i := range scaled {
			scaled[i].DurationS *= time
			scaled[i].PowerW *= power
		}
		a, b := newTrials(efforts), newTrials(scaled)
		for _, kind := range []Kind{TwoParameterTime, ThreeParameterTime, ThreeParameterPower} {
			f, g := shape(a, kind), shape(b, kind)
			if f == nil || g == nil || f.CriticalPowerW < 0 {
				continue // where the squares at a bound, or on a straight line, are the same up to rounding
			}
			for _, pair := range [][2]float64{{f.CriticalPowerW * power, g.CriticalPowerW}, {f.WPrimeJ * power * time, g.WPrimeJ}, {f.offsetS * time, g.offsetS}} {
				if math.Abs(pair[0]-pair[1]) > 1e-6*math.Abs(pair[0])+1e-9 {
					t.Fatalf("%s: %+v, then %+v", kind, f, g)
				}
			}
		}
	})
}

// shape fits without regard to the range of a rider's values.
func shape(t *trials, kind Kind) *Fit {
	var f *Fit
	if t.tooFew(kind) != nil {
		return nil
	}
	if kind == ThreeParameterPower {
		f, _ = t.fitPower()
	} else {
		f, _ = t.fitTime(kind)
	}
	return f
}

// No values of the parameters have smaller squares than those of the fit: held against a
// search a hundred times finer than that of the package, over all shifts.
func TestSquaresAreLeast(t *testing.T) {
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		tr := newTrials(anyEfforts(t, 3))
		for _, kind := range []Kind{TwoParameterTime, ThreeParameterTime, ThreeParameterPower} {
			f := shape(tr, kind)
			if f == nil {
				continue
			}
			found++
			residuals, _, _ := tr.regression(f)
			squares := 0.0
			for i, w := range tr.weight {
				squares += w * residuals[i] * residuals[i]
			}
			h := hyperbola{base: tr.durationS, y: tr.powerW, weight: tr.weight, levelled: true}
			low, high := 1e-6*tr.shortestS(), 1e3*tr.longestS()
			if kind != ThreeParameterPower {
				lowest := slices.Min(tr.powerW)
				low, high = 1e-9*lowest, lowest
				h = hyperbola{y: tr.durationS, weight: tr.weight, levelled: kind == ThreeParameterTime}
				for _, p := range tr.powerW {
					h.base = append(h.base, p-lowest)
				}
			}
			for shift := low; shift < high; shift *= 1.001 {
				s := h.at(shift)
				if admitted := s.height > 0 && (kind != ThreeParameterTime || s.level < 0); admitted && s.squares < squares*(1-1e-9)-1e-9 {
					t.Fatalf("%s: squares %v at CP %v, %v at shift %v", kind, squares, f.CriticalPowerW, s.squares, shift)
				}
			}
		}
	})
	if found < 10 {
		t.Errorf("only %d fits", found)
	}
}

// An effort of twice the weight counts as twice the effort.
func TestWeightIsRepetition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		efforts := anyEfforts(t, 3)
		for i := range efforts {
			efforts[i].Weight = 1
		}
		twice := append(slices.Clone(efforts), efforts[0])
		efforts[0].Weight = 2
		a, errA := Determine(efforts)
		b, errB := Determine(twice)
		if errA != nil || errB != nil {
			return
		}
		for i := range a.Fits {
			f := &a.Fits[i]
			g := findFit(b, f.Kind)
			if g == nil {
				continue // at the edge of what is a fit
			}
			if math.Abs(f.CriticalPowerW-g.CriticalPowerW) > 1e-6*g.CriticalPowerW || math.Abs(f.WPrimeJ-g.WPrimeJ) > 1e-6*g.WPrimeJ {
				t.Fatalf("%+v, then %+v", f, g)
			}
		}
	})
}

// Power falls with duration towards critical power, and duration is its inverse.
func TestCurvesFall(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		efforts := anyEfforts(t, 2)
		c, err := Determine(efforts)
		if err != nil {
			return
		}
		for i := range c.Fits {
			f := &c.Fits[i]
			for _, e := range efforts {
				if f.Counts && f.MaxPowerW <= e.PowerW {
					t.Fatalf("%s counts with %v W at most, below %v W", f.Kind, f.MaxPowerW, e.PowerW)
				}
			}
			last := f.PowerW(1)
			if f.MaxPowerW <= last {
				t.Fatalf("%v W for a second, %v W at most", last, f.MaxPowerW)
			}
			for s := 1.5; s < 90_000; s *= 1.5 {
				p := f.PowerW(s)
				if !(p < last && p > f.CriticalPowerW) {
					t.Fatalf("%s: %v W for %v s after %v W", f.Kind, p, s, last)
				}
				if back := f.DurationS(p); math.Abs(back-s) > 1e-6*s {
					t.Fatalf("%s: %v W for %v s, but %v s at it", f.Kind, p, s, back)
				}
				// The curve is one, so its error upwards and sideways differ by its slope.
				slope := (p - f.CriticalPowerW) / (s + f.offsetS)
				if up, aside := f.PowerErrorW(s), f.DurationErrorS(p); math.Abs(up-aside*slope) > 1e-6*up {
					t.Fatalf("%s: errors of %v W and %v s", f.Kind, up, aside)
				}
				last = p
			}
			if !math.IsInf(f.DurationS(f.CriticalPowerW), 1) || !math.IsInf(f.DurationS(0), 1) {
				t.Fatal("critical power can't be held without end")
			}
			if f.Kind.Parameters() == 3 && (f.DurationS(f.MaxPowerW*(1+1e-12)) != 0 || !(math.Abs(f.PowerW(0)-f.MaxPowerW) <= 1e-9*f.MaxPowerW)) {
				t.Fatal("maximal power is held for some time")
			}
		}
	})
}
