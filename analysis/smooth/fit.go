package smooth

import (
	"context"
	"math"
)

// Samples are observations of a line at increasing abscissae.
type Samples struct {
	// X is strictly increasing; its unit is that of a slope's run.
	X []float64
	// Y holds the observed components, each as long as X.
	Y [][]float64
	// W are the weights of the samples (how many equal observations each stands
	// for); 0 takes a sample out, nil means 1.
	W []float64
}

// Options say what the fit assumes. The zero value estimates everything.
type Options struct {
	// Sigma fixes the standard deviation of the noise per component; 0 estimates it.
	Sigma float64
	// Rounding is the step q to which Y is rounded: an observation then says that
	// the line, give or take the noise, lies in [y − q/2, y + q/2].
	Rounding float64
}

// Fit is a fitted line.
type Fit struct {
	// Y holds the fitted components at the abscissae of the samples.
	Y [][]float64
	// Sigma is the standard deviation of the noise per component, Tau that of the
	// change of slope per square root of the abscissa's unit.
	Sigma, Tau float64
	// Freedom is the effective number of parameters per component.
	Freedom float64
	// Iterations is how many times the line was solved for.
	Iterations int
}

// The model. The line y(x) has knots at the samples. Its change of slope at an
// inner knot i is
//
//	dᵢ = (y[i+1] − y[i])/(x[i+1] − x[i]) − (y[i] − y[i−1])/(x[i] − x[i−1]),
//
// with dᵢ ~ t_ν(0, τ²hᵢ), hᵢ = (x[i+1] − x[i−1])/2: a random walk of the slope with
// heavy tails, so that most of a line is straight or gently bent and a few knots may
// turn sharply. Samples are y + e, e ~ N(0, σ²). With the tails written as a scale
// mixture, dᵢ | uᵢ ~ N(0, τ²hᵢ/uᵢ), the line given u minimises
//
//	Σ w (y − ŷ)² + σ²/τ² · Σ uᵢ dᵢ²/hᵢ ,
//
// a pentadiagonal system; as ν → 0 the reweighting tends to the one for sparse
// changes of slope (Kim, Koh, Boyd & Gorinevsky, ℓ1 trend filtering, SIAM Review 51,
// 2009). σ² and τ² follow the fixed point of the restricted likelihood for variance
// components (Wood & Fasiolo, A generalised Fellner–Schall method, Biometrics 73,
// 2017), u its expectation under the line's posterior.
const (
	tailFreedom   = 1.5
	maxIterations = 40
	settled       = 2e-3 // relative change of σ² and τ² at which to stop
)

// Line fits a line to the samples. Fewer than four samples are returned as they
// are. The only error is the context's.
func Line(ctx context.Context, s Samples, opt Options) (Fit, error) {
	if len(s.X) < 4 {
		return Fit{Y: s.Y, Freedom: float64(len(s.X))}, nil
	}
	f := newFitter(s, opt)
	most := maxIterations
	if len(s.X) > 2*pilotSamples {
		if err := f.pilot(ctx, s, opt); err != nil {
			return Fit{}, err
		}
		most = pilotHeld + pilotFree
	}
	if err := f.iterate(ctx, most, func() {}); err != nil {
		return Fit{}, err
	}
	sigma := math.Sqrt(f.sigma2)
	if q := opt.Rounding; q > 0 && sigma < q {
		if err := f.refine(ctx, q); err != nil {
			return Fit{}, err
		}
	}
	return Fit{Y: f.fit, Sigma: sigma, Tau: math.Sqrt(f.tau2), Freedom: f.freedom, Iterations: f.iterations}, nil
}

// A long line takes its first variances from a pilot fit to pilotBlocks stretches of
// it, evenly spread. It then needs pilotHeld solutions with those until the weights u
// fit them, and at most pilotFree more to settle.
const (
	pilotSamples = 1200
	pilotBlocks  = 6
	pilotHeld    = 4
	pilotFree    = 5
)

// pilot sets the variances from a fit to a part of the samples.
func (f *fitter) pilot(ctx context.Context, s Samples, opt Options) error {
	part := Samples{Y: make([][]float64, len(s.Y))}
	per := pilotSamples / pilotBlocks
	for b := range pilotBlocks {
		from := (len(s.X) - per) * b / (pilotBlocks - 1)
		part.X = append(part.X, s.X[from:from+per]...)
		for k, y := range s.Y {
			part.Y[k] = append(part.Y[k], y[from:from+per]...)
		}
		part.W = append(part.W, f.w[from:from+per]...)
	}
	g := newFitter(part, opt)
	err := g.iterate(ctx, maxIterations, func() {})
	f.sigma2, f.tau2, f.held = g.sigma2, g.tau2, pilotHeld
	return err
}

// iterate solves for the line until the variances settle; before each solution but
// the first the samples may be renewed. It fails with the context's error.
func (f *fitter) iterate(ctx context.Context, most int, renew func()) error {
	for range most {
		if err := ctx.Err(); err != nil {
			return err
		}
		f.solve()
		f.iterations++
		if err := ctx.Err(); err != nil {
			return err
		}
		if f.update() {
			break
		}
		renew()
	}
	return nil
}

// refine goes on from the fit that takes rounding for noise with the samples as
// intervals. What the noise exceeds that of rounding alone, q²/12, is the noise
// before rounding.
func (f *fitter) refine(ctx context.Context, q float64) error {
	rounding := float64(q*q) / 12
	f.sigma2 = max(f.sigma2-rounding, rounding*leastBeforeRounding)
	f.fixed = true
	given := f.y
	weights := f.w
	f.y, f.w = make([][]float64, len(given)), append([]float64(nil), weights...)
	for k := range given {
		f.y[k] = append([]float64(nil), given[k]...)
	}
	f.intervals(given, weights, q)
	return f.iterate(ctx, maxIterations, func() { f.intervals(given, weights, q) })
}

// leastBeforeRounding is the least variance before rounding, in q²/12: rounding
// hides noise below it.
const leastBeforeRounding = 0.3
