package launch

import (
	"math"

	"parcours.example/analysis/ride"
)

// cellM bounds the length of a step along the road in metres.
const cellM = 4.0

// cell is a step of the approach, on one piece of the road.
type cell struct {
	// startM is the horizontal distance from the start of the approach, lengthM that of the
	// cell, roadM its length along the slope.
	startM, lengthM, roadM float64
	// rider and head are the resistances of the sprinter, unsheltered, and of the head of
	// the line.
	rider, head ride.Resistance
}

// divide lays cells over the pieces.
func divide(pieces []ride.Piece, rider, head *ride.Bike, longestM float64) []cell {
	var cells []cell
	start := pieces[0].StartM
	for i := range pieces {
		p := &pieces[i]
		n := max(1, math.Ceil(p.RoadM/longestM-1e-9))
		c := cell{lengthM: (p.EndM - p.StartM) / n, roadM: p.RoadM / n, rider: rider.On(p), head: head.On(p)}
		for k := range int(n) {
			c.startM = p.StartM - start + float64(c.lengthM*float64(k))
			cells = append(cells, c)
		}
	}
	return cells
}

// sheltered returns a resistance with a share of its drag.
func sheltered(r ride.Resistance, share float64) ride.Resistance {
	r.Drag *= share
	return r
}

// meanPowerW returns the power in W that a bike takes at a constant speed over pieces of
// road, with a share of its drag; negative where they lead down.
func meanPowerW(pieces []ride.Piece, bike *ride.Bike, share, speedMps float64) float64 {
	work, length := 0.0, 0.0
	for i := range pieces {
		r := sheltered(bike.On(&pieces[i]), share)
		work += float64(r.Force(speedMps) * pieces[i].RoadM)
		length += pieces[i].RoadM
	}
	return work / length * speedMps / bike.Efficiency
}

// The speeds in m/s between which a steady one is sought: nothing on wheels is faster.
const (
	slowestMps = 0.5
	fastestMps = 50.0
)

// steadySpeed returns the speed in m/s at which a power in W holds a bike over pieces of
// road on the whole, alone: the highest up to 50 m/s, 0.5 m/s where there is none above.
func steadySpeed(pieces []ride.Piece, bike *ride.Bike, powerW float64) float64 {
	low, high := slowestMps, fastestMps
	for high-low > 1e-12 {
		mid := float64((low + high) / 2)
		if mid == low || mid == high {
			break
		}
		if meanPowerW(pieces, bike, 1, mid) > powerW {
			high = mid
		} else {
			low = mid
		}
	}
	return low
}
