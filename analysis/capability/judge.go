package capability

import "math"

// judge adds to a fit what its residuals tell: how well it fits, and its errors.
func (t *trials) judge(f *Fit) {
	residuals, observed, columns := t.regression(f)
	f.DegreesOfFreedom = len(residuals) - f.Kind.Parameters()
	f.CriticalPowerErrorW, f.WPrimeErrorJ, f.MaxPowerErrorW, f.ResidualSD = math.NaN(), math.NaN(), math.NaN(), math.NaN()

	centre := mean(observed, t.weight)
	var squares, about float64
	for i, w := range t.weight {
		squares += float64(w * residuals[i] * residuals[i])
		about += float64(w * (observed[i] - centre) * (observed[i] - centre))
	}
	f.RSquared = 1 - squares/about
	if t.distinctEfforts() <= f.Kind.Parameters() {
		return
	}
	f.ResidualSD = math.Sqrt(squares / float64(f.DegreesOfFreedom))
	for i, w := range t.weight {
		root := math.Sqrt(w)
		residuals[i] *= root
		for _, column := range columns {
			column[i] *= root
		}
	}
	factor, ok := decompose(columns)
	if f.flat = !ok; f.flat {
		return
	}
	f.factor = factor
	f.CriticalPowerErrorW = 0 // known now, so that spread may be asked
	f.CriticalPowerErrorW = f.spread([3]float64{1, 0, 0})
	f.WPrimeErrorJ = f.spread([3]float64{0, 1, 0})
	if f.Kind.Parameters() == 3 {
		f.MaxPowerErrorW = f.spread([3]float64{1, 1 / f.offsetS, -f.WPrimeJ / f.offsetS / f.offsetS})
	}
	f.studentised = studentised(residuals, columns, squares)
}

// regression returns the residuals of a fit in its own variable, what was observed of
// that variable, and the columns of the Jacobian by CP, W′ and, with three parameters,
// offset.
func (t *trials) regression(f *Fit) (residuals, observed []float64, columns [][]float64) {
	n := len(t.durationS)
	columns = make([][]float64, f.Kind.Parameters())
	for j := range columns {
		columns[j] = make([]float64, n)
	}
	residuals = make([]float64, n)
	switch f.Kind {
	case TwoParameterTime, ThreeParameterTime:
		observed = t.durationS
	case WorkTimeLine:
		observed = t.work()
	case InverseTimeLine, ThreeParameterPower:
		observed = t.powerW
	}
	for i, y := range observed {
		fitted, gradient := f.regressed(t.durationS[i], t.powerW[i])
		residuals[i] = y - fitted
		for j := range columns {
			columns[j][i] = gradient[j]
		}
	}
	return residuals, observed, columns
}

// regressed returns what a fit gives for an effort in its own variable, and the gradient
// of that by CP, W′ and offset.
func (f *Fit) regressed(durationS, powerW float64) (fitted float64, gradient [3]float64) {
	switch f.Kind {
	case WorkTimeLine:
		return f.WPrimeJ + float64(f.CriticalPowerW*durationS), [3]float64{durationS, 1, 0}
	case InverseTimeLine, ThreeParameterPower:
		u := 1 / (durationS + f.offsetS)
		return f.CriticalPowerW + float64(f.WPrimeJ*u), [3]float64{1, u, -f.WPrimeJ * u * u}
	}
	u := 1 / (powerW - f.CriticalPowerW)
	return float64(f.WPrimeJ*u) - f.offsetS, [3]float64{f.WPrimeJ * u * u, u, -1}
}

// studentised returns weighted residuals over their standard deviations as the other
// efforts have them (Cook & Weisberg 1982, Residuals and Influence in Regression, 2.2),
// nil with too few efforts. The columns are orthonormal and give the leverages.
func studentised(residuals []float64, columns [][]float64, squares float64) []float64 {
	rest := len(residuals) - len(columns) - 1
	if rest < 1 {
		return nil
	}
	out := make([]float64, len(residuals))
	for i, r := range residuals {
		free := 1.0 // less the leverage
		for _, q := range columns {
			free -= float64(q[i] * q[i])
		}
		if free > dependent {
			others := max(0, squares-r*r/free) / float64(rest)
			out[i] = r / math.Sqrt(others*free)
		}
	}
	return out
}
