package plan

import (
	"math"

	"parcours.example/analysis/ride"
)

// leakOf returns how far a ride goes beyond a rider's limits, in J; at most 0 for one
// that keeps to them. It counts anew from the times and powers of the trace, in small
// steps of the differential form, and uses nothing of the package.
func leakOf(ridden *ride.Ride, r ride.Rider, limits Limits) float64 {
	trace := ridden.Trace
	if !math.IsNaN(limits.MeanPowerW) {
		work := 0.0
		for i := range len(trace.TimeS) - 1 {
			work += trace.PowerW[i] * (trace.TimeS[i+1] - trace.TimeS[i])
		}
		return work - limits.MeanPowerW*ridden.TimeS
	}
	balance, leak := r.WPrimeJ, math.Inf(-1)
	for i := range len(trace.TimeS) - 1 {
		power := trace.PowerW[i]
		balance = spendOrRecover(balance, power, trace.TimeS[i+1]-trace.TimeS[i], r)
		leak = max(leak, -balance)
		if above := power - r.CriticalPowerW; above > 0 && !math.IsNaN(r.MaxPowerW) {
			leak = max(leak, r.WPrimeJ*above/(r.MaxPowerW-r.CriticalPowerW)-balance)
		}
		if power > 4*r.CriticalPowerW+1e-6 && math.IsNaN(r.MaxPowerW) {
			return math.Inf(1)
		}
	}
	if limits.EndReserveJ > 0 {
		leak = max(leak, limits.EndReserveJ-balance)
	}
	return leak
}

// spendOrRecover steps dW/dt = −(P − CP) above critical power, below it
// (1 − W/W′₀)·(CP − P)·rate, or (W′₀ − W)/τ with τ = 2287.2·(CP − P)^−0.688/rate after
// Bartram et al. 2018, by Runge-Kutta steps of at most a second.
func spendOrRecover(balance, power, seconds float64, r ride.Rider) float64 {
	deficit := r.CriticalPowerW - power
	rate := r.RecoveryRate
	if math.IsNaN(rate) {
		rate = 1
	}
	slope := func(w float64) float64 {
		switch {
		case deficit <= 0:
			return deficit
		case r.RecoveryLaw == ride.Bartram2018:
			return (r.WPrimeJ - w) * rate * math.Pow(deficit, 0.688) / 2287.2
		}
		return (1 - w/r.WPrimeJ) * deficit * rate
	}
	n := math.Ceil(seconds)
	h := seconds / max(n, 1)
	for range int(n) {
		k1 := slope(balance)
		k2 := slope(balance + h/2*k1)
		k3 := slope(balance + h/2*k2)
		k4 := slope(balance + h*k3)
		balance += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
	}
	return balance
}
