package launch

import (
	"context"

	"parcours.example/analysis/ride"
)

// Incline is the best launch to the same line at another gradient: the approach takes as
// long, as fast a wheel as the rider alone would hold at the same power, and W′ is as fresh
// at the same time from the line, so that the gradient alone changes.
type Incline struct {
	// Gradient is rise over run, all the way.
	Gradient float64
	// SpeedMps is the wheel's speed.
	SpeedMps float64
	Best     Best
}

// leastSpeedMps is the speed below which nobody approaches a line in a line of riders.
const leastSpeedMps = 3.0

// Inclines returns the best launches at other gradients. Those up which the wheel would be
// slower than 3 m/s, or the rider come to a halt, are left out.
func Inclines(ctx context.Context, a Approach, s Sprinter, gradients []float64) ([]Incline, error) {
	p, err := a.pace(&s.Bike)
	if err != nil {
		return nil, err
	}
	here := follow(p, s, a.Place, a.Shelter)
	alone := meanPowerW(a.Pieces, &s.Bike, 1, a.SpeedMps)
	lasts := p.moments[len(p.moments)-1].timeS
	var out []Incline
	for _, g := range gradients {
		there := a
		there.Pieces = inclined(a.Pieces, g, a.LengthM())
		there.SpeedMps = steadySpeed(there.Pieces, &s.Bike, alone)
		if there.SpeedMps < leastSpeedMps {
			continue
		}
		there.Pieces = inclined(a.Pieces, g, there.SpeedMps*lasts*there.Pieces[0].Cos)
		p, err := there.pace(&s.Bike)
		if err != nil {
			continue
		}
		best, err := follow(p, s, a.Place, a.Shelter).asFresh(here).best(ctx)
		switch {
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case err == nil:
			out = append(out, Incline{g, there.SpeedMps, best})
		}
	}
	return out, nil
}

// inclined returns the last metres of an approach at a gradient; where there are too few,
// its first piece is lengthened.
func inclined(pieces []ride.Piece, gradient, lengthM float64) []ride.Piece {
	end := pieces[len(pieces)-1].EndM
	var out []ride.Piece
	for i, p := range pieces {
		if p.EndM <= end-lengthM+tinyM {
			continue
		}
		if i == 0 || p.StartM < end-lengthM {
			p.StartM = end - lengthM
		}
		out = append(out, p.Inclined(gradient))
	}
	return out
}

// tinyM is the length in metres below which a piece isn't worth having.
const tinyM = 1e-6

// asFresh returns the follower with another's balances of W′ at the same times from the
// line, as far as that one keeps the wheel.
func (f *follower) asFresh(other *follower) *follower {
	n := len(f.cells)
	ahead := other.moments[len(other.cells)].timeS - f.moments[n].timeS
	fresh := *f
	fresh.lost, fresh.balances, fresh.workJ = false, nil, make([]float64, n+1)
	k, last := 0, len(other.balances)-1
	for i := range n + 1 {
		at := f.moments[i].timeS + ahead
		if i > 0 && other.lost && at > other.moments[last].timeS {
			fresh.lost = true
			break
		}
		for k < last-1 && other.moments[k+1].timeS <= at {
			k++
		}
		fresh.balances = append(fresh.balances, other.between(other.balances, k, at))
	}
	return &fresh
}

// Wheel is the best launch from another place in the same line of riders.
type Wheel struct {
	// Place is counted from 1 at the head; Shelter is the drag there over the drag alone.
	Place   int
	Shelter float64
	Best    Best
}

// Wheels returns the best launches from other places in the line, the approach's own among
// them with its own shelter.
func Wheels(ctx context.Context, a Approach, s Sprinter, places []int) ([]Wheel, error) {
	p, err := a.pace(&s.Bike)
	if err != nil {
		return nil, err
	}
	var out []Wheel
	for _, place := range places {
		share := PlaceShelter(place)
		if place == a.Place {
			share = a.Shelter
		}
		best, err := follow(p, s, place, share).best(ctx)
		if err != nil {
			return nil, err
		}
		out = append(out, Wheel{place, share, best})
	}
	return out, nil
}
