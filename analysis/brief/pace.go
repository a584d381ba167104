package brief

// Pace is what a ride gains by following a plan of its power.
type Pace struct {
	// ConstantPowerW is the best constant power of the same rider in W, GainS what the
	// plan saves against it in s, at least 0.
	ConstantPowerW, GainS float64
}

// leastGainS rounds to no gain.
const leastGainS = 0.5

// paced tells that a ride follows a plan.
func (w writer) paced(i int) phrase {
	p, fact := w.in.Rides[i].Pace, rideFact(i)
	if p == nil {
		return phrase{}
	}
	constant := w.power(fact+".constant_power_w", p.ConstantPowerW)
	if p.GainS < leastGainS {
		return say("Paced by a plan for all the rider has, which saves nothing against {} throughout.", constant)
	}
	return say("Paced by a plan for all the rider has: {} faster than {} throughout.", w.clock(fact+".gain_s", p.GainS), constant)
}
