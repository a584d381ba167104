package launch

import "parcours.example/analysis/ride"

// What an approach is like of which nothing is said. No source: on the flat sprints last 8
// to 18 s with it, near the measured 14 s (Menaspà et al. 2013, J. Sci. Cycling 2:35–39) and
// 22 ± 7 s (Peiffer et al. 2018, Int. J. Sports Physiol. Perform. 13:1237).
const (
	// UsualS is how long it takes, in seconds, UsualDemand the demand on its speed.
	UsualS      = 20.0
	UsualDemand = 0.8
	// UsualSource says where they are from.
	UsualSource = "typical value: on the flat sprints then last 8 to 18 s; measured were 14 s (Menaspà et al. 2013, J. Sci. Cycling 2:35–39) and 22 s (Peiffer et al. 2018, Int. J. Sports Physiol. Perform. 13:1237)"
)

// UsualSpeed returns the speed in m/s of an approach of which none is given: that which the
// rider would hold alone at CP + demand·(P_max − CP), or that at which the wheel can just be
// held to the line where that is less. The approach's own speed doesn't count.
func (a Approach) UsualSpeed(s Sprinter, demand float64) float64 {
	power := s.Rider.CriticalPowerW + float64(demand*(s.Rider.PowerLimitW(s.Rider.WPrimeJ)-s.Rider.CriticalPowerW))
	low, high := slowestMps, steadySpeed(a.Pieces, &s.Bike, power)
	if a.holds(s, high) {
		return high
	}
	for high-low > 1e-3 {
		if mid := float64((low + high) / 2); a.holds(s, mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// holds tells whether a rider can follow a wheel to the line at a speed. Where the wheel
// itself comes to a halt, it can be followed.
func (a Approach) holds(s Sprinter, speedMps float64) bool {
	a.SpeedMps = speedMps
	p, err := a.pace(&s.Bike)
	return err != nil || !follow(p, s, a.Place, a.Shelter).lost
}

// usualDecayS is τ = W′/(P_max − CP) in seconds of riders of whom no maximal power is
// known: with critical power at 0.3 of the maximal, the mean power of sprints of 14, 14 and
// 22 s is then 0.83, 0.83 and 0.76 of their peak; measured were 0.82, 0.84 (Menaspà et al.
// 2013, J. Sci. Cycling 2:35–39) and 0.77 (Peiffer et al. 2018, Int. J. Sports Physiol.
// Perform. 13:1237).
const usualDecayS = 24.0

// UsualMaxPowerSource says so in a word.
const UsualMaxPowerSource = "CP + W′/24 s: power then decays in a sprint as measured (mean over peak 0.82 and 0.84 in 14 s, Menaspà et al. 2013, J. Sci. Cycling 2:35–39; 0.77 in 22 s, Peiffer et al. 2018, Int. J. Sports Physiol. Perform. 13:1237)"

// UsualMaxPower returns the maximal power in W of a rider of whom none is known, from
// critical power in W and W′ in J.
func UsualMaxPower(r ride.Rider) float64 { return r.CriticalPowerW + r.WPrimeJ/usualDecayS }
