package plan

import (
	"math"

	"parcours.example/analysis/elementary"
	"parcours.example/analysis/ride"
)

// stock is what a rider has to spend, and the law by which power spends it: W′ above
// critical power with its recovery below, or the work above a mean power. At y watts
// above the threshold
//
//	dW/dt = −a(y) + (W₀ − W)·b(y)
//
// with a the spending and b the rate of recovery.
type stock struct {
	// thresholdW is critical power, or the mean power; fullJ is W₀.
	thresholdW, fullJ float64
	// rate is the rider's recovery rate.
	rate float64
	law  stockLaw
}

type stockLaw int

const (
	proportional stockLaw = iota
	bartram
	// account is the work above a mean power: what is saved below it counts in full.
	account
)

func (t *task) stock() stock {
	if !math.IsNaN(t.limits.MeanPowerW) {
		return stock{thresholdW: t.limits.MeanPowerW, law: account}
	}
	s := stock{thresholdW: t.capacity.CriticalPowerW, fullJ: t.capacity.WPrimeJ, rate: t.capacity.RecoveryRate}
	if t.capacity.Law == ride.Bartram2018 {
		s.law = bartram
	}
	return s
}

// flow is a(y) and b(y) with their first and second derivatives.
type flow struct{ a, a1, a2, b, b1, b2 float64 }

// at returns the flow at a power. The kink at the threshold is rounded over a width of
// blur watts: (y + √(y² + blur²))/2 for the positive part of y.
func (s *stock) at(powerW, blur float64) flow {
	y := powerW - s.thresholdW
	if s.law == account {
		return flow{a: y, a1: 1}
	}
	root := math.Sqrt(float64(y*y) + float64(blur*blur))
	over := (y + root) / 2
	under := over - y
	f := flow{a: over, a1: over / root, a2: float64(blur*blur) / (2 * root * root * root)}
	if s.law == bartram {
		x := under + bartramFoot
		p := elementary.Pow(x, bartramPower)
		k := s.rate / bartramScale
		f.b = k * (p - bartramFootPower)
		d1 := k * bartramPower * p / x
		d2 := d1 * (bartramPower - 1) / x
		u1 := f.a1 - 1
		f.b1 = d1 * u1
		f.b2 = float64(d2*u1*u1) + float64(d1*f.a2)
		return f
	}
	if s.rate > 1 {
		// Rounded to nothing at the kink itself, so that a sharper kink never takes stock.
		under -= blur / 2
	}
	k := s.rate / s.fullJ
	f.b, f.b1, f.b2 = k*under, k*(f.a1-1), k*f.a2
	return f
}

// The law of Bartram et al. 2018, 1/τ = D^0.688/2287.2, has an infinite slope at the
// threshold; the optimiser sees it from a foot of one watt on.
const (
	bartramPower     = 0.688
	bartramScale     = 2287.2
	bartramFoot      = 1.0
	bartramFootPower = 1.0
)
