package plan

import "parcours.example/analysis/ride"

const (
	// rampings is how often ramps are laid, each time by the clock of the ride before.
	rampings = 3
	// rampShare keeps them below the bound all the same.
	rampShare = 0.97
)

// ramped turns steps into powers that change by at most so many watts a second, piece of
// road by piece: steps are targets, and each ramp starts where its step does. The clock is
// that of a ride in steps.
func ramped(steps []ride.Step, road *ride.Road, clock *ride.Trace, wPerS float64) []ride.Step {
	var given []ride.Step
	sample, before, power := 0, 0.0, steps[0].PowerW
	add := func(startM, endM, target float64) {
		middle := (startM + endM) / 2
		for sample < len(clock.DistanceM)-2 && clock.DistanceM[sample+1] < middle {
			sample++
		}
		share := (middle - clock.DistanceM[sample]) / (clock.DistanceM[sample+1] - clock.DistanceM[sample])
		at := clock.TimeS[sample] + float64(share*(clock.TimeS[sample+1]-clock.TimeS[sample]))
		most := rampShare * wPerS * (at - before)
		power += min(max(target-power, -most), most)
		before = at
		if n := len(given); n > 0 && given[n-1].PowerW == power {
			given[n-1].EndM = endM
			return
		}
		given = append(given, ride.Step{EndM: endM, PowerW: power})
	}
	step := 0
	for i := range road.Pieces {
		p := &road.Pieces[i]
		from := p.StartM
		for step < len(steps)-1 && steps[step].EndM < p.EndM {
			if steps[step].EndM > from {
				add(from, steps[step].EndM, steps[step].PowerW)
				from = steps[step].EndM
			}
			step++
		}
		add(from, p.EndM, steps[step].PowerW)
	}
	return given
}
