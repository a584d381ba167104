package ride

import (
	"math"

	"parcours.example/analysis/elementary"
)

// RecoveryLaw is how W′ is reconstituted below critical power.
type RecoveryLaw string

// The recovery laws.
const (
	// Proportional recovers at (1 − W/W′₀)·(CP − P)·rate: the differential form
	// (Skiba, Fulford, Clarke, Vanhatalo, Jones 2015, Eur. J. Appl. Physiol.
	// 115:703–713).
	Proportional RecoveryLaw = "proportional"
	// Bartram2018 recovers exponentially with τ = 2287.2·(CP − P)^−0.688 s (Bartram,
	// Thewlis, Martin, Norton 2018, Int. J. Sports Physiol. Perform. 13:724–729, elite
	// riders); the rate divides τ.
	Bartram2018 RecoveryLaw = "bartram_2018"
	// Integral2012 is the integral form (Skiba, Chidnok, Vanhatalo, Jones 2012, Med.
	// Sci. Sports Exerc. 44:1526–1532): all work above critical power decays with one
	// τ = 546·exp(−0.01·D) + 316 s for the ride, D being critical power less the mean
	// power below it; the rate divides τ. It needs the whole ride.
	Integral2012 RecoveryLaw = "integral_2012"
)

// Reserve is a rider's capability for work above critical power.
type Reserve struct {
	CriticalPowerW, WPrimeJ float64
	// RecoveryRate scales the recovery, ≥ 0.
	RecoveryRate float64
	Law          RecoveryLaw
}

// NewReserve returns the rider's reserve; ok is false where critical power or W′ isn't
// given.
func NewReserve(r Rider) (reserve Reserve, ok bool) {
	reserve = Reserve{r.CriticalPowerW, r.WPrimeJ, r.RecoveryRate, r.RecoveryLaw}
	if math.IsNaN(reserve.RecoveryRate) {
		reserve.RecoveryRate = defaultRecoveryRate
	}
	if reserve.Law == "" {
		reserve.Law = Proportional
	}
	return reserve, r.CriticalPowerW > 0 && r.WPrimeJ > 0
}

// UnknownMaxFactor times critical power is the limit of a rider whose maximal power isn't
// known, as long as W′ lasts.
const UnknownMaxFactor = 4.0

// PowerLimitW returns the highest power in W that the rider can give at a balance of W′
// in J: CP + (P_max − CP)·W/W′₀ with a maximal power (Morton 1996, Ergonomics 39:611–619;
// from memory), else 4·CP while any of W′ is left and CP after that. The rider needs
// critical power and W′.
func (r Rider) PowerLimitW(balanceJ float64) float64 {
	switch {
	case !math.IsNaN(r.MaxPowerW):
		return r.CriticalPowerW + (r.MaxPowerW-r.CriticalPowerW)*balanceJ/r.WPrimeJ
	case balanceJ > 0:
		return UnknownMaxFactor * r.CriticalPowerW
	}
	return r.CriticalPowerW
}

// After returns the balance of W′ in J after dt seconds at a constant power, exactly:
// above critical power it falls by the work above it, without a floor; at or below it
// the distance to W′₀ decays exponentially. Integral2012, which depends on the whole
// ride, is counted as Proportional here; see Balances.
func (r Reserve) After(balanceJ, powerW, dt float64) float64 {
	deficit := r.CriticalPowerW - powerW
	if deficit < 0 {
		return balanceJ + float64(deficit*dt)
	}
	spent := r.WPrimeJ - balanceJ
	return r.WPrimeJ - float64(spent*elementary.Exp(-dt*r.decay(deficit)))
}

// decay returns 1/τ of the recovery in 1/s at a power that is deficit W below critical
// power.
func (r Reserve) decay(deficit float64) float64 {
	if r.Law == Bartram2018 {
		return r.RecoveryRate * elementary.Pow(deficit, 0.688) / 2287.2
	}
	return r.RecoveryRate * deficit / r.WPrimeJ
}

// Balances returns the balance of W′ in J at the start and after each of a ride's
// intervals of constant power, by the reserve's law. timeS has one value more than
// powerW needs: interval i runs from timeS[i] to timeS[i+1] at powerW[i].
func (r Reserve) Balances(timeS, powerW []float64) []float64 {
	balance := make([]float64, len(timeS))
	balance[0] = r.WPrimeJ
	decay := 0.0
	if r.Law == Integral2012 {
		decay = r.RecoveryRate / (float64(546*elementary.Exp(-0.01*r.meanDeficit(timeS, powerW))) + 316)
	}
	for i := 1; i < len(timeS); i++ {
		dt := timeS[i] - timeS[i-1]
		if r.Law == Integral2012 {
			balance[i] = r.integralAfter(balance[i-1], powerW[i-1], dt, decay)
		} else {
			balance[i] = r.After(balance[i-1], powerW[i-1], dt)
		}
	}
	return balance
}

// integralAfter steps the integral form, dS/dt = max(0, P − CP) − S/τ with S = W′₀ − W,
// exactly.
func (r Reserve) integralAfter(balanceJ, powerW, dt, decay float64) float64 {
	excess := max(powerW-r.CriticalPowerW, 0)
	if decay == 0 {
		return balanceJ - float64(excess*dt)
	}
	steady := excess / decay
	return r.WPrimeJ - steady - float64((r.WPrimeJ-balanceJ-steady)*elementary.Exp(-dt*decay))
}

// meanDeficit is critical power less the time-mean of the power below it; 0 where
// there is none.
func (r Reserve) meanDeficit(timeS, powerW []float64) float64 {
	time, sum := 0.0, 0.0
	for i := 1; i < len(timeS); i++ {
		if deficit := r.CriticalPowerW - powerW[i-1]; deficit > 0 {
			dt := timeS[i] - timeS[i-1]
			time += dt
			sum += float64(deficit * dt)
		}
	}
	if time == 0 {
		return 0
	}
	return sum / time
}
