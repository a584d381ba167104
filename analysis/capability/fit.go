package capability

import "math"

// Kind is a model with the variable whose squared residuals are least.
type Kind string

// The kinds; see the package's documentation.
const (
	ThreeParameterTime  Kind = "three_parameter_time"
	TwoParameterTime    Kind = "two_parameter_time"
	WorkTimeLine        Kind = "work_time_line"
	InverseTimeLine     Kind = "inverse_time_line"
	ThreeParameterPower Kind = "three_parameter_power"
)

// Kinds returns all kinds, in the order in which equals are preferred.
func Kinds() []Kind {
	return []Kind{TwoParameterTime, WorkTimeLine, InverseTimeLine, ThreeParameterTime, ThreeParameterPower}
}

// Parameters returns how many parameters the kind's model has, 2 or 3.
func (k Kind) Parameters() int {
	if k == ThreeParameterTime || k == ThreeParameterPower {
		return 3
	}
	return 2
}

// Fit is a model fitted to efforts. What isn't known is NaN.
type Fit struct {
	Kind Kind
	// CriticalPowerW is the asymptote of power in W, 10…1000.
	CriticalPowerW float64
	// WPrimeJ is the work above critical power that can be done at once, 500…100,000 J.
	WPrimeJ float64
	// MaxPowerW is the power that can be held for no time, 50…4,000 W; NaN with two
	// parameters.
	MaxPowerW float64
	// CriticalPowerErrorW, WPrimeErrorJ and MaxPowerErrorW are standard errors: from the
	// Jacobian at the minimum and the residual variance; NaN where no more different
	// efforts are than parameters, or changes of the parameters cancel each other out.
	CriticalPowerErrorW, WPrimeErrorJ, MaxPowerErrorW float64
	// DegreesOfFreedom is the number of efforts less that of parameters.
	DegreesOfFreedom int
	// ResidualSD is the residual standard deviation at weight 1 in the regression's own
	// variable: s, J or W. NaN without degrees of freedom.
	ResidualSD float64
	// RSquared is the share of the weighted squares about the mean, in the regression's
	// own variable, that the fit explains.
	RSquared float64
	// Counts says that Rule admits the fit to the choice.
	Counts bool

	// offsetS is W′/(P_max − CP), by which the durations of the hyperbola are longer
	// than those of the efforts; 0 with two parameters.
	offsetS float64
	// factor is the triangular factor of the weighted Jacobian by CP, W′ and offset.
	factor triangle
	// flat says that there is none: changes of the parameters cancel each other out.
	flat bool
	// studentised are the residuals over their standard deviation as estimated without
	// the effort itself, in the order of the trials; nil where that can't be told.
	studentised []float64
}

// PowerW returns the power in W that can be held for a duration in s ≥ 0. It falls with
// duration, from MaxPowerW or infinity towards CriticalPowerW.
func (f *Fit) PowerW(durationS float64) float64 {
	return f.CriticalPowerW + f.WPrimeJ/(durationS+f.offsetS)
}

// PowerErrorW returns the standard error of PowerW by the delta method, NaN where the
// parameters' aren't known.
func (f *Fit) PowerErrorW(durationS float64) float64 {
	u := 1 / (durationS + f.offsetS)
	return f.spread([3]float64{1, u, -f.WPrimeJ * u * u})
}

// DurationS returns for how long a power in W can be held, in s: +Inf up to critical
// power, 0 from maximal power on.
func (f *Fit) DurationS(powerW float64) float64 {
	if powerW <= f.CriticalPowerW {
		return math.Inf(1)
	}
	return max(0, f.WPrimeJ/(powerW-f.CriticalPowerW)-f.offsetS)
}

// DurationErrorS returns the standard error of DurationS by the delta method; NaN where
// the parameters' aren't known, and where DurationS is infinite or 0.
func (f *Fit) DurationErrorS(powerW float64) float64 {
	if s := f.DurationS(powerW); s == 0 || math.IsInf(s, 1) {
		return math.NaN()
	}
	u := 1 / (powerW - f.CriticalPowerW)
	return f.spread([3]float64{f.WPrimeJ * u * u, u, -1})
}

// spread returns the standard error of what has a gradient by CP, W′ and offset.
func (f *Fit) spread(gradient [3]float64) float64 {
	if math.IsNaN(f.CriticalPowerErrorW) {
		return math.NaN()
	}
	return f.ResidualSD * math.Sqrt(f.factor.inverseNorm2(gradient[:f.Kind.Parameters()]))
}
