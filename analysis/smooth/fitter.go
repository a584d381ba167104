package smooth

import (
	"math"

	"parcours.example/analysis/elementary"
)

// Floors that keep the variances away from 0 where samples are exact.
const (
	floorSigma2 = 1e-8  // (0.1 mm)² for samples in metres
	floorTau2   = 1e-14 // a slope that changes by 10⁻⁷ in 1 m
	// mostStrength is the highest σ²/τ² at which the normal equations can be solved: the
	// line is straight over kilometres long before.
	mostStrength = 1e15
)

// leastTau2 returns the floor of τ² for a σ².
func leastTau2(sigma2 float64) float64 { return max(floorTau2, sigma2/mostStrength) }

// fitter is the state of one fit.
type fitter struct {
	w          []float64
	y, fit     [][]float64
	a, b, c    []float64 // dᵢ/√hᵢ = a·y[i−1] + b·y[i] + c·y[i+1]
	u          []float64
	sigma2     float64
	tau2       float64
	fixed      bool // σ is given
	freedom    float64
	observed   float64 // number of samples of weight above 0
	least      float64 // the least σ²
	iterations int
	held       int // iterations that keep σ² and τ²
	m, inv     penta
}

func newFitter(s Samples, opt Options) *fitter {
	n := len(s.X)
	f := &fitter{w: s.W, y: s.Y, m: newPenta(n), inv: newPenta(n)}
	if f.w == nil {
		f.w = ones(n)
	}
	for _, w := range f.w {
		if w > 0 {
			f.observed++
		}
	}
	f.fit = make([][]float64, len(s.Y))
	for k := range f.fit {
		f.fit[k] = make([]float64, n)
	}
	f.u = ones(n)
	f.a, f.b, f.c = changesOfSlope(s.X)
	f.start(opt)
	return f
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}

// changesOfSlope returns the coefficients of dᵢ/√hᵢ; they are 0 at the ends.
func changesOfSlope(x []float64) (a, b, c []float64) {
	n := len(x)
	a, b, c = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := 1; i+1 < n; i++ {
		left, right := x[i]-x[i-1], x[i+1]-x[i]
		root := math.Sqrt((left + right) / 2)
		a[i], c[i] = 1/(left*root), 1/(right*root)
		b[i] = -a[i] - c[i]
	}
	return a, b, c
}

// start sets the first σ² from the samples' departures from the line between
// their neighbours, and the first τ² from what that noise does not explain.
func (f *fitter) start(opt Options) {
	var noise, rough, count float64
	for i := 1; i+1 < len(f.w); i++ {
		if f.w[i-1] == 0 || f.w[i] == 0 || f.w[i+1] == 0 {
			continue
		}
		d2 := 0.0
		for _, y := range f.y {
			d := float64(f.a[i]*y[i-1]) + float64(f.b[i]*y[i]) + float64(f.c[i]*y[i+1])
			d2 += float64(d * d)
		}
		d2 /= float64(len(f.y))
		g := float64(f.a[i]*f.a[i]) + float64(f.b[i]*f.b[i]) + float64(f.c[i]*f.c[i])
		// Logarithmic means: a few sharp corners must not set the scale.
		noise += elementary.Log(d2/g + floorSigma2)
		rough += elementary.Log(d2 + floorTau2)
		count++
	}
	if count == 0 {
		count = 1
	}
	f.least = max(floorSigma2, float64(opt.Rounding*opt.Rounding)/12)
	f.sigma2 = elementary.Exp(noise/count) + f.least
	if opt.Sigma > 0 {
		f.fixed, f.sigma2 = true, float64(opt.Sigma*opt.Sigma)
	}
	f.tau2 = elementary.Exp(rough/count)/100 + leastTau2(f.sigma2)
}

// solve sets up and solves the normal equations for the present weights.
func (f *fitter) solve() {
	n := len(f.w)
	f.m.clear()
	copy(f.m.diag, f.w)
	strength := f.sigma2 / f.tau2
	for i := 1; i+1 < n; i++ {
		l := float64(strength * f.u[i])
		a, b, c := f.a[i], f.b[i], f.c[i]
		la, lb := float64(l*a), float64(l*b)
		f.m.diag[i-1] += float64(la * a)
		f.m.low1[i-1] += float64(la * b)
		f.m.low2[i-1] += float64(la * c)
		f.m.diag[i] += float64(lb * b)
		f.m.low1[i] += float64(lb * c)
		f.m.diag[i+1] += float64(float64(l*c) * c)
	}
	f.m.factor()
	for k, y := range f.y {
		fit := f.fit[k]
		for i, w := range f.w {
			fit[i] = float64(w * y[i])
		}
		f.m.solve(fit)
	}
}

// update takes one step of the fixed point and reports whether it has settled.
func (f *fitter) update() bool {
	f.m.inverse(&f.inv)
	residual := f.residuals()
	bend, used := f.changes()
	if f.held > 0 {
		f.held--
		return false
	}
	sigma2 := f.sigma2
	if !f.fixed {
		sigma2 = max(residual/max(f.observed-f.freedom, 1e-9), f.least)
	}
	tau2 := max(bend/max(used, 1e-9), leastTau2(sigma2))
	done := math.Abs(sigma2/f.sigma2-1) < settled && math.Abs(tau2/f.tau2-1) < settled
	f.sigma2, f.tau2 = sigma2, tau2
	return done
}

// residuals returns Σ w (y − ŷ)² per component and sets the effective number of
// parameters, Σ w·A⁻¹[i,i].
func (f *fitter) residuals() float64 {
	sum, freedom := 0.0, 0.0
	for i, w := range f.w {
		freedom += float64(w * f.inv.diag[i])
		for k, y := range f.y {
			r := y[i] - f.fit[k][i]
			sum += float64(w * float64(r*r))
		}
	}
	f.freedom = freedom
	return sum / float64(len(f.y))
}

// changes renews the weights u of the changes of slope and returns Σ u d²/h per
// component and Σ (1 − u·Var(d)/(τ²h)), both for the weights before.
func (f *fitter) changes() (bend, used float64) {
	m := float64(len(f.y))
	s0, s1, s2 := f.inv.diag, f.inv.low1, f.inv.low2
	for i := 1; i+1 < len(f.w); i++ {
		a, b, c := f.a[i], f.b[i], f.c[i]
		v := float64(a*float64(float64(a*s0[i-1])+2*float64(b*s1[i-1])+2*float64(c*s2[i-1]))) +
			float64(b*float64(float64(b*s0[i])+2*float64(c*s1[i]))) + float64(float64(c*c)*s0[i+1])
		v = float64(max(v, 0) * f.sigma2)
		d2 := 0.0
		for _, y := range f.fit {
			d := float64(a*y[i-1]) + float64(b*y[i]) + float64(c*y[i+1])
			d2 += float64(d * d)
		}
		d2 /= m
		bend += float64(f.u[i] * d2)
		used += max(1-float64(f.u[i]*v)/f.tau2, 0)
		f.u[i] = (tailFreedom + m) / (tailFreedom + m*(d2+v)/f.tau2)
	}
	return bend, used
}
